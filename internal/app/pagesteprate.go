package app

// PageStepRate is the step-rate part of the station Plan: GET
// /api/visits/{id}/steprate. Step rates are of both feet, steps a minute.
type PageStepRate struct {
	Version int64           `json:"version"`
	Ask     PageStepRateAsk `json:"ask"`
	// Base is what the ramp starts from; null where it is not known.
	Base *PageRate `json:"base"`
	// Film is what the newest measurement of this visit shows; null for nothing.
	Film *PageRate `json:"film"`
	// Runs is what the runs before the ramp show; null for nothing.
	Runs   *PageRate      `json:"runs"`
	Target PageStepTarget `json:"target"`
	Weeks  []PageRampWeek `json:"weeks"`
	// Why there are no weeks; empty where there are.
	None string `json:"none"`
	// Count says how long to count.
	Count    PageCountAdvice `json:"count"`
	Disputed []PageDisputed  `json:"disputed"`
}

// PageStepRateAsk is what the analyst decides. Null is not decided.
type PageStepRateAsk struct {
	How     string   `json:"how"` // film, count, runs or empty
	Count   *int     `json:"count"`
	Seconds *float64 `json:"seconds"`
	OneFoot bool     `json:"one_foot"`
	// SpeedMPS is the easy pace at which steps were counted, or for which the runs
	// are asked; the film has its own.
	SpeedMPS *float64 `json:"speed_mps"`
	// Landing is yes or no where the analyst says whether the landing needs it,
	// empty to take the accepted findings.
	Landing   string       `json:"landing"`
	Target    *float64     `json:"target"` // null for what is proposed
	Paces     []PageAtPace `json:"paces"`  // beside the easy one
	StepAWeek *float64     `json:"step_a_week"`
	RunMin    *float64     `json:"run_min"`
	FadeWeeks *int         `json:"fade_weeks"`
	HoldWeeks *int         `json:"hold_weeks"`
	Turns     []PageTurn   `json:"turns"` // weeks done again
}

// PageAtPace is a pace of the ramp; Base is the step rate at it where it is known.
type PageAtPace struct {
	Name     string   `json:"name"`
	SpeedMPS float64  `json:"speed_mps"`
	Base     *float64 `json:"base"`
}

// PageTurn repeats a week of the ramp, or goes back before it: week counts from 1
// in the weeks as they stood.
type PageTurn struct {
	Week int    `json:"week"`
	Do   string `json:"do"` // hold or step back
}

// PageRate is a step rate with its error.
type PageRate struct {
	PerMin   float64  `json:"per_min"`
	SEM      float64  `json:"sem"`
	How      string   `json:"how"`
	SpeedMPS *float64 `json:"speed_mps"`
	Text     string   `json:"text"`
}

// PageStepTarget is what is proposed, with what points to it.
type PageStepTarget struct {
	None    string       `json:"none"`
	PerMin  *float64     `json:"per_min"`
	Least   *float64     `json:"least"`
	Most    *float64     `json:"most"`
	Why     string       `json:"why"`
	Anchors []PageAnchor `json:"anchors"`
	// Landing is what the accepted findings say of it; empty for nothing.
	Landing string `json:"landing"`
}

// PageAnchor is a figure that points to a target.
type PageAnchor struct {
	PerMin float64 `json:"per_min"`
	Within float64 `json:"within"`
	Name   string  `json:"name"`
	Source string  `json:"source"`
}

// PageRampWeek is a week of the ramp. Hand is true where it was set by hand.
type PageRampWeek struct {
	Number      int          `json:"number"`
	From        string       `json:"from"`
	PerMin      float64      `json:"per_min"`
	RunMin      float64      `json:"run_min"`
	OnMin       float64      `json:"on_min"`
	OffMin      float64      `json:"off_min"`
	RisePercent float64      `json:"rise_percent"`
	At          []PageWeekAt `json:"at"`
	Note        string       `json:"note"`
	Hand        bool         `json:"hand"`
}

// PageWeekAt is a week at one pace, as a treadmill and a watch show it.
type PageWeekAt struct {
	Name        string  `json:"name"`
	SpeedMPS    float64 `json:"speed_mps"`
	PerMin      float64 `json:"per_min"`
	StepLengthM float64 `json:"step_length_m"`
	SpeedKMH    float64 `json:"speed_kmh"`
	Pace        string  `json:"pace"` // minutes and seconds a kilometre
}

// PageCountAdvice says how long to count for an error of one step a minute.
type PageCountAdvice struct {
	BothS float64 `json:"both_s"`
	OneS  float64 `json:"one_s"`
	Text  string  `json:"text"`
}

// PageStepRateChange is PUT /api/visits/{id}/steprate. Weeks null leaves those set
// by hand as they are; an empty list lets go of them.
type PageStepRateChange struct {
	Version int64           `json:"version"`
	Ask     PageStepRateAsk `json:"ask"`
	Weeks   []PageRampWeek  `json:"weeks"`
}

// PageHandout is the station Handout: GET /api/visits/{id}/handout.
type PageHandout struct {
	Version int64 `json:"version"` // of the log
	// Ready tells whether there is something to take home; Missing says what is not
	// there.
	Ready     bool          `json:"ready"`
	Missing   string        `json:"missing"`
	PlanWeeks int           `json:"plan_weeks"`
	RampWeeks int           `json:"ramp_weeks"`
	Weeks     []PageLogWeek `json:"weeks"` // what came back, oldest first
	Said      []string      `json:"said"`  // about the log just taken in
}

// PageLogWeek is a week that came back, with what is proposed for the next one.
type PageLogWeek struct {
	From         string   `json:"from"`
	RampWeek     int      `json:"ramp_week"` // 0 where it is none of the ramp
	Asked        *float64 `json:"asked"`
	Planned      int      `json:"planned"`
	Runs         int      `json:"runs"`
	RunMin       float64  `json:"run_min"`
	Exercises    int      `json:"exercises"`
	ExerciseDays int      `json:"exercise_days"`
	PainWorst    *int     `json:"pain_worst"`
	PainNextDay  bool     `json:"pain_next_day"`
	Bone         bool     `json:"bone"`
	Effort       int      `json:"effort"`
	PerMin       *float64 `json:"per_min"`
	Counts       int      `json:"counts"`
	Notes        []string `json:"notes"`
	Do           string   `json:"do"` // go on, hold, step back or stop
	Why          string   `json:"why"`
	Turned       bool     `json:"turned"` // a hold or a step back was entered for it
}

// PageLogAsk takes a log in: POST /api/visits/{id}/log, as the file's text or the
// code's letters.
type PageLogAsk struct {
	Text string `json:"text"`
}
