package app

import (
	"cmp"
	"embed"
	"fmt"
	"maps"
	"math"
	"strings"
	"sync"
	"time"

	"github.com/goccy/go-yaml"

	"gaitwright/gait/programme"
)

//go:embed words/report.*.yaml
var reportWordFiles embed.FS

// reportWords are the words of the runner's report in one language.
type reportWords struct {
	Title          string            `yaml:"title"`
	Page           string            `yaml:"page"`
	Foot           string            `yaml:"foot"`
	Date           string            `yaml:"date"`
	Sides          map[string]string `yaml:"sides"`
	NoName         string            `yaml:"no_name"`
	LineSpeed      string            `yaml:"line_speed"`
	LineSpeedUS    string            `yaml:"line_speed_us"`
	Lead           string            `yaml:"lead"`
	SawTitle       string            `yaml:"saw_title"`
	Why            string            `yaml:"why"`
	Likely         string            `yaml:"likely"`
	TestsToo       string            `yaml:"tests_too"`
	Coach          string            `yaml:"coach"`
	And            string            `yaml:"of"`
	More           string            `yaml:"more"`
	NoneMeasured   string            `yaml:"none_measured"`
	NoneUndecided  string            `yaml:"none_undecided"`
	NoneNothing    string            `yaml:"none_nothing"`
	Figures        string            `yaml:"figures"`
	Error          string            `yaml:"error"`
	ErrorSmall     string            `yaml:"error_small"`
	You            string            `yaml:"you"`
	AimUpTo        string            `yaml:"aim_up_to"`
	AimFrom        string            `yaml:"aim_from"`
	AimBetween     string            `yaml:"aim_between"`
	UsualUpTo      string            `yaml:"usual_up_to"`
	UsualFrom      string            `yaml:"usual_from"`
	UsualBetween   string            `yaml:"usual_between"`
	LineUpTo       string            `yaml:"line_up_to"`
	LineFrom       string            `yaml:"line_from"`
	LineBetween    string            `yaml:"line_between"`
	Picture        string            `yaml:"picture"`
	Target         string            `yaml:"target"`
	DoTitle        string            `yaml:"do_title"`
	Week           string            `yaml:"week"`
	Learn          string            `yaml:"learn"`
	Warm           string            `yaml:"warm"`
	Full           string            `yaml:"full"`
	Both           string            `yaml:"both"`
	TwoDoses       string            `yaml:"two_doses"`
	Running        string            `yaml:"running"`
	Side           map[string]string `yaml:"side"`
	LeftOut        string            `yaml:"left_out"`
	NoPlan         string            `yaml:"no_plan"`
	RateTitle      string            `yaml:"rate_title"`
	Rate           string            `yaml:"rate"`
	RateParts      string            `yaml:"rate_parts"`
	RateWhole      string            `yaml:"rate_whole"`
	RateGoal       string            `yaml:"rate_goal"`
	WhenTitle      string            `yaml:"when_title"`
	When           string            `yaml:"when"`
	WhenNone       string            `yaml:"when_none"`
	WhenEarly      string            `yaml:"when_early"`
	Change         string            `yaml:"change"`
	PainTitle      string            `yaml:"pain_title"`
	Pain           []string          `yaml:"pain"`
	CareTitle      string            `yaml:"care_title"`
	Care           []string          `yaml:"care"`
	PainNow        string            `yaml:"pain_now"`
	ReferTitle     string            `yaml:"refer_title"`
	ReferLead      string            `yaml:"refer_lead"`
	ReferEmergency string            `yaml:"refer_emergency"`
	ReferSoon      string            `yaml:"refer_soon"`
	ReferSigns     string            `yaml:"refer_signs"`
	ReferBack      string            `yaml:"refer_back"`
	ReferNoName    string            `yaml:"refer_no_name"`
	ReferDo        string            `yaml:"refer_do"`
	ReferPage      string            `yaml:"refer_page"`
	ReferPageLead  string            `yaml:"refer_page_lead"`
	ReferTold      string            `yaml:"refer_told"`
	ReferPain      string            `yaml:"refer_pain"`
	ReferNoPain    string            `yaml:"refer_no_pain"`
	ReferComplaint string            `yaml:"refer_complaint"`
	ReferTraining  string            `yaml:"refer_training"`
	ReferReply     string            `yaml:"refer_reply"`
	Training       string            `yaml:"training"`
	TrainingUS     string            `yaml:"training_us"`

	Units    map[string]unitWords    `yaml:"units"`
	Measures map[string]measureWords `yaml:"measures"`
	Findings map[string]findingWords `yaml:"findings"`
	Causes   map[string]string       `yaml:"causes"`
	Tests    map[string]string       `yaml:"tests"`
	Dose     struct {
		Hold string `yaml:"hold"`
		Pace string `yaml:"pace"`
		Rest string `yaml:"rest"`
	} `yaml:"dose"`
	Calendar struct {
		Name     string `yaml:"name"`
		Warm     string `yaml:"warm"`
		Click    string `yaml:"click"`
		Before   string `yaml:"before"`
		Drills   string `yaml:"drills"`
		Full     string `yaml:"full"`
		Retest   string `yaml:"retest"`
		Why      string `yaml:"why"`
		Whole    string `yaml:"whole"`
		Parts    string `yaml:"parts"`
		Rate     string `yaml:"rate"`
		AtPace   string `yaml:"at_pace"`
		AtPaceUS string `yaml:"at_pace_us"`
		Easy     string `yaml:"easy"`
		Keep     string `yaml:"keep"`
		Care     string `yaml:"care"`
	} `yaml:"calendar"`
	Signs   map[string]string `yaml:"signs"`
	Places  map[string]string `yaml:"places"`  // of the body map
	Answers map[string]string `yaml:"answers"` // to since when and when it hurts, as the page offers them

	language string
	us       bool // lengths in inches, speeds in miles an hour
}

type unitWords struct {
	One   string `yaml:"one"`
	Many  string `yaml:"many"`
	Short string `yaml:"short"`
}

// measureWords are sentences with a value above and below zero.
type measureWords struct {
	Plus  string `yaml:"plus"`
	Minus string `yaml:"minus"`
}

type findingWords struct {
	Title string `yaml:"title"`
	Saw   string `yaml:"saw"`
	Why   string `yaml:"why"`
}

// ReportLanguages are those of the runner's report.
var ReportLanguages = []string{"en", "de"}

var reportWordsBy = map[string]func() *reportWords{"en": loadReportWords("en"), "de": loadReportWords("de")}

func loadReportWords(language string) func() *reportWords {
	return sync.OnceValue(func() *reportWords {
		data, err := reportWordFiles.ReadFile("words/report." + language + ".yaml")
		if err != nil {
			panic("app: " + err.Error())
		}
		w := &reportWords{language: language}
		if err := yaml.UnmarshalWithOptions(data, w, yaml.Strict()); err != nil {
			panic("app: words/report." + language + ".yaml: " + err.Error())
		}
		return w
	})
}

// The international inch and mile.
const (
	metresPerInch = 0.0254
	metresPerMile = 1609.344
)

// wordsOf are the words for a report in its language and units.
func wordsOf(ask ReportAsk) *reportWords {
	w := reportWordsBy[ask.Language]()
	if ask.Units != "us" {
		return w
	}
	us := *w
	us.us, us.LineSpeed, us.Training = true, w.LineSpeedUS, w.TrainingUS
	us.Units = maps.Clone(w.Units)
	us.Units["m"] = w.Units["in"]
	return &us
}

// speed says at which speed a film was taken, with the pace.
func (w *reportWords) speed(mps float64) string {
	per := 1000.0
	if w.us {
		per = metresPerMile
	}
	return filled(w.LineSpeed, "kmh", w.figure(3.6*mps, 1), "mph", w.figure(3600/metresPerMile*mps, 1), "pace", paceText(per, mps)+" min")
}

// paceText is the minutes and seconds for some metres at a speed.
func paceText(metres, mps float64) string {
	sec := int(math.Round(metres / mps))
	return fmt.Sprintf("%d:%02d", sec/60, sec%60)
}

// knownUnits are metric or us; metric where none are said.
func knownUnits(units string) (string, error) {
	switch units {
	case "":
		return "metric", nil
	case "metric", "us":
		return units, nil
	}
	return "", problem(KindUsage, "units", "Choose metric or us.", "there are no units %q", clean(units, 40))
}

// filled puts values into {names}.
func filled(text string, pairs ...string) string {
	for i := 0; i+1 < len(pairs); i += 2 {
		pairs[i] = "{" + pairs[i] + "}"
	}
	return strings.NewReplacer(pairs...).Replace(text)
}

var germanMonths = strings.NewReplacer("January", "Januar", "February", "Februar", "March", "März", "May", "Mai", "June", "Juni", "July", "Juli", "October", "Oktober", "December", "Dezember")

func (w *reportWords) day(t time.Time) string {
	s := t.Format(w.Date)
	if w.language == "de" {
		s = germanMonths.Replace(s)
	}
	return s
}

// figure is a number with at most the decimals given, in the language's form.
func (w *reportWords) figure(v float64, decimals int) string {
	s := fmt.Sprintf("%.*f", decimals, v)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	s = strings.Replace(s, "-", "−", 1)
	if w.language == "de" {
		s = strings.Replace(s, ".", ",", 1)
	}
	return s
}

// shown is a value in the unit in which a runner reads it, and the decimals that
// its error deserves.
func (w *reportWords) shown(v float64, unit string) float64 {
	switch unit {
	case "m":
		if w.us {
			return v / metresPerInch
		}
		return 100 * v
	case "s":
		return 1000 * v
	}
	return v
}

func shownUnit(unit string) string {
	switch unit {
	case "deg", "m", "s", "steps/min", "percent":
		return unit
	case "%":
		return "percent"
	}
	return "ratio"
}

// decimals are one where the error is below one of the shown unit, else none; of a
// plain ratio two.
func shownDecimals(errorShown float64, unit string) int {
	if shownUnit(unit) == "ratio" {
		return 2
	}
	if errorShown < 0.95 && unit == "m" {
		return 1
	}
	return 0
}

// amount says a value with its unit in words: "12 degrees".
func (w *reportWords) amount(v float64, decimals int, unit string) string {
	n := w.figure(v, decimals)
	u := w.Units[shownUnit(unit)]
	if n == "1" {
		return filled(u.One, "n", n)
	}
	return filled(u.Many, "n", n)
}

// short says it with a sign: "12°".
func (w *reportWords) short(v float64, decimals int, unit string) string {
	return filled(w.Units[shownUnit(unit)].Short, "n", w.figure(v, decimals))
}

// errorWords says how far off a value may be either way, rounded up: "about 3
// degrees either way".
func (w *reportWords) errorWords(errorShown float64, decimals int, unit string) string {
	step := math.Pow(10, -float64(decimals))
	if errorShown < 0.05*step || errorShown < step/2 && decimals == 0 {
		return filled(w.ErrorSmall, "n", w.amount(step, decimals, unit))
	}
	return filled(w.Error, "n", w.amount(math.Max(step, math.Ceil(errorShown/step-0.2)*step), decimals, unit))
}

// place names a place that hurts, with its side.
func (w *reportWords) place(p PagePain, r PageRegion) string {
	name := w.Places[p.Region]
	if name == "" {
		return capital(p.inWords(r))
	}
	if side := w.Sides[p.Side]; side != "" {
		name += ", " + side
	}
	return name
}

// answer is what was answered, in the language where the page offered it.
func (w *reportWords) answer(text string) string { return cmp.Or(w.Answers[text], text) }

// dose says how much of an exercise.
func (w *reportWords) dose(d programme.Dose) string {
	s := fmt.Sprintf("%d × %d", d.Sets, d.Reps)
	if d.Seconds > 0 {
		s = fmt.Sprintf("%d × %d s", d.Sets, d.Seconds)
	}
	if d.HoldS > 0 {
		s += ", " + filled(w.Dose.Hold, "n", fmt.Sprint(d.HoldS))
	}
	if d.Pace != "" {
		s += ", " + filled(w.Dose.Pace, "p", d.Pace)
	}
	if d.RestS > 0 && d.Sets > 1 {
		s += ", " + filled(w.Dose.Rest, "n", fmt.Sprint(d.RestS))
	}
	return s
}

// listed joins words with commas and a last "and".
func (w *reportWords) listed(list []string) string {
	if len(list) < 2 {
		return strings.Join(list, "")
	}
	return strings.Join(list[:len(list)-1], ", ") + " " + w.And + " " + list[len(list)-1]
}
