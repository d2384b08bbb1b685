package app

import "gaitwright/gait/programme"

// PagePlan is the station Plan of a visit: GET /api/visits/{id}/plan. Version 0
// says that there is none yet.
type PagePlan struct {
	Version int64       `json:"version"`
	Ask     PagePlanAsk `json:"ask"`
	// Weeks are what is done as things stand: what must not be done is left out
	// of them and named under Left.
	Weeks    []programme.Week  `json:"weeks"`
	Minutes  []PagePlanMinutes `json:"minutes"` // of each week
	Left     []programme.Left  `json:"left"`
	Retest   string            `json:"retest"`
	FullDays []int             `json:"full_days"` // 0 is Monday
	RunDays  []int             `json:"run_days"`
	Unmet    []programme.Unmet `json:"unmet"`
	Removed  []string          `json:"removed"`
	Closed   []string          `json:"closed"` // regions that nothing may load
	None     string            `json:"none"`   // why there is no programme; empty where there is one
	// NoRun says why no run is planned, Short why full sessions are short; empty
	// where neither is so.
	// Behind says why it is behind: the findings were changed since ("findings"), or the
	// runner may do less ("shut") or more ("opened") than when it was made.
	Behind   string           `json:"behind"`
	NoRun    string           `json:"no_run"`
	Short    string           `json:"short"`
	Stale    bool             `json:"stale"` // it is behind, see Behind
	Accepted []string         `json:"accepted"`
	Refer    []PageReferral   `json:"refer"`
	Rules    []programme.Rule `json:"rules"`
	Stops    []string         `json:"stops"`
	Disputed []PageDisputed   `json:"disputed"`
	Note     string           `json:"note"` // about the exercises in use
	// Exercises are those of the plan and all that could be put into it.
	Exercises []PageExercise `json:"exercises"`
	Equipment []string       `json:"equipment"` // all that there can be
}

// PagePlanAsk is what a plan has to fit.
type PagePlanAsk struct {
	Start     string   `json:"start"` // first day
	Weeks     int      `json:"weeks"`
	FullMin   int      `json:"full_min"`
	WarmMin   int      `json:"warm_min"`
	FullDays  int      `json:"full_days"`
	RunDays   int      `json:"run_days"`
	Equipment []string `json:"equipment"`
}

// PagePlanMinutes is how long the parts of a week take, once.
type PagePlanMinutes struct {
	Warm float64 `json:"warm"`
	Full float64 `json:"full"`
}

// PagePlanChange is PUT /api/visits/{id}/plan. Without weeks the plan is made, or
// made anew around what was changed by hand; with weeks they are kept as they
// are.
type PagePlanChange struct {
	Version int64            `json:"version"`
	Ask     PagePlanAsk      `json:"ask"`
	Weeks   []programme.Week `json:"weeks"`
}

// PageExercise is one exercise of the library.
type PageExercise struct {
	Name     string         `json:"name"`
	Title    string         `json:"title"`
	Block    string         `json:"block"`
	Area     string         `json:"area"`
	Level    int            `json:"level"`
	Each     bool           `json:"each"`
	Warm     bool           `json:"warm"`
	Run      bool           `json:"run"`
	Dose     programme.Dose `json:"dose"`
	Needs    []string       `json:"needs"`
	How      []string       `json:"how"`
	Cue      string         `json:"cue"`
	Felt     string         `json:"felt"`
	NotFelt  string         `json:"not_felt"`
	Easier   string         `json:"easier"`
	Harder   string         `json:"harder"`
	Evidence string         `json:"evidence"`
	Tag      string         `json:"tag"`
	Own      bool           `json:"own"`
	Refused  string         `json:"refused"`  // why this runner must not do it; empty where may
	Disputed []int          `json:"disputed"` // numbers of the disputed points that it touches
}
