package app

import "gaitwright/gait/retest"

// PageReturn is the station Return of a visit: GET /api/visits/{id}/return, with
// ?against= another visit than the one that is proposed. Version is that of what the
// coach decided; 0 where nothing was.
type PageReturn struct {
	Version int64             `json:"version"`
	Against string            `json:"against"` // the earlier visit; empty where there is none
	Visits  []PageReturnVisit `json:"visits"`  // up to this one, oldest first
	// None says why nothing can be compared: first, not_measured or not_measured_before;
	// empty where something is.
	None string `json:"none"`
	// NoFilm says why no film is compared though the exam is; as None.
	NoFilm  string             `json:"no_film"`
	Looked  PageLooked         `json:"looked"`
	Pairs   []PageReturnPair   `json:"pairs"`
	Changes []PageReturnChange `json:"changes"`
	Curves  []PageReturnCurve  `json:"curves"`
	Trends  []PageTrend        `json:"trends"`
	Phases  []PagePhase        `json:"phases"`
	Steps   *PageReturnSteps   `json:"steps"` // null where no step rate was measured at both
	Work    PageReturnWork     `json:"work"`
	Blocks  []PageReturnBlock  `json:"blocks"`
	Note    string             `json:"note"` // of the coach, and what the runner says
}

// PageReturnVisit is a visit that can be compared with.
type PageReturnVisit struct {
	ID       string `json:"id"`
	Date     string `json:"date"`
	Result   string `json:"result"` // empty where it was not measured
	Exam     bool   `json:"exam"`
	Plan     bool   `json:"plan"`
	StepRate bool   `json:"step_rate"` // it has a ramp
	Here     bool   `json:"here"`
	Stale    bool   `json:"stale"` // something it rests on was changed since it was measured
}

// PageLooked says how much was looked at.
type PageLooked struct {
	Compared int     `json:"compared"`
	Called   int     `json:"called"`
	Stand    int     `json:"stand"`
	ByChance float64 `json:"by_chance"`
	Visits   int     `json:"visits"` // measured so far, this one included
}

// PageReturnClip is a film that takes part.
type PageReturnClip struct {
	Result   string   `json:"result"`
	Clip     int      `json:"clip"`
	Name     string   `json:"name"`
	View     string   `json:"view"`
	SpeedMPS *float64 `json:"speed_mps"`
	Incline  float64  `json:"incline_percent"`
	Shoes    string   `json:"shoes"`
	Click    string   `json:"click"`
	Video    bool     `json:"video"`
}

// PageReturnPair is a film of this visit and what it is held against.
type PageReturnPair struct {
	After  PageReturnClip  `json:"after"`
	Before *PageReturnClip `json:"before"` // null where none is like it
	Why    retest.Reason   `json:"why"`
	Text   string          `json:"text"` // of Why
	Said   []retest.Reason `json:"said"`
	// Beside is the address of the two side by side, at equal phases of the stride;
	// empty where one has no pictures.
	Beside string `json:"beside"`
}

// PageReturnChange is a measure, or a test of the exam, at the two visits.
type PageReturnChange struct {
	Name       string          `json:"name"`
	Title      string          `json:"title"`
	Group      string          `json:"group"` // heading; of a test its kind
	Test       bool            `json:"test"`
	Stage      string          `json:"stage"`
	Side       string          `json:"side"`
	Unit       string          `json:"unit"`
	Decimals   int             `json:"decimals"`
	Before     *float64        `json:"before"`
	After      *float64        `json:"after"`
	Difference *float64        `json:"difference"`
	Low        *float64        `json:"low"` // 95 % interval
	High       *float64        `json:"high"`
	MDC95      *float64        `json:"mdc95"`
	MDC        PageMDC         `json:"mdc"`
	Verdict    string          `json:"verdict"` // changed, no real change or cannot tell
	Why        retest.Reason   `json:"why"`
	WhyText    string          `json:"why_text"`
	Cautions   []retest.Reason `json:"cautions"`
	Said       []string        `json:"said"` // the cautions in words
	P          *float64        `json:"p"`
	Adjusted   *float64        `json:"adjusted"`
	Stands     bool            `json:"stands"` // called even when taken together with the other aims, or with all that are none
	Return     *float64        `json:"return"` // expected by return to the mean alone
	// Aim tells that a finding of the earlier visit rests on it, Toward which way it
	// should go: 1 up, −1 down, 0 not said; Better is better, worse or empty.
	Aim    bool    `json:"aim"`
	Toward float64 `json:"toward"`
	Better string  `json:"better"`
	// BeforeClip and AfterClip are where the values come from, Beside the address of
	// the two side by side; empty where there are no pictures.
	BeforeClip *PageReturnClip `json:"before_clip"`
	AfterClip  *PageReturnClip `json:"after_clip"`
	Beside     string          `json:"beside"`
}

// PageMDC says where the smallest real change comes from: studio (the studio's own
// error from N runners), bench (found with films of known motion), literature, or
// times (the rule of contacts, the frame rate and how much the strides differ).
type PageMDC struct {
	From   string `json:"from"`
	Source string `json:"source"`
	N      int    `json:"n"`
	DF     int    `json:"df"`
}

// PageReturnCurve is a curve over the stride at both visits.
type PageReturnCurve struct {
	Name   string    `json:"name"`
	Title  string    `json:"title"`
	Side   string    `json:"side"`
	Unit   string    `json:"unit"`
	Before PageCurve `json:"before"`
	After  PageCurve `json:"after"`
	Beside string    `json:"beside"`
}

// PageTrend is a measure over the visits.
type PageTrend struct {
	Name     string           `json:"name"`
	Title    string           `json:"title"`
	Side     string           `json:"side"`
	Unit     string           `json:"unit"`
	Decimals int              `json:"decimals"`
	Aim      bool             `json:"aim"`
	Points   []PageTrendPoint `json:"points"` // as the visits
	PerWeek  *float64         `json:"per_week"`
	Low      *float64         `json:"low"`
	High     *float64         `json:"high"`
	Verdict  string           `json:"verdict"`
	Why      retest.Reason    `json:"why"`
	WhyText  string           `json:"why_text"`
}

// PageTrendPoint is a measure at one visit; null where nothing like it was filmed.
type PageTrendPoint struct {
	Visit   string        `json:"visit"`
	Date    string        `json:"date"`
	Value   *float64      `json:"value"`
	SEM     *float64      `json:"sem"`
	Why     retest.Reason `json:"why"`
	WhyText string        `json:"why_text"`
}

// PagePhase is a part of a plan or ramp, for what lies beneath the trends.
type PagePhase struct {
	Visit string `json:"visit"`
	Kind  string `json:"kind"` // learn, build, load or ramp
	From  string `json:"from"`
	To    string `json:"to"` // the day after
	Weeks int    `json:"weeks"`
}

// PageReturnWork is what was planned, done and felt between the two visits.
type PageReturnWork struct {
	Plan      bool     `json:"plan"`
	Ramp      bool     `json:"ramp"`
	Start     string   `json:"start"`
	PlanWeeks int      `json:"plan_weeks"`
	RampWeeks int      `json:"ramp_weeks"`
	Findings  []string `json:"findings"` // that it was made for
	// LogTo is the last day that came back; empty where no log did. Share is how much
	// of the exercises planned until then was done, RunShare of the runs.
	LogTo     string         `json:"log_to"`
	LogWeeks  int            `json:"log_weeks"`
	Share     *float64       `json:"share"`
	RunShare  *float64       `json:"run_share"`
	PainWorst *int           `json:"pain_worst"`
	Weeks     []PageLogWeek  `json:"weeks"`
	Before    string         `json:"before"` // the note of the earlier visit
	Complaint [2]string      `json:"complaint"`
	Pain      []PagePainThen `json:"pain"`
}

// PagePainThen is a place that hurt at one of the two visits.
type PagePainThen struct {
	Region string `json:"region"`
	Title  string `json:"title"`
	Side   string `json:"side"`
	Before *int   `json:"before"`
	After  *int   `json:"after"`
}

// PageReturnBlock is a block of the plan with what is proposed for it.
type PageReturnBlock struct {
	Block    string   `json:"block"`
	Areas    []string `json:"areas"`
	Findings []string `json:"findings"`
	Planned  int      `json:"planned"` // sessions of its exercises until the last day that came back
	Done     int      `json:"done"`
	Share    *float64 `json:"share"`
	// Changes are what it was meant to better, as places in the list of changes.
	Changes []int  `json:"changes"`
	Do      string `json:"do"` // progress, hold or step back
	Code    string `json:"code"`
	Number  int    `json:"number"`
	Better  int    `json:"better"` // of the changes, really better
	Worse   int    `json:"worse"`
	Told    int    `json:"told"`
	Why     string `json:"why"`
	// Decided is what the coach decided; empty while that is open.
	Decided string `json:"decided"`
	Note    string `json:"note"`
}

// PageReturnSteps is the step-rate retraining before and after.
type PageReturnSteps struct {
	Changes []int           `json:"changes"` // step rate and what goes with it, as places in the list of changes
	Film    *PageStepsThen  `json:"film"`    // at equal speed, without the click where there is such a film
	Click   *PageStepsThen  `json:"click"`   // with the click, where a film was marked so
	Target  *float64        `json:"target"`  // of the ramp's week that was reached by now
	Kept    string          `json:"kept"`    // kept, partly, lost or empty where it cannot be told
	KeptPct *float64        `json:"kept_percent"`
	Runs    *PageReturnRuns `json:"runs"` // null where no run was taken in
}

// PageStepsThen holds two step rates at equal speed.
type PageStepsThen struct {
	Verdict     string   `json:"verdict"` // quicker steps, just faster, slower steps, no real change or cannot tell
	Before      float64  `json:"before"`
	After       float64  `json:"after"`
	BeforeMPS   *float64 `json:"before_mps"`
	AfterMPS    *float64 `json:"after_mps"`
	Change      *float64 `json:"change"` // at the earlier speed
	Low         *float64 `json:"low"`
	High        *float64 `json:"high"`
	RawChange   *float64 `json:"raw_change"`
	SpeedChange *float64 `json:"speed_change"`
	Text        string   `json:"text"`
}

// PageReturnRuns is what the runs between the visits show.
type PageReturnRuns struct {
	Runs   int            `json:"runs"`
	Weeks  []PageRunWeek  `json:"weeks"` // of the ramp, oldest first
	Change PageRunChanged `json:"change"`
	Told   string         `json:"told"`
}

// PageReturnDecision is what the coach decides for a block.
type PageReturnDecision struct {
	Do   string `json:"do"` // progress, hold, step back or empty
	Note string `json:"note"`
}

// PageReturnChoice is PUT /api/visits/{id}/return.
type PageReturnChoice struct {
	Version int64                         `json:"version"`
	Against string                        `json:"against"`
	Blocks  map[string]PageReturnDecision `json:"blocks"`
	Note    string                        `json:"note"`
}
