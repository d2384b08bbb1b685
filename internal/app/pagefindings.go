package app

// PageFindings is the station Findings of a visit: GET /api/visits/{id}/findings.
// Version 0 says that nothing was decided yet.
type PageFindings struct {
	PageFindingsKept
	Result string      `json:"result"` // that they rest on; empty for none
	Stale  bool        `json:"stale"`  // the result is older than what is said of its films
	Exam   bool        `json:"exam"`   // something was tested
	Note   string      `json:"note"`   // about the rules in use; empty for the built-in ones
	Report PageReasons `json:"report"`
}

// PageFindingsKept is what the coach decided: PUT /api/visits/{id}/findings.
type PageFindingsKept struct {
	Version   int64                   `json:"version"`
	Decisions map[string]PageDecision `json:"decisions"` // by the finding's name
	Own       []PageOwnFinding        `json:"own"`
	Order     []string                `json:"order"` // names of findings, the first first; those not named follow
	// Proposed are the findings that there were to decide. The server fills them in.
	Proposed []string `json:"proposed"`
}

// PageDecision is what was decided of a finding.
type PageDecision struct {
	State  string `json:"state"`  // accepted or rejected
	Reason string `json:"reason"` // of a rejection
}

// PageOwnFinding is one that the coach adds.
type PageOwnFinding struct {
	ID    string    `json:"id"` // made by the page: own- and letters or figures
	Title string    `json:"title"`
	Text  string    `json:"text"` // what it rests on
	Side  string    `json:"side"` // left, right or both
	Aims  []PageAim `json:"aims"`
}

// PageAim is what a programme should do.
type PageAim struct {
	Block string `json:"block"`
	Area  string `json:"area"`
	Side  string `json:"side"`
	Why   string `json:"why"`
	Of    string `json:"of"` // what it comes from
}

// PageReasons is the reasoning as it stands.
type PageReasons struct {
	Findings []PageFinding   `json:"findings"`
	Others   []PageFinding   `json:"others"`
	None     string          `json:"none"`
	Refer    []PageReferral  `json:"refer"`
	Loose    []PageEvidence  `json:"loose"` // what the exam shows and no finding rests on
	Looked   int             `json:"looked"`
	Blind    []string        `json:"blind"` // patterns for which nothing was measured
	Rules    int             `json:"rules"`
	Aims     []PageAimChoice `json:"aims"` // what an own finding can aim at
}

// PageAimChoice is a block and an area for which there are exercises.
type PageAimChoice struct {
	Block string `json:"block"`
	Area  string `json:"area"`
}

// PageReferral says for what there is no programme before a clinician has cleared
// it.
type PageReferral struct {
	Region string   `json:"region"` // empty for the whole
	Side   string   `json:"side"`
	Why    []string `json:"why"`
}

// PageFinding is one thing to work on, with all it rests on.
type PageFinding struct {
	Name           string            `json:"name"`
	Title          string            `json:"title"`
	Text           string            `json:"text"`
	Sides          []string          `json:"sides"`
	Joined         bool              `json:"joined"` // one explanation of several patterns
	Parts          []PageFindingPart `json:"parts"`
	Exam           []PageEvidence    `json:"exam"`
	Size           string            `json:"size"` // slight, clear or large
	SizeMDC        *float64          `json:"size_mdc"`
	Confidence     string            `json:"confidence"`
	ConfidenceText string            `json:"confidence_text"`
	Rank           []PageRankPart    `json:"rank"`
	TestNext       []PageTestNext    `json:"test_next"`
	Overturn       []string          `json:"overturn"`
	Disputed       []PageDisputed    `json:"disputed"`
	Aims           []PageAim         `json:"aims"`
}

// PageRankPart is a part of the rank by which findings are ordered.
type PageRankPart struct {
	Name   string   `json:"name"` // size, breadth, complaint, change or safety
	Points *float64 `json:"points"`
}

// PageTestNext is a test that would tell explanations apart.
type PageTestNext struct {
	Test  string `json:"test"`
	Title string `json:"title"`
}

// PageDisputed is a point that the literature disputes.
type PageDisputed struct {
	Number int    `json:"number"`
	Text   string `json:"text"`
	Source string `json:"source"`
}

// PageFindingPart is one pattern on one side.
type PageFindingPart struct {
	Pattern    string         `json:"pattern"`
	Title      string         `json:"title"`
	Side       string         `json:"side"` // left, right or both
	Size       string         `json:"size"`
	Seen       []PageEvidence `json:"seen"`
	Also       []PageEvidence `json:"also"`
	Unclear    []PageEvidence `json:"unclear"`
	Unmeasured []PageEvidence `json:"unmeasured"`
	Causes     []PageCause    `json:"causes"`
	Rivals     []PageRival    `json:"rivals"`
	Change     int            `json:"change"` // 0 to 3
	ChangeText string         `json:"change_text"`
}

// PageCause is an explanation with what speaks for and against it.
type PageCause struct {
	Text     string         `json:"text"`
	State    string         `json:"state"` // supported, for and against, not tested, undecided or spoken against
	For      []PageEvidence `json:"for"`
	Against  []PageEvidence `json:"against"`
	Untested []PageTestNext `json:"untested"`
	// OtherSide is what the exam shows of the same on the other side.
	OtherSide []PageEvidence `json:"other_side"`
}

// PageRival is an explanation of another kind.
type PageRival struct {
	Text   string `json:"text"`
	Settle string `json:"settle"`
}

// PageEvidence is one number held against its limit.
type PageEvidence struct {
	Text    string       `json:"text"`
	Measure string       `json:"measure"` // empty where it is not of the film
	Test    string       `json:"test"`    // empty where it is not of the exam
	Side    string       `json:"side"`
	Value   *float64     `json:"value"`
	Limit   *float64     `json:"limit"`
	Error   *float64     `json:"error"` // 1.96 standard errors and the bias that counts
	Unit    string       `json:"unit"`
	SizeMDC *float64     `json:"size_mdc"` // beyond the limit, in smallest real changes
	Rule    string       `json:"rule"`     // the condition in words
	Source  string       `json:"source"`   // of the limit
	Tag     string       `json:"tag"`
	Flag    string       `json:"flag"`
	Origin  string       `json:"origin"`
	Picture *PagePicture `json:"picture"`
}

// PagePicture is the moment of the film in which a number is read.
type PagePicture struct {
	Clip   int    `json:"clip"`
	Frame  int    `json:"frame"`
	Moment string `json:"moment"` // contact, stance, late (in stance), toe_off or swing
	Side   string `json:"side"`
	URL    string `json:"url"`   // the frame around the runner with the landmarks drawn, as JPEG
	Bench  string `json:"bench"` // where it is looked at
}
