package app

import "encoding/json"

// The types below are what the browser gets and sends at the stations of a
// visit, as JSON. What is not known is null; a day is written 2026-03-14. Every
// object that can be changed carries the Version that was read, and a write with
// an older one is refused.

// PageRunnerRow is a line in the list of runners.
type PageRunnerRow struct {
	ID          string   `json:"id"`
	Name        string   `json:"name"`
	Sex         string   `json:"sex"`
	BornYear    *int     `json:"born_year"`
	Visits      int      `json:"visits"`
	LastVisit   *string  `json:"last_visit"`
	LastVisitID string   `json:"last_visit_id"`
	Tags        []string `json:"tags"`
}

// PageRunners is a part of the list: GET /api/runners.
type PageRunners struct {
	Rows []PageRunnerRow `json:"rows"`
	Next string          `json:"next"` // where the following part begins; empty at the end
	Tags []string        `json:"tags"` // all that occur, to choose from
}

// PageRunner is a person: GET and PUT /api/runners/{id}.
type PageRunner struct {
	ID           string      `json:"id"`
	Version      int64       `json:"version"`
	Name         string      `json:"name"`
	Sex          string      `json:"sex"` // female, male or empty
	BornYear     *int        `json:"born_year"`
	HeightM      *float64    `json:"height_m"`
	MassKG       *float64    `json:"mass_kg"`
	LegLengthM   *float64    `json:"leg_length_m"`
	LegLengthHow string      `json:"leg_length_how"` // measured, estimated or empty
	Consent      PageConsent `json:"consent"`
	// ConsentText says what the consents, as they stand, mean.
	ConsentText string            `json:"consent_text"`
	Note        string            `json:"note"`
	Visits      []PageRunnerVisit `json:"visits"` // newest first
}

// PageConsent is the days on which the runner agreed; null where not, or where it
// was withdrawn.
type PageConsent struct {
	Filming  *string `json:"filming"`
	Records  *string `json:"records"`
	Research *string `json:"research"`
	// Positions is that to keeping where runs were.
	Positions *string `json:"positions"`
}

// PageRunnerVisit is a visit in the list of a runner.
type PageRunnerVisit struct {
	ID           string   `json:"id"`
	Date         string   `json:"date"`
	StationsDone int      `json:"stations_done"`
	Tags         []string `json:"tags"`
}

// PageVisit is one visit whole: GET /api/visits/{id}.
type PageVisit struct {
	ID       string            `json:"id"`
	Version  int64             `json:"version"`
	Date     string            `json:"date"`
	Note     string            `json:"note"`
	Runner   PageRunner        `json:"runner"`
	Stations []PageStation     `json:"stations"`
	Next     PageNext          `json:"next"`
	Refer    *PageRefer        `json:"refer"`
	Cautions []PageCaution     `json:"cautions"`
	Intake   *PageIntake       `json:"intake"`
	Clips    []PageVisitClip   `json:"clips"`
	Results  []PageVisitResult `json:"results"` // newest first
	Jobs     []PageJob         `json:"jobs"`
	Undo     string            `json:"undo"` // what undo would take back; empty for nothing
	Redo     string            `json:"redo"`
	Deed     string            `json:"deed,omitempty"` // what undo or redo just did
}

// PageVisitFacts is what is said of a visit itself: PUT /api/visits/{id}.
type PageVisitFacts struct {
	Version int64  `json:"version"`
	Date    string `json:"date"`
	Note    string `json:"note"`
}

// PageStation is how far one station is.
type PageStation struct {
	Name    string        `json:"name"`
	State   string        `json:"state"` // empty, part, done or stopped
	Missing []PageMissing `json:"missing"`
}

// PageMissing is one thing a station or a clip still lacks.
type PageMissing struct {
	Code string `json:"code"`
	Text string `json:"text"`
	// Needed tells whether the station is unfinished without it; the rest makes
	// the result better or fuller.
	Needed bool   `json:"needed"`
	Clip   string `json:"clip,omitempty"` // the clip it is about
}

// PageNext is the next thing to do.
type PageNext struct {
	Station string `json:"station"`
	Code    string `json:"code"`
	Text    string `json:"text"`
}

// PageRefer says that the visit is stopped, or was until a clinician cleared it.
type PageRefer struct {
	Signs   []PageSign     `json:"signs"` // those answered with yes
	Text    string         `json:"text"`
	Cleared *PageClearance `json:"cleared"` // null while the visit is stopped
}

// PageCaution is something to mind that does not stop the visit.
type PageCaution struct {
	Code   string `json:"code"`
	Text   string `json:"text"`
	Source string `json:"source"`
}

// PageSign is one warning sign.
type PageSign struct {
	ID       string `json:"id"`
	Group    string `json:"group"`
	Question string `json:"question"`
	Act      string `json:"act"` // emergency or refer
	Why      string `json:"why"`
	Source   string `json:"source"`
	// Regions are those for which there is no programme before a clinician has
	// cleared it; none is the whole body. Ask tells that the place is asked.
	Regions []string `json:"regions"`
	Ask     bool     `json:"ask"`
}

// PageSignPlace is where a sign was met.
type PageSignPlace struct {
	Region string `json:"region"`
	Side   string `json:"side"` // left, right, or middle
}

// PageClearance is a clinician's word that the runner may run.
type PageClearance struct {
	By   string `json:"by"`
	Date string `json:"date"`
	Note string `json:"note"`
	// Signs are those it speaks of: the ones that were answered with yes when it
	// was noted. The server fills them in.
	Signs []string `json:"signs"`
	// Tests are the tests of the exam that hurt too much when it was noted, as
	// test/side. The server fills them in.
	Tests []string `json:"tests"`
	// Pains are those above the scale's limit that were told when it was noted; what
	// rises above its score later is not covered. The server fills them in.
	Pains []PageClearedPain `json:"pains"`
}

// PageClearedPain is a told pain that a clinician has cleared, up to its score.
type PageClearedPain struct {
	Region string `json:"region"`
	Side   string `json:"side"`
	Score  int    `json:"score"`
}

// PageRegion is one place of the body map.
type PageRegion struct {
	ID    string `json:"id"`
	Title string `json:"title"`
	Face  string `json:"face"`  // front or back
	Sided bool   `json:"sided"` // has a left and a right
}

// PageIntakeForm is what the intake asks: GET /api/intake/form.
type PageIntakeForm struct {
	Signs     []PageSign    `json:"signs"`
	Regions   []PageRegion  `json:"regions"`
	PainScale PagePainScale `json:"pain_scale"`
}

// PagePainScale explains the scale from 0 to 10.
type PagePainScale struct {
	Text   string         `json:"text"`
	Source string         `json:"source"`
	Steps  []PagePainStep `json:"steps"`
}

// PagePainStep is a part of the scale.
type PagePainStep struct {
	From int    `json:"from"`
	To   int    `json:"to"`
	Name string `json:"name"`
	Text string `json:"text"`
}

// PageIntake is what was asked at the beginning: PUT /api/visits/{id}/intake.
// Version 0 says that there was none yet.
type PageIntake struct {
	Version   int64             `json:"version"`
	Training  PageTraining      `json:"training"`
	Shoes     string            `json:"shoes"`
	Goals     string            `json:"goals"`
	History   string            `json:"history"`
	Complaint string            `json:"complaint"`
	Pain      []PagePain        `json:"pain"`
	NoPain    bool              `json:"no_pain"` // asked, and nothing hurts now
	Signs     map[string]string `json:"signs"`   // yes or no, by the sign's id
	// Places are where the signs were met that ask for it, by the sign's id.
	Places  map[string]PageSignPlace `json:"places"`
	Cleared *PageClearance           `json:"cleared"`
}

// PageTraining is how the runner trains.
type PageTraining struct {
	KMPerWeek    *float64 `json:"km_per_week"`
	RunsPerWeek  *float64 `json:"runs_per_week"`
	Years        *float64 `json:"years"`
	LongestKM    *float64 `json:"longest_km"`
	EasyPaceSPKM *float64 `json:"easy_pace_s_per_km"`
	RecentChange string   `json:"recent_change"`
}

// PagePain is one place that hurts.
type PagePain struct {
	Region string `json:"region"`
	Side   string `json:"side"` // left, right or middle
	Face   string `json:"face"` // front or back
	Score  int    `json:"score"`
	Since  string `json:"since"`
	When   string `json:"when"`
	Note   string `json:"note"`
}

// PageVisitClip is one film or file of a visit.
type PageVisitClip struct {
	ID          string        `json:"id"`
	Version     int64         `json:"version"`
	VisitID     string        `json:"visit_id"`
	Name        string        `json:"name"`
	Kind        string        `json:"kind"` // film, markers or keypoints
	Bytes       int64         `json:"bytes"`
	Facts       PageClipFacts `json:"facts"`
	WidthPX     int           `json:"width_px"`
	HeightPX    int           `json:"height_px"`
	FrameRateHz *float64      `json:"frame_rate_hz"` // of the file's own clock
	DurationS   *float64      `json:"duration_s"`    // on the file's own clock
	Frames      int           `json:"frames"`
	Problem     string        `json:"problem"` // why it cannot be used, such as a file that is gone; empty otherwise
	Missing     []PageMissing `json:"missing"`
	Track       string        `json:"track"` // none, queued, running, done or failed
	Poster      *string       `json:"poster"`
	Warnings    []string      `json:"warnings"`
	// Belt is what the passes of the seam say of the belt's speed; null where they
	// say nothing yet.
	Belt *PageBeltCheck `json:"belt"`
}

// PageClipFacts is what the analyst says of a clip. Times are on the film's true
// clock, that is with the slowing taken out where capture_rate_hz is given.
type PageClipFacts struct {
	View            string         `json:"view"` // left, right, rear, front, spatial or empty
	SpeedMPS        *float64       `json:"speed_mps"`
	InclinePercent  *float64       `json:"incline_percent"`
	Shoes           string         `json:"shoes"`
	CaptureRateHz   *float64       `json:"capture_rate_hz"`
	Overground      bool           `json:"overground"`
	Scale           *PageClipScale `json:"scale"`
	Belt            *PageClipBelt  `json:"belt"`
	StartS          *float64       `json:"start_s"`
	EndS            *float64       `json:"end_s"`
	RollDeg         *float64       `json:"roll_deg"`
	YawDeg          *float64       `json:"yaw_deg"`
	CameraDistanceM *float64       `json:"camera_distance_m"`
	Point           *PageClipPoint `json:"point"`
	Model           string         `json:"model"`          // lite, full, heavy; empty is full
	StaticOf        string         `json:"static_of"`      // the clip whose standing trial this is
	Test            string         `json:"test,omitempty"` // the test of the exam that it shows; empty where it shows running
	// Click is "with" or "without" where it was said whether a click ran in the
	// runner's ear.
	Click string `json:"click,omitempty"`
}

// PageClipScale is two places in the picture, in pixels of the film from the
// top-left corner, and how far apart they are.
type PageClipScale struct {
	X1      float64 `json:"x1"`
	Y1      float64 `json:"y1"`
	X2      float64 `json:"x2"`
	Y2      float64 `json:"y2"`
	LengthM float64 `json:"length_m"`
	Frame   int     `json:"frame"` // of the file, on which they were set
}

// PageClipBelt is the belt's length once around and when its seam passed.
type PageClipBelt struct {
	LengthM    float64   `json:"length_m"`
	SeamTimesS []float64 `json:"seam_times_s"` // rising
}

// PageClipPoint marks the runner where several people are seen.
type PageClipPoint struct {
	X     float64 `json:"x"`
	Y     float64 `json:"y"`
	TimeS float64 `json:"time_s"`
}

// PageClipChange is PUT /api/clips/{id}. An absent name is left as it is.
type PageClipChange struct {
	Version int64         `json:"version"`
	Facts   PageClipFacts `json:"facts"`
	Name    *string       `json:"name,omitempty"`
}

// PageBeltCheck is what the belt's seam says: GET /api/clips/{id}/belt.
type PageBeltCheck struct {
	SpeedMPS float64  `json:"speed_mps"`
	SD       float64  `json:"sd"` // m/s, one standard deviation
	Turns    int      `json:"turns"`
	Said     *float64 `json:"said"` // the speed that was given
	// DifferencePercent is by how much the speed given is above the true one.
	DifferencePercent *float64 `json:"difference_percent"`
	// Agrees tells whether that is within the error of the check.
	Agrees bool   `json:"agrees"`
	Text   string `json:"text"`
}

// PageVisitResult is one measurement of a visit.
type PageVisitResult struct {
	ID       string   `json:"id"`
	Created  string   `json:"created"`
	Current  bool     `json:"current"` // the newest
	Stale    bool     `json:"stale"`   // something it rests on was changed since
	Model    string   `json:"model"`
	StepRate *float64 `json:"step_rate"`
	ClipIDs  []string `json:"clip_ids"`
}

// PageUploadAsk begins a file that arrives in parts: POST
// /api/visits/{id}/uploads.
type PageUploadAsk struct {
	Name     string `json:"name"`
	Size     int64  `json:"size"`
	KindHint string `json:"kind_hint,omitempty"` // not believed
}

// PageUpload is how much of a file has arrived.
type PageUpload struct {
	Upload string `json:"upload"`
	Name   string `json:"name"`
	Offset int64  `json:"offset"`
	Size   int64  `json:"size"`
}

// PageMeasureAsk is POST /api/visits/{id}/measure. No clips means all whose
// file is there.
type PageMeasureAsk struct {
	Clips []string `json:"clips,omitempty"`
	Model string   `json:"model,omitempty"`
}

// PageJob is work in the background.
type PageJob struct {
	ID      string   `json:"id"`
	VisitID string   `json:"visit_id"`
	ClipID  string   `json:"clip_id"`
	Kind    string   `json:"kind"`
	View    string   `json:"view,omitempty"` // of a film that is drawn
	Test    string   `json:"test,omitempty"` // of the exam, that is read from a film
	Side    string   `json:"side,omitempty"` // of that test
	State   string   `json:"state"`          // queued, running, done, failed or cancelled
	Share   float64  `json:"share"`
	Message string   `json:"message"`
	LeftS   *float64 `json:"left_s"`
	Started *string  `json:"started"`
	Ended   *string  `json:"ended"`
	Outcome string   `json:"outcome"` // what it made, such as the id of a result
}

// PageEvent is something that happened, for the pages that are open.
type PageEvent struct {
	Name string          // job, visit, result or runner
	Data json.RawMessage // PageJob, or PageTouched
}

// PageTouched says that a record was changed.
type PageTouched struct {
	ID      string `json:"id"`
	Version int64  `json:"version,omitempty"`
	VisitID string `json:"visit_id,omitempty"`
	Who     string `json:"who,omitempty"`
}
