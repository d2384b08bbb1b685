package app

import (
	"path/filepath"
	"slices"

	"gaitwright/gait/measure"
)

// The most that the browser may ask to be compared at once.
const (
	MaxPageTableBytes = 5 << 20
	maxPageResults    = 200
)

// PageReadings is what the browser asks to be compared, kept results or a table:
// POST /api/reliability, and POST /api/reliability/adopt to let the errors found
// be the studio's own.
type PageReadings struct {
	// Results are the names of kept results: a runner's first is the first
	// reading, the second the second.
	Results []string `json:"results"`
	Table   string   `json:"table"`   // CSV
	Name    string   `json:"name"`    // of the table's file
	Measure string   `json:"measure"` // what a wide table holds; of a long one only this
	Raters  []string `json:"raters"`  // only these columns
	Repeat  Repeat   `json:"repeat"`  // what was done anew
}

// PageReliability is how well the readings agree.
type PageReliability struct {
	Notes    []string        `json:"notes"`
	SameFilm string          `json:"same_film,omitempty"` // a film that two readings of one runner come from
	Raters   []string        `json:"raters"`              // all there are to choose from
	Series   []PageAgreement `json:"series"`
	// LeastRunners and LeastDF are the rule from which a studio's own error counts.
	LeastRunners int `json:"least_runners"`
	LeastDF      int `json:"least_df"`
	// Adoptable are the errors that would be adopted; NotAdopted says of each of
	// the other measures why not. Both are empty where nothing was filmed anew.
	Adoptable  []PageOwnError `json:"adoptable"`
	NotAdopted []string       `json:"not_adopted"`
}

// PageAgreement is how well the readings of one measure and side agree.
type PageAgreement struct {
	ReliabilityDocument
	Title     string     `json:"title"`
	DF        int        `json:"df"`
	Enough    bool       `json:"enough"` // by the rule
	MDC95Low  *float64   `json:"mdc95_low"`
	MDC95High *float64   `json:"mdc95_high"`
	Plots     []PagePlot `json:"plots"` // in the order of the limits of agreement
}

// PagePlot holds the points of a plot of differences against means.
type PagePlot struct {
	Means       []*float64 `json:"means"`
	Differences []*float64 `json:"differences"`
}

// PageOwnError is a studio's own error of one measure.
type PageOwnError struct {
	Measure string   `json:"measure"`
	Title   string   `json:"title"`
	Unit    string   `json:"unit"`
	Origin  string   `json:"origin,omitempty"`
	SEM     *float64 `json:"sem"`
	MDC95   *float64 `json:"mdc95"`
	Runners int      `json:"runners"`
}

// Reliability works out how well the readings agree. Nothing is kept.
func (st *Studio) Reliability(ask PageReadings) (PageReliability, error) {
	all, found, notes, err := st.compare(ask)
	if err != nil {
		return PageReliability{}, err
	}
	p := PageReliability{Notes: emptyNotNil(notes), Raters: []string{}, LeastRunners: leastOwnRunners, LeastDF: leastOwnDF, Adoptable: []PageOwnError{}, NotAdopted: []string{}}
	for _, r := range all {
		for _, name := range r.Raters {
			if !slices.Contains(p.Raters, name) {
				p.Raters = append(p.Raters, name)
			}
		}
	}
	order := measuresOf(found)
	slices.SortStableFunc(found, func(a, b Reliability) int { return slices.Index(order, a.Measure) - slices.Index(order, b.Measure) })
	for _, r := range found {
		if r.SameClip != "" {
			p.SameFilm = filepath.Base(r.SameClip)
		}
		p.Series = append(p.Series, r.page())
	}
	if ask.Repeat == Refilmed && p.SameFilm == "" {
		own, not := ownErrorsOf(found)
		p.Adoptable, p.NotAdopted = pageOwnErrors(own), emptyNotNil(not)
	}
	return p, nil
}

// Adopt makes the errors of the readings the studio's own, as AdoptOwnErrors
// does, and returns those adopted.
func (st *Studio) Adopt(ask PageReadings) ([]PageOwnError, error) {
	_, found, _, err := st.compare(ask)
	if err != nil {
		return nil, err
	}
	files := ask.Results
	if len(files) == 0 {
		files = []string{ask.Name}
	}
	own, _, err := st.AdoptOwnErrors(found, ask.Repeat, files)
	if err != nil {
		return nil, err
	}
	return pageOwnErrors(own), nil
}

func (st *Studio) compare(ask PageReadings) (all []Readings, found []Reliability, notes []string, err error) {
	switch {
	case len(ask.Results) > 0 && ask.Table != "":
		return nil, nil, nil, problem(KindUsage, "", "Give either.", "kept results and a table cannot be compared together")
	case len(ask.Results) > 0:
		all, notes, err = st.keptReadings(ask.Results)
	case len(ask.Table) > MaxPageTableBytes:
		err = problem(KindUsage, ask.Name, "Leave out what is not to be compared, or use `gaitwright reliability`.", "the table is larger than %d MB", MaxPageTableBytes>>20)
	default:
		if all, err = parseReadings([]byte(ask.Table)); err != nil {
			err = &Problem{Kind: KindNoResult, File: ask.Name, What: err.Error(), Mend: "The page shows the two forms that a table may have.", Err: err}
		}
	}
	if err != nil {
		return nil, nil, nil, err
	}
	found, notes, err = compareReadings(all, notes, ReliabilityRequest{Measure: ask.Measure, Raters: ask.Raters})
	return all, found, notes, err
}

// keptReadings gathers kept results by runner, in the order of ids.
func (st *Studio) keptReadings(ids []string) ([]Readings, []string, error) {
	if len(ids) > maxPageResults {
		return nil, nil, problem(KindUsage, "", "Choose fewer, or use `gaitwright reliability` with files of `measure --json`.", "%d results are chosen, and %d are the most", len(ids), maxPageResults)
	}
	var results []Document
	for i, id := range ids {
		if slices.Contains(ids[:i], id) {
			return nil, nil, problem(KindUsage, "", "Choose each result once.", "result %s is chosen twice", id)
		}
		s, err := st.Load(id)
		if err != nil {
			return nil, nil, err
		}
		if s.Runner.Name == "" {
			return nil, nil, problem(KindUsage, "", "Measure with --name, so that the readings of one runner can be put together.", "result %s does not say whose it is", id)
		}
		results = append(results, s.Document())
	}
	all, notes := gatherResults(results)
	return all, notes, nil
}

func (r Reliability) page() PageAgreement {
	p := PageAgreement{ReliabilityDocument: r.Document(), Title: agreementTitle(r), DF: r.DF(), Enough: len(r.Subjects) >= leastOwnRunners && r.DF() >= leastOwnDF,
		Plots: []PagePlot{}}
	if r.SEM > 0 {
		p.MDC95Low, p.MDC95High = number(r.MDC95*r.SEMInterval.Low/r.SEM, 8), number(r.MDC95*r.SEMInterval.High/r.SEM, 8)
	}
	for _, pair := range r.Pairs {
		p.Plots = append(p.Plots, PagePlot{numbers(pair.Means, 8), numbers(pair.Differences, 8)})
	}
	return p
}

func pageOwnErrors(own []OwnError) []PageOwnError {
	out := []PageOwnError{}
	for _, e := range own {
		d, _ := measure.Lookup(e.Measure)
		out = append(out, PageOwnError{Measure: e.Measure, Title: d.Title, Unit: e.Unit, Origin: e.Origin, SEM: number(e.SEM, 8), MDC95: number(e.MDC95, 8), Runners: e.Runners})
	}
	return out
}
