package app

// The types below are what the browser gets, as JSON. Numbers that are not
// known are null. Times are seconds on the clip's own clock.

// PageSummary is one line of the list of kept results: GET /api/results.
type PageSummary struct {
	ID       string   `json:"id"`
	VisitID  string   `json:"visit_id"` // empty for one measured outside a visit
	Created  string   `json:"created"`  // RFC 3339
	Runner   string   `json:"runner"`
	Studio   string   `json:"studio"`
	Views    []string `json:"views"`
	SpeedMPS *float64 `json:"speed_mps"`
	StepRate *float64 `json:"step_rate"`
}

// PageSession is one result without its tracks: GET /api/results/{id}.
type PageSession struct {
	PageSummary
	ClipIDs []string   `json:"clip_ids"` // of the visit's clips, in the order of Clips; empty outside a visit
	HeightM *float64   `json:"height_m"`
	Notes   []string   `json:"notes"`
	Clips   []PageClip `json:"clips"`
}

// PageClip is one clip of a result.
type PageClip struct {
	Index         int           `json:"index"`
	Name          string        `json:"name"`
	View          string        `json:"view"` // left, right, rear, front, spatial
	Video         bool          `json:"video"`
	WidthPX       int           `json:"width_px"`
	HeightPX      int           `json:"height_px"`
	FrameRateHz   float64       `json:"frame_rate_hz"`
	Slowdown      float64       `json:"slowdown"`
	Frames        int           `json:"frames"`
	FirstFrame    int           `json:"first_frame"`
	BeltSpeedMPS  *float64      `json:"belt_speed_mps"`
	Scale         string        `json:"scale"`
	Origin        string        `json:"origin"` // pose model, marker file …
	ContactMethod string        `json:"contact_method"`
	Contacts      []PageContact `json:"contacts"`
	OtherContacts []PageContact `json:"other_contacts"`
	Measures      []PageMeasure `json:"measures"`
	Curves        []PageCurve   `json:"curves"`
	Warnings      []string      `json:"warnings"`
}

// PageContact is one contact.
type PageContact struct {
	Side            string  `json:"side"`
	InitialContactS float64 `json:"initial_contact_s"`
	ToeOffS         float64 `json:"toe_off_s"`
	Edited          bool    `json:"edited"`
	Doubt           string  `json:"doubt,omitempty"`
}

// PageMeasure is one measure; the names are those of the catalogue.
type PageMeasure struct {
	Name    string   `json:"name"`
	Title   string   `json:"title"`
	Side    string   `json:"side"`
	Value   *float64 `json:"value"`
	Text    string   `json:"text,omitempty"`
	Unit    string   `json:"unit"`
	SD      *float64 `json:"sd"`
	SEM     *float64 `json:"sem"`
	MDC95   *float64 `json:"mdc95"`
	Strides int      `json:"strides"`
	Origin  string   `json:"origin"`
	Flag    string   `json:"flag"`
	Reason  string   `json:"reason,omitempty"`
	// Decimals is how many digits after the point are worth showing.
	Decimals int `json:"decimals"`
	// Range is the reference range; absent where there is none.
	Range *PageRange `json:"range,omitempty"`
}

// PageCurve is a stride-normalised curve: 101 points from contact to contact.
type PageCurve struct {
	Name    string     `json:"name"`
	Title   string     `json:"title"`
	Side    string     `json:"side"`
	Unit    string     `json:"unit"`
	Mean    []*float64 `json:"mean"`
	SD      []*float64 `json:"sd"`
	ToeOff  *float64   `json:"toe_off_percent"`
	Strides int        `json:"strides"`
}

// PageTrack is a clip's tracks, frame by frame:
// GET /api/results/{id}/clips/{n}/track.
type PageTrack struct {
	Space     string               `json:"space"` // "picture" (x right, y down, px) or "runner" (x forward, y up, z right)
	Unit      string               `json:"unit"`  // "px" or "m"
	TimeS     []float64            `json:"time_s"`
	Landmarks []string             `json:"landmarks"`
	X         [][]*float64         `json:"x"` // by landmark, then frame; mended
	Y         [][]*float64         `json:"y"`
	Z         [][]*float64         `json:"z,omitempty"`
	RawX      [][]*float64         `json:"raw_x,omitempty"`
	RawY      [][]*float64         `json:"raw_y,omitempty"`
	Conf      [][]*float64         `json:"confidence"`
	Bones     [][2]string          `json:"bones"`
	Series    map[string]PageAngle `json:"series"` // live curves by name and side: "knee_flexion/left"
}

// PageAngle is a quantity frame by frame.
type PageAngle struct {
	Name   string     `json:"name"`
	Title  string     `json:"title"`
	Side   string     `json:"side"`
	Unit   string     `json:"unit"`
	Values []*float64 `json:"values"`
}

// PageDefinition explains one measure: GET /api/measures.
type PageDefinition struct {
	Name       string `json:"name"`
	Title      string `json:"title"`
	Group      string `json:"group"` // heading under which it is listed
	Unit       string `json:"unit"`
	Definition string `json:"definition"`
	Sign       string `json:"sign"`
	Formula    string `json:"formula"`
	Source     string `json:"source"`
	Error      string `json:"error"` // typical published error
	Caution    string `json:"caution"`
	Instead    string `json:"instead"` // what to film or give where it is withheld
}
