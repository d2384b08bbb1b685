package app

// PageRuns is what the runs of a visit's runner show: GET /api/visits/{id}/runs.
// Step rates are of both feet, steps a minute; what is not known is null.
type PageRuns struct {
	RunnerID string    `json:"runner_id"`
	Runs     []PageRun `json:"runs"` // newest first
	// Positions is the day on which the runner agreed that places are kept; null
	// where they are dropped. Records tells whether runs may be kept at all.
	Positions *string  `json:"positions"`
	Records   bool     `json:"records"`
	Proof     RunProof `json:"proof"`
}

// RunProof holds the runs against a ramp: week by week, and at equal speed
// before and now.
type RunProof struct {
	Weeks []PageRunWeek `json:"weeks"` // oldest first, up to today
	// Before is the line from before the ramp and Now that of the last weeks; null
	// where there is none.
	Before *PageRunLine   `json:"before"`
	Now    *PageRunLine   `json:"now"`
	Points []PageRunPoint `json:"points"` // the steady parts of both
	// Change is Now against Before at equal speed.
	Change PageRunChanged `json:"change"`
	// Spikes are runs much longer than any of the 30 days before.
	Spikes []PageRunSpike `json:"spikes"`
	// Told are the weeks that came back, in one sentence.
	Told string `json:"told"`
}

// PageRun is one run.
type PageRun struct {
	ID        string   `json:"id"`
	Version   int64    `json:"version"`
	Name      string   `json:"name"`
	Format    string   `json:"format"`
	Start     string   `json:"start"` // in the watch's zone, or the studio's
	Day       string   `json:"day"`
	Minutes   float64  `json:"minutes"`
	KM        float64  `json:"km"`
	SteadyMin float64  `json:"steady_min"`
	SpeedMPS  *float64 `json:"speed_mps"` // of the steady parts, as the next
	PerMin    *float64 `json:"per_min"`
	ContactMS *float64 `json:"contact_ms"`
	BounceCM  *float64 `json:"bounce_cm"`
	// LeftOut says how much was left out, and why; Notes what was corrected.
	LeftOut string   `json:"left_out"`
	Left    PageLeft `json:"left"`
	Notes   []string `json:"notes"`
	Doubt   string   `json:"doubt"` // why it may not be this runner's; empty for none
	// What kind of doubt it is: same, overlap, apart, level or day; the other run it
	// is about, and by how much (seconds, or steps a minute).
	DoubtKind  string  `json:"doubt_kind"`
	DoubtOther string  `json:"doubt_other"`
	DoubtBy    float64 `json:"doubt_by"`
	Use        string  `json:"use"` // yes or no where a person said so
	Counts     bool    `json:"counts"`
	Places     bool    `json:"places"` // kept with where it was
}

// PageLeft is what became of a run's time, minutes.
type PageLeft struct {
	Settling float64 `json:"settling"`
	Stopped  float64 `json:"stopped"`
	Hills    float64 `json:"hills"`
	Uneven   float64 `json:"uneven"`
	Unknown  float64 `json:"unknown"`
}

// PageRunWeek is a week, with its runs and what they show.
type PageRunWeek struct {
	From     string  `json:"from"`
	RampWeek int     `json:"ramp_week"` // 0 where it is none of the ramp
	After    bool    `json:"after"`     // it lies after the ramp's last week
	Runs     int     `json:"runs"`
	Planned  int     `json:"planned"`
	KM       float64 `json:"km"`
	Minutes  float64 `json:"minutes"`
	Longest  float64 `json:"longest_km"`
	Load     string  `json:"load"` // what can be said of a sudden increase; empty for nothing
	MoreThan float64 `json:"more_percent"`
	// Verdict is reached, not reached, just faster, missed, cannot tell apart,
	// cannot tell or under way; empty for a week before the ramp.
	Verdict  string   `json:"verdict"`
	Asked    *float64 `json:"asked"` // at SpeedMPS, as Taken with its interval
	Taken    *float64 `json:"taken"`
	Low      *float64 `json:"low"`
	High     *float64 `json:"high"`
	SpeedMPS *float64 `json:"speed_mps"`
	RanMPS   *float64 `json:"ran_mps"` // mean speed of the steady parts
	RanRate  *float64 `json:"ran_per_min"`
	Share    *float64 `json:"share"` // of the steady time at what was asked
	Text     string   `json:"text"`
	Do       string   `json:"do"` // go on, hold or step back; empty for a week before the ramp
	Why      string   `json:"why"`
}

// PageRunLine is step rate on speed with its 95 % interval at two speeds.
type PageRunLine struct {
	From   string         `json:"from"`
	To     string         `json:"to"`
	Runs   int            `json:"runs"`
	Slope  float64        `json:"slope"` // steps a minute for 1 m/s
	Points []PageRunPlace `json:"points"`
	// Counted is true where it is no line of runs but a count or a film.
	Counted bool `json:"counted"`
}

// PageRunPlace is a place of a line.
type PageRunPlace struct {
	SpeedMPS float64 `json:"speed_mps"`
	PerMin   float64 `json:"per_min"`
	Low      float64 `json:"low"`
	High     float64 `json:"high"`
}

// PageRunPoint is a steady part of a run.
type PageRunPoint struct {
	Now      bool    `json:"now"`
	SpeedMPS float64 `json:"speed_mps"`
	PerMin   float64 `json:"per_min"`
}

// PageRunChanged is the step rate now against before at equal speed.
type PageRunChanged struct {
	Verdict     string  `json:"verdict"` // quicker steps, just faster, slower steps, no real change, cannot tell or not run
	SpeedMPS    float64 `json:"speed_mps"`
	Change      float64 `json:"change"`
	Low         float64 `json:"low"`
	High        float64 `json:"high"`
	RawChange   float64 `json:"raw_change"`
	SpeedChange float64 `json:"speed_change"`
	Text        string  `json:"text"`
}

// PageRunSpike is a run much longer than those before.
type PageRunSpike struct {
	Day     string  `json:"day"`
	KM      float64 `json:"km"`
	Longest float64 `json:"longest_km"`
	Percent float64 `json:"percent"`
	Text    string  `json:"text"`
}

// PageRunTaken answers POST /api/runners/{id}/runs?name=, whose body is the file.
type PageRunTaken struct {
	Run     PageRun `json:"run"`
	Already bool    `json:"already"`
	Said    string  `json:"said"`
}

// PageRunChange is PUT /api/runs/{id}.
type PageRunChange struct {
	Version int64  `json:"version"`
	Use     string `json:"use"`
	Runner  string `json:"runner"` // another runner whose it is; empty to leave it
	Visit   string `json:"visit"`  // in whose undo list it belongs; may be empty
}
