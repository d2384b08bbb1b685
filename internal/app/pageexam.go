package app

// PageExamTests is the catalogue of the exam: GET /api/exam/tests.
type PageExamTests struct {
	Tests []PageExamTest `json:"tests"`
}

// PageExamTest is one test: how it is done and how its number is judged.
type PageExamTest struct {
	Name      string           `json:"name"`
	Title     string           `json:"title"`
	Kind      string           `json:"kind"` // strength, mobility or control
	Unit      string           `json:"unit"`
	Better    string           `json:"better"` // higher or lower
	Sided     bool             `json:"sided"`
	Low       float64          `json:"low"`
	High      float64          `json:"high"`
	Trials    int              `json:"trials"`
	Pick      string           `json:"pick"` // best or mean
	Sign      string           `json:"sign"`
	Lever     *PageExamLever   `json:"lever"`
	Counter   bool             `json:"counter"`
	Timer     bool             `json:"timer"`
	Click     int              `json:"click"` // a minute; 0 for none
	Film      bool             `json:"film"`  // can be measured from a clip filmed from the front
	Felt      []string         `json:"felt"`
	Stages    bool             `json:"stages"`
	Position  string           `json:"position"`
	How       []string         `json:"how"`
	Watch     []string         `json:"watch"`
	Error     PageExamError    `json:"error"`
	Ranges    []PageExamRange  `json:"ranges"`
	Notes     []string         `json:"notes"`
	Contested *PageExamDispute `json:"contested"`
	Guide     PageFigure       `json:"guide"`
}

// PageExamLever says between which points the lever arm is measured.
type PageExamLever struct {
	From string `json:"from"`
	To   string `json:"to"`
}

// PageExamError is the smallest real change, in the unit or in percent of the
// reading but no less than least, in the unit.
type PageExamError struct {
	Value   *float64 `json:"value"`
	Percent *float64 `json:"percent"`
	Least   *float64 `json:"least"`
	Source  string   `json:"source"`
	Tag     string   `json:"tag"`
}

// PageExamRange is what was usual in one sample; low and high are the limits that
// follow, null where open or where the value is only typical.
type PageExamRange struct {
	Sex     string   `json:"sex"`
	Of      string   `json:"of"` // force_per_mass where it is not of the reading's own unit
	Low     *float64 `json:"low"`
	High    *float64 `json:"high"`
	Typical *float64 `json:"typical"`
	N       int      `json:"n"`
	Unit    string   `json:"unit"`
	Source  string   `json:"source"`
	Tag     string   `json:"tag"`
	Note    string   `json:"note"`
}

// PageExamDispute is what the literature disputes about a test.
type PageExamDispute struct {
	Text   string `json:"text"`
	Source string `json:"source"`
}

// PageExam is the exam of a visit: GET and PUT /api/visits/{id}/exam. Of what is
// sent, Version and Entries count. Version 0 says that there was none yet.
type PageExam struct {
	Version int64 `json:"version"`
	// Entries are by "test", "test/side" or "test/side/stage", such as
	// single_leg_bridge/left/before.
	Entries map[string]PageExamEntry `json:"entries"`
	Report  PageExamReport           `json:"report"`
	// Suggested are the tests to begin with, LeftOut those not to be done.
	Suggested []PageExamPointer `json:"suggested"`
	LeftOut   []PageExamPointer `json:"left_out"`
	// Filmed is what was read from films and neither kept nor put aside yet.
	Filmed []PageExamFilmed `json:"filmed"`
}

// PageExamEntry is the trials of one test on one side.
type PageExamEntry struct {
	Trials []PageExamTrial `json:"trials"`
	Felt   string          `json:"felt"`
	Note   string          `json:"note"`
}

// PageExamTrial is one attempt: a value in the test's unit, or force and lever
// arm; null where there is none.
type PageExamTrial struct {
	Value   *float64 `json:"value"`
	ForceN  *float64 `json:"force_n"`
	LeverM  *float64 `json:"lever_m"`
	Invalid string   `json:"invalid"` // why it does not count
	Pain    int      `json:"pain"`
	// Clip is the film it was read from; empty where by hand.
	Clip string `json:"clip"`
}

// PageExamPointer points to a test and says why.
type PageExamPointer struct {
	Test   string `json:"test"`
	Why    string `json:"why"`
	Source string `json:"source"`
}

// PageExamReport is the scored exam.
type PageExamReport struct {
	MassKG   *float64          `json:"mass_kg"`
	Sex      string            `json:"sex"`
	Readings []PageExamReading `json:"readings"`
	Pairs    []PageExamPair    `json:"pairs"`
	Pains    []PageExamPain    `json:"pains"`
}

// PageExamReading is the outcome of a test on one side; what is not known is null.
type PageExamReading struct {
	Test         string         `json:"test"`
	Side         string         `json:"side"`
	Stage        string         `json:"stage"`
	Value        *float64       `json:"value"`
	Unit         string         `json:"unit"`
	Reason       string         `json:"reason"` // why there is no value
	Valid        int            `json:"valid"`
	Trials       int            `json:"trials"`
	Spread       *float64       `json:"spread"`
	SEM          *float64       `json:"sem"`
	MDC95        *float64       `json:"mdc95"`
	ErrorSource  string         `json:"error_source"`
	ForceN       *float64       `json:"force_n"`
	TorqueNm     *float64       `json:"torque_nm"`
	ForcePerMass *float64       `json:"force_per_mass"` // percent, 100·kgf/kg
	Pain         int            `json:"pain"`
	Stopped      bool           `json:"stopped"`
	Felt         string         `json:"felt"`
	Range        *PageExamRange `json:"range"` // the one it was held against
	Verdict      string         `json:"verdict"`
	Cautions     []string       `json:"cautions"`
}

// PageExamPair is a test left and right.
type PageExamPair struct {
	Test         string   `json:"test"`
	Stage        string   `json:"stage"`
	RatioPercent *float64 `json:"ratio_percent"` // weaker over stronger
	Difference   *float64 `json:"difference"`    // left − right
	Margin       *float64 `json:"margin"`        // its error at 95 %
	Weaker       string   `json:"weaker"`        // left or right where beyond the error; empty else
	Text         string   `json:"text"`          // in words
}

// PageExamPain is a test that was stopped by pain.
type PageExamPain struct {
	Test  string `json:"test"`
	Side  string `json:"side"`
	Pain  int    `json:"pain"`
	Refer bool   `json:"refer"`
	Text  string `json:"text"`
}

// PageExamTable is a table of trials to take in: POST /api/visits/{id}/exam/table.
type PageExamTable struct {
	Version int64  `json:"version"`
	Table   string `json:"table"` // CSV, see exam.ReadTable
}

// PageExamFilm asks for the trials of a clip: POST /api/visits/{id}/exam/film.
type PageExamFilm struct {
	Clip string `json:"clip"`
	Test string `json:"test"`
	Side string `json:"side"`
}

// PageExamFilmed is what was read from a clip for a test on a side. It is no part of the
// exam before it is kept: POST /api/visits/{id}/exam/film/{filmed}/keep; DELETE puts it
// aside.
type PageExamFilmed struct {
	ID     string          `json:"id"`
	Clip   string          `json:"clip"`
	Test   string          `json:"test"`
	Side   string          `json:"side"`
	Trials []PageExamTrial `json:"trials"`
	TimesS []float64       `json:"times_s"` // of the lowest points, on the film's true clock
	// SpreadDeg is the SD between repetitions, NoiseDeg the error of one angle from
	// the trembling of the landmarks.
	SpreadDeg *float64 `json:"spread_deg"`
	NoiseDeg  *float64 `json:"noise_deg"`
	Text      string   `json:"text"`
	Warnings  []string `json:"warnings"`
}
