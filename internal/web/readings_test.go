package web

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"

	bodies "gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/measure"
	"gaitwright/internal/app"
)

// post sends a request of readings.
func post(t *testing.T, src Source, path, text string, change func(*http.Request)) *http.Response {
	t.Helper()
	r := httptest.NewRequest(http.MethodPost, "http://localhost:8787"+path, strings.NewReader(text))
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	if change != nil {
		change(r)
	}
	w := httptest.NewRecorder()
	New(src, Options{Log: quiet()}).Handler().ServeHTTP(w, r)
	return w.Result()
}

// compared posts readings and decodes the answer.
func compared(t *testing.T, src Source, ask app.PageReadings) app.PageReliability {
	t.Helper()
	text, err := json.Marshal(ask)
	if err != nil {
		t.Fatal(err)
	}
	res := post(t, src, "/api/reliability", string(text), nil)
	b := body(t, res)
	var out app.PageReliability
	if err := json.Unmarshal(b, &out); err != nil || res.StatusCode != 200 {
		t.Fatalf("status %d, %v: %.300s", res.StatusCode, err, b)
	}
	return out
}

// studioAt opens a studio in an empty folder.
func studioAt(t *testing.T) *app.Studio {
	t.Helper()
	st, err := app.OpenStudio(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	return st
}

// inventedRepeats is a real studio of 21 invented runners, each filmed at two
// visits: contact time is repeated with an SD of 6 ms, knee flexion with 1.5
// degrees and 1 degree more at the second visit. One further runner came once,
// and one result has no name.
func inventedRepeats(t *testing.T) *app.Studio {
	st := studioAt(t)
	random := rand.New(rand.NewPCG(3, 11))
	keep := func(name string, at time.Time, contact, knee [2]float64) {
		c := &app.Clip{Path: filepath.Join("films", at.Format("0102-1504.mp4")), Model: "full", Info: clip.Info{View: clip.LeftSide, WidthPX: 1280, HeightPX: 720, FrameRateHz: 240, BeltSpeedMPS: 3.1}}
		for i, side := range []bodies.Side{bodies.Left, bodies.Right} {
			c.Measures = append(c.Measures,
				measure.Measure{Name: "contact_time", Side: side, Unit: "s", Value: contact[i], SD: 0.006, SEM: 0.007, MDC95: 0.019, Strides: 20, Origin: "pose model"},
				measure.Measure{Name: "knee_flexion_at_contact", Side: side, Unit: "deg", Value: knee[i], SD: 2, SEM: 2.5, MDC95: 7, Strides: 20, Origin: "pose model"})
		}
		s := &app.Session{Created: at, Runner: app.RunnerFacts{Name: name}, Clips: []*app.Clip{c}, Version: "test"}
		if err := st.Save(s); err != nil {
			t.Fatal(err)
		}
	}
	day := time.Date(2026, 10, 5, 9, 0, 0, 0, time.UTC)
	first := []string{"Ada", "Bo", "Cem", "Dora", "Emil", "Fay", "Gus", "Hana", "Ida", "Jun", "Kit", "Lea", "Max", "Noa", "Oda", "Pia", "Rui", "Sol", "Tea", "Uma", "Vic"}
	for i, name := range first {
		contact, knee := 0.245+0.02*random.NormFloat64(), 16+3*random.NormFloat64()
		for visit := range 2 {
			r := random.NormFloat64
			more := float64(visit)
			keep(name+" Invented", day.Add(time.Duration(i*45)*time.Minute).AddDate(0, 0, 7*visit), [2]float64{contact + 0.006*r(), contact + 0.004 + 0.006*r()}, [2]float64{knee + more + 1.5*r(), knee + more + 1 + 1.5*r()})
		}
	}
	keep("Once Invented", day.AddDate(0, 0, 20), [2]float64{0.25, 0.25}, [2]float64{15, 15})
	keep("", day.AddDate(0, 0, 21), [2]float64{0.25, 0.25}, [2]float64{15, 15})
	return st
}

// agreementTable reads a table of the shared open data, or skips the test.
func agreementTable(t *testing.T, name string) string {
	t.Helper()
	dir := os.Getenv("GAITWRIGHT_SHARED")
	if dir == "" {
		dir = filepath.Join("..", "..", "..", "shared")
	}
	b, err := os.ReadFile(filepath.Join(dir, "data", "agreement", name))
	if err != nil {
		t.Skip("the shared data are absent: ", err)
	}
	return string(b)
}

func near(t *testing.T, what string, got *float64, want, within float64) {
	t.Helper()
	if got == nil || math.Abs(*got-want) > within {
		t.Errorf("%s is %v, want %v within %v", what, value(got), want, within)
	}
}

func value(v *float64) any {
	if v == nil {
		return "nothing"
	}
	return *v
}

// The six-by-four table of Shrout & Fleiss (1979, Psychol Bull 86:420-428): the
// six coefficients they print, and all intervals as computed by others from the
// same table.
func TestPageShowsThePublishedCorrelations(t *testing.T) {
	out := compared(t, &invented{}, app.PageReadings{Table: agreementTable(t, "shrout_fleiss_1979.csv"), Name: "ratings.csv"})
	if len(out.Series) != 1 || len(out.Raters) != 4 {
		t.Fatalf("%d series, %d raters; want 1 and 4", len(out.Series), len(out.Raters))
	}
	s := out.Series[0]
	rows, err := csv.NewReader(strings.NewReader(agreementTable(t, "shrout_fleiss_1979_ICC_reference.csv"))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	printed := []float64{.17, .29, .71, .44, .62, .91}
	for i, c := range s.ICC {
		near(t, c.Form, c.Value, printed[i], 0.005)
		for j, got := range []*float64{c.Value, c.Low, c.High} {
			want, err := strconv.ParseFloat(rows[i+1][[]int{1, 6, 7}[j]], 64)
			if err != nil {
				t.Fatal(err)
			}
			near(t, fmt.Sprint(c.Form, []string{"", " low", " high"}[j]), got, want, 1e-7)
		}
	}
	// SEM = √WMS, with the published mean square 6.26 (6.263889).
	near(t, "SEM", s.SEM, math.Sqrt(6.263889), 1e-6)
	near(t, "MDC95", s.MDC95, 1.96*math.Sqrt2*math.Sqrt(6.263889), 1e-5)
	if len(s.Subjects) != 6 || s.DF != 18 || s.Enough || len(s.Pairs) != 6 || len(s.Plots) != 6 || len(s.Plots[0].Means) != 6 {
		t.Errorf("%d subjects, df %d, enough %v, %d pairs, %d plots", len(s.Subjects), s.DF, s.Enough, len(s.Pairs), len(s.Plots))
	}
}

// The seventeen pairs of Bland & Altman (1986, Lancet 327:307-310) with the
// figures they print: bias -2.1, SD 38.8, limits -79.7 and 75.5 with intervals
// -22.0 to 17.8, -114.3 to -45.1 and 40.9 to 110.1 (all by 2 SD; 1.96 SD here).
func TestPageShowsThePublishedLimits(t *testing.T) {
	table := agreementTable(t, "bland_altman_1986_pefr.csv")
	out := compared(t, &invented{}, app.PageReadings{Table: table, Name: "flow.csv", Raters: []string{"WrightFirst", "MiniWrightFirst"}})
	if len(out.Series) != 1 || len(out.Series[0].Pairs) != 1 || len(out.Raters) != 4 {
		t.Fatalf("%+v", out)
	}
	p := out.Series[0].Pairs[0]
	near(t, "bias", p.Bias, -2.1, 0.05)
	near(t, "SD", p.SD, 38.8, 0.05)
	near(t, "bias, low", p.BiasCI[0], -22.0, 0.1)
	near(t, "bias, high", p.BiasCI[1], 17.8, 0.1)
	near(t, "lower limit", p.Lower, -2.117647-1.96*38.765130, 1e-4)
	near(t, "upper limit", p.Upper, -2.117647+1.96*38.765130, 1e-4)
	// With 2 SD in place of 1.96 the limits are those printed.
	near(t, "limit printed", ref(*p.Upper+(2-1.96)**p.SD), 75.5, 0.1)
	plot := out.Series[0].Plots[0]
	sum := 0.0
	for i := range plot.Means {
		sum += *plot.Differences[i]
	}
	if len(plot.Means) != 17 {
		t.Fatalf("%d points, want 17", len(plot.Means))
	}
	near(t, "mean of the points", ref(sum/17), *p.Bias, 1e-6)
	near(t, "first mean", plot.Means[0], (494+512)/2.0, 1e-9)
	// Repeatability: 43.2 for the large meter, 56.4 for the mini one, printed as
	// twice the SD of the differences about a mean of nought.
	for raters, want := range map[string]float64{"WrightFirst,WrightSecond": 43.2, "MiniWrightFirst,MiniWrightSecond": 56.4} {
		out := compared(t, &invented{}, app.PageReadings{Table: table, Raters: strings.Split(raters, ",")})
		near(t, "repeatability of "+raters, ref(*out.Series[0].MDC95*2/1.96), want, 0.1)
	}
}

func TestReadingsAreRefused(t *testing.T) {
	src := inventedRepeats(t)
	list, err := src.Results()
	if err != nil {
		t.Fatal(err)
	}
	nameless, once := list[0].ID, list[1].ID
	asText := func(ask app.PageReadings) string {
		b, err := json.Marshal(ask)
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	many := make([]string, 201)
	for _, tt := range []struct {
		name, path, text string
		change           func(*http.Request)
		status           int
		says             string
	}{
		{"another site", "/api/reliability", "{}", func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") }, 403, ""},
		{"another site of the same machine", "/api/reliability/adopt", "{}", func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "same-site") }, 403, ""},
		{"another origin", "/api/reliability/adopt", "{}", func(r *http.Request) {
			r.Header.Del("Sec-Fetch-Site")
			r.Header.Set("Origin", "https://evil.example")
		}, 403, ""},
		{"a form", "/api/reliability/adopt", "table=1", func(r *http.Request) { r.Header.Set("Content-Type", "application/x-www-form-urlencoded") }, 415, "application/json"},
		{"a plain text", "/api/reliability/adopt", "{}", func(r *http.Request) { r.Header.Set("Content-Type", "text/plain") }, 415, "application/json"},
		{"a question", "/api/reliability", "", func(r *http.Request) { r.Method = http.MethodGet }, 404, "no such page"},
		{"no JSON", "/api/reliability", "{", nil, 400, "cannot be understood"},
		{"an unknown field", "/api/reliability", `{"file":"/etc/passwd"}`, nil, 400, "unknown field"},
		{"nothing", "/api/reliability", "{}", nil, 422, "empty"},
		{"a large table", "/api/reliability", asText(app.PageReadings{Table: strings.Repeat("1,2\n", 2<<20), Name: "big.csv"}), nil, 422, "big.csv: the table is larger than 5 MB"},
		{"a huge table", "/api/reliability", asText(app.PageReadings{Table: strings.Repeat("1,2\n", 4<<20)}), nil, 413, "5 MB"},
		{"words in a table", "/api/reliability", asText(app.PageReadings{Table: "a,b\n1,x\n", Name: "t.csv"}), nil, 422, `t.csv: subject 1, column b: "x" is no number`},
		{"a table of many columns", "/api/reliability", asText(app.PageReadings{Table: strings.Repeat("1,", 500000) + "1"}), nil, 422, "are the most"},
		{"a table of many rows", "/api/reliability", asText(app.PageReadings{Table: "a,b\n" + strings.Repeat("1,2\n", 1e6)}), nil, 422, "are the most"},
		{"a long table of strangers", "/api/reliability", asText(app.PageReadings{Table: strangers()}), nil, 422, "more than"},
		{"both", "/api/reliability", asText(app.PageReadings{Table: "a,b", Results: []string{once}}), nil, 422, "together"},
		{"a result that is not there", "/api/reliability", asText(app.PageReadings{Results: []string{"20200101-000000"}}), nil, 422, "no result"},
		{"a path", "/api/reliability", asText(app.PageReadings{Results: []string{"../../etc"}}), nil, 422, "not the name"},
		{"a result without a name", "/api/reliability", asText(app.PageReadings{Results: []string{nameless}}), nil, 422, "whose"},
		{"a result twice", "/api/reliability", asText(app.PageReadings{Results: []string{once, once}}), nil, 422, "twice"},
		{"one result", "/api/reliability", asText(app.PageReadings{Results: []string{once}}), nil, 422, "measured once"},
		{"many results", "/api/reliability", asText(app.PageReadings{Results: many}), nil, 422, "200 are the most"},
		{"an unknown column", "/api/reliability", asText(app.PageReadings{Table: "a,b\n1,2\n3,4\n", Raters: []string{"a", "c"}}), nil, 422, "The raters are a, b"},
		{"adopting without saying of what", "/api/reliability/adopt", asText(app.PageReadings{Table: "a,b\n1,2\n3,4\n", Measure: "contact_time"}), nil, 422, "anew"},
		{"adopting one film", "/api/reliability/adopt", asText(app.PageReadings{Table: "a,b\n1,2\n3,4\n", Measure: "contact_time", Repeat: app.Redigitised}), nil, 422, "one and the same film"},
		{"adopting too few", "/api/reliability/adopt", asText(app.PageReadings{Table: "a,b\n1,2\n3,4\n", Measure: "contact_time", Repeat: app.Refilmed}), nil, 422, "10 and 20 are the least"},
	} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		res := post(t, src, tt.path, tt.text, tt.change)
		b := string(body(t, res))
		var said struct{ Error string }
		if tt.says != "" && json.Unmarshal([]byte(b), &said) != nil {
			t.Errorf("%s: %.200q is no sentence", tt.name, b)
		}
		if res.StatusCode != tt.status || !strings.Contains(said.Error, tt.says) {
			t.Errorf("%s: %d %.300q, want %d %q", tt.name, res.StatusCode, b, tt.status, tt.says)
		}
		runtime.ReadMemStats(&after)
		// What is refused is not worked out first: a square of what was sent would take
		// gigabytes.
		if took, most := after.TotalAlloc-before.TotalAlloc, uint64(64<<20+128*len(tt.text)); took > most {
			t.Errorf("%s: %d bytes took %d MB of memory in all, more than %d", tt.name, len(tt.text), took>>20, most>>20)
		}
	}
	if own, err := src.OwnErrors(); own != nil || err != nil {
		t.Errorf("something was kept: %+v, %v", own, err)
	}
}

// strangers is a long table in which no subject and no rater comes twice: held as
// a square it would fill the memory.
func strangers() string {
	var b strings.Builder
	b.WriteString("subject,rater,value\n")
	for i := range 200000 {
		fmt.Fprintf(&b, "s%d,r%d,1\n", i, i)
	}
	return b.String()
}

// Numbers at the edge of what a number can be are answered, as null where a
// figure is not defined.
func TestExtremeReadings(t *testing.T) {
	for _, table := range []string{"a,b\n1e308,-1e308\n-1e308,1e308\n1e308,1e308\n", "a,b\n1e305,2e305\n3e305,1e305\n2e305,2e305\n", "a,b\n5,5\n5,5\n5,5\n", "a,b\n1e-320,2e-320\n3e-320,1e-320\n2e-320,1e-320\n"} {
		ask, err := json.Marshal(app.PageReadings{Table: table})
		if err != nil {
			t.Fatal(err)
		}
		if res := post(t, &invented{}, "/api/reliability", string(ask), nil); res.StatusCode != 200 && res.StatusCode != 422 {
			t.Errorf("%q: status %d %s", table, res.StatusCode, body(t, res))
		}
	}
}

// Kept results are put together by runner, and their errors adopted on request.
func TestKeptResultsAreComparedAndAdopted(t *testing.T) {
	src := inventedRepeats(t)
	list, err := src.Results()
	if err != nil {
		t.Fatal(err)
	}
	ask := app.PageReadings{Repeat: app.Refilmed}
	for i := len(list) - 1; i >= 0; i-- { // oldest first
		if strings.HasSuffix(list[i].Runner, " Invented") && list[i].Runner != "Once Invented" {
			ask.Results = append(ask.Results, list[i].ID)
		}
	}
	out := compared(t, src, ask)
	if len(out.Series) != 4 || len(out.Adoptable) != 2 || len(out.NotAdopted) != 0 || out.SameFilm != "" {
		t.Fatalf("%d series, adoptable %+v, not %v, same film %q", len(out.Series), out.Adoptable, out.NotAdopted, out.SameFilm)
	}
	s := out.Series[0]
	if s.Measure != "contact_time" || s.Title != "Contact time, left" || s.Unit != "s" || !s.Enough || s.DF != 21 {
		t.Errorf("%s %q %q, enough %v, df %d", s.Measure, s.Title, s.Unit, s.Enough, s.DF)
	}
	// Invented with 6 ms: the interval of the SEM must hold it.
	if *s.SEMLow > 0.006 || *s.SEMHigh < 0.006 {
		t.Errorf("SEM %v to %v does not hold 0.006", *s.SEMLow, *s.SEMHigh)
	}
	near(t, "MDC95, low", s.MDC95Low, 1.96*math.Sqrt2**s.SEMLow, 1e-6)

	// Exchanging the order of one runner's results turns his difference around.
	turned := ask
	turned.Results = append([]string{}, ask.Results...)
	turned.Results[0], turned.Results[21] = turned.Results[21], turned.Results[0]
	other := compared(t, src, turned)
	near(t, "difference the other way", other.Series[0].Plots[0].Differences[0], -*s.Plots[0].Differences[0], 1e-9)

	if own, err := src.OwnErrors(); own != nil || err != nil {
		t.Fatalf("comparing kept something: %+v, %v", own, err)
	}
	text, err := json.Marshal(ask)
	if err != nil {
		t.Fatal(err)
	}
	res := post(t, src, "/api/reliability/adopt", string(text), nil)
	var adopted []app.PageOwnError
	if b := body(t, res); json.Unmarshal(b, &adopted) != nil || len(adopted) != 2 {
		t.Fatalf("adopted: %s", b)
	}
	own, err := src.OwnErrors()
	if err != nil {
		t.Fatal(err)
	}
	e, ok := own.Of("contact_time", "pose model")
	if !ok || e.Runners != 21 || math.Abs(e.SEM-*adopted[0].SEM) > 1e-6 {
		t.Errorf("kept %+v, answered %v", e, *adopted[0].SEM)
	}
}
