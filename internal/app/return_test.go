package app_test

import (
	"context"
	"encoding/json"
	"flag"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"gaitwright/internal/app"
)

var returnJSON = flag.String("return-json", "", "with -run TestReturnOfTheDemonstration: write what the page gets to this file")

func find(t *testing.T, p app.PageReturn, name, side string) app.PageReturnChange {
	t.Helper()
	for _, c := range p.Changes {
		if c.Name == name && c.Side == side {
			return c
		}
	}
	t.Fatalf("%s of %s is not among the changes", name, side)
	return app.PageReturnChange{}
}

// The invented runner who comes back changed in known ways: what changed beyond the
// error is called so, what did not is not, and the true change lies in the interval.
func TestReturnOfTheDemonstration(t *testing.T) {
	st := openStudio(t)
	ctx := context.Background()
	begun := time.Now()
	id, err := st.DemoReturn(ctx)
	if err != nil {
		t.Fatal(err)
	}
	made := time.Since(begun)
	begun = time.Now()
	p, err := st.Return(ctx, id, "")
	if err != nil {
		t.Fatal(err)
	}
	first := time.Since(begun)
	begun = time.Now()
	if p, err = st.Return(ctx, id, ""); err != nil {
		t.Fatal(err)
	}
	t.Logf("made in %v, compared in %v and %v again", made, first, time.Since(begun))
	if *returnJSON != "" {
		b, _ := json.MarshalIndent(p, "", " ")
		if err := os.WriteFile(*returnJSON, b, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if again, err := st.DemoReturn(ctx); err != nil || again != id {
		t.Errorf("a second time %q, %v", again, err)
	}

	t.Run("changes", func(t *testing.T) {
		for _, c := range []struct {
			name, side string
			truth      float64 // what was put in
			verdict    string
			better     string
		}{
			{"step_rate", "both", 8, "changed", "better"},
			{"overstride", "left", -0.055, "changed", "better"},
			{"overstride", "right", -0.055, "changed", "better"},
			{"pelvic_drop", "right", 0, "no real change", ""},
			{"pelvic_drop", "left", 0, "no real change", ""},
			{"knee_frontal_angle", "right", 0, "no real change", ""},
			{"trunk_lean", "both", 0, "no real change", ""},
			{"hip_abduction_strength", "right", 0, "changed", "better"},
			{"single_leg_bridge", "right", 0, "no real change", ""},
		} {
			x := find(t, p, c.name, c.side)
			if x.Verdict != c.verdict || x.Better != c.better {
				t.Errorf("%s %s: %s %s, want %s %s", c.name, c.side, x.Verdict, x.Better, c.verdict, c.better)
			}
			if !x.Test && (*x.Low > c.truth || *x.High < c.truth) {
				t.Errorf("%s %s: %.3f to %.3f does not hold the true %.3f", c.name, c.side, *x.Low, *x.High, c.truth)
			}
			if x.MDC.From == "" || x.MDC95 == nil || x.MDC.Source == "" {
				t.Errorf("%s %s: MDC %v of %+v", c.name, c.side, x.MDC95, x.MDC)
			}
		}
		if !find(t, p, "pelvic_drop", "right").Aim || !find(t, p, "step_rate", "both").Aim || find(t, p, "elbow_angle", "left").Aim {
			t.Error("what the findings rest on is not marked as such")
		}
		l := p.Looked
		if l.Compared < 80 || l.Stand > l.Called || math.Abs(l.ByChance-0.05*float64(l.Compared)) > 0.01 || l.Visits != 3 {
			t.Errorf("%+v", l)
		}
	})

	t.Run("steps", func(t *testing.T) {
		s := p.Steps
		if s == nil || s.Film == nil || s.Film.Verdict != "quicker steps" || s.Kept != "kept" || s.Click == nil || *s.Click.Change < *s.Film.Change || *s.Target != 165 || s.Runs != nil {
			t.Fatalf("%+v", s)
		}
		for _, want := range []string{"step_rate", "step_length", "overstride", "knee_flexion_at_contact", "vertical_stiffness", "peak_vertical_force"} {
			if !slices.ContainsFunc(s.Changes, func(i int) bool { return p.Changes[i].Name == want }) {
				t.Errorf("%s is missing", want)
			}
		}
		// The film without the click is the one that counts.
		if c := find(t, p, "step_rate", "both"); c.AfterClip.Click != "without" || math.Abs(*c.After-165) > 1 {
			t.Errorf("%+v", c.AfterClip)
		}
	})

	t.Run("course and work", func(t *testing.T) {
		if len(p.Trends) < 10 || p.Trends[0].Name == "" || !p.Trends[0].Aim {
			t.Fatalf("%d trends", len(p.Trends))
		}
		i := slices.IndexFunc(p.Trends, func(x app.PageTrend) bool { return x.Name == "step_rate" })
		if x := p.Trends[i]; x.Verdict != "changed" || len(x.Points) != 3 || math.Abs(*x.PerWeek-8.0/11) > 0.15 {
			t.Errorf("%+v", x)
		}
		kinds := map[string]bool{}
		for _, f := range p.Phases {
			kinds[f.Kind] = true
		}
		if !kinds["learn"] || !kinds["build"] || !kinds["load"] || !kinds["ramp"] {
			t.Errorf("%+v", p.Phases)
		}
		w := p.Work
		if w.LogWeeks != 7 || w.PlanWeeks != 8 || *w.Share < 0.7 || *w.Share > 0.95 || *w.PainWorst != 3 || len(w.Pain) != 1 || *w.Pain[0].Before != 4 || *w.Pain[0].After != 0 {
			t.Errorf("%+v", w)
		}
		if len(p.Curves) < 15 || len(p.Pairs) != 3 || p.Pairs[2].Said[0].Code != "click" {
			t.Errorf("%d curves, %+v", len(p.Curves), p.Pairs)
		}
	})

	t.Run("blocks and decisions", func(t *testing.T) {
		if len(p.Blocks) < 3 {
			t.Fatalf("%+v", p.Blocks)
		}
		for _, b := range p.Blocks {
			if b.Do == "" || b.Why == "" || len(b.Changes) == 0 || b.Share == nil || b.Decided != "" {
				t.Errorf("%+v", b)
			}
			if b.Block == "strengthen" && (b.Do != "progress" || b.Code != "better") {
				t.Errorf("strengthen: %+v", b)
			}
		}
		choice := app.PageReturnChoice{Against: p.Against, Blocks: map[string]app.PageReturnDecision{"strengthen": {Do: "hold", Note: "One more week first."}}, Note: "She is glad."}
		kept, err := st.ChangeReturn(ctx, "coach", id, choice)
		if err != nil {
			t.Fatal(err)
		}
		i := slices.IndexFunc(kept.Blocks, func(b app.PageReturnBlock) bool { return b.Block == "strengthen" })
		if b := kept.Blocks[i]; b.Decided != "hold" || b.Note != "One more week first." || b.Do != "progress" || kept.Note != "She is glad." || kept.Version != 1 {
			t.Errorf("%+v, version %d", b, kept.Version)
		}
		if _, err := st.ChangeReturn(ctx, "coach", id, choice); app.KindOf(err) != app.KindStale {
			// The same content with an older version is refused too.
			t.Errorf("stale: %v", err)
		}
		v, err := st.Visit(ctx, id)
		if err != nil || v.Undo != "Return: strengthen: hold" {
			t.Errorf("undo %q, %v", v.Undo, err)
		}
		if i := slices.IndexFunc(v.Stations, func(s app.PageStation) bool { return s.Name == "return" }); v.Stations[i].State != "done" {
			t.Errorf("%+v", v.Stations[i])
		}
		if _, err := st.Undo(ctx, "coach", id); err != nil {
			t.Fatal(err)
		}
		if p, err := st.Return(ctx, id, ""); err != nil || p.Version != 0 || p.Note != "" {
			t.Errorf("after undo: %d %q, %v", p.Version, p.Note, err)
		}
		for _, bad := range []app.PageReturnChoice{
			{Blocks: map[string]app.PageReturnDecision{"strengthen": {Do: "double"}}},
			{Blocks: map[string]app.PageReturnDecision{"run": {Do: "hold"}}},
			{Note: strings.Repeat("x", 5000)},
			{Against: "01M89BXZA2098N8N033N78YSYV"},
		} {
			if _, err := st.ChangeReturn(ctx, "coach", id, bad); err == nil {
				t.Errorf("%.60v was kept", bad)
			}
		}
	})

	t.Run("another visit, the first, none", func(t *testing.T) {
		q, err := st.Return(ctx, id, p.Visits[1].ID)
		if err != nil || q.Against != p.Visits[1].ID || len(q.Blocks) != 0 || q.Steps == nil {
			t.Fatalf("%+v, %v", q.Against, err)
		}
		if c := find(t, q, "step_rate", "both"); math.Abs(*c.Difference-4) > 1 {
			t.Errorf("%+v", *c.Difference)
		}
		first, err := st.Return(ctx, p.Visits[0].ID, "")
		if err != nil || first.None != "first" || first.Changes == nil || first.Blocks == nil {
			t.Errorf("%+v, %v", first.None, err)
		}
		if _, err := st.Return(ctx, id, id); app.KindOf(err) != app.KindNotFound {
			t.Errorf("against itself: %v", err)
		}
		if _, err := st.Return(ctx, "01M89BXZA2098N8N033N78YSYV", ""); app.KindOf(err) != app.KindNotFound {
			t.Errorf("no visit: %v", err)
		}
	})

	t.Run("told as text", func(t *testing.T) {
		text, err := st.Retest(ctx, id, "", false)
		if err != nil {
			t.Fatal(err)
		}
		for _, want := range []string{"2026-03-14 against 2025-12-27", "Changed, and meant to\n  Step rate", "Meant to change and not really changed", "Pelvic drop, right", "Quicker steps: +8", "Without the click: kept, ", "Over the visits", "Pain, knee, front, right: 4 → 0 of 10", " weeks came back", "chance alone would call about 4.8", "Strengthen, "} {
			if !strings.Contains(text, want) {
				t.Errorf("%q is missing in\n%s", want, text)
			}
		}
		asJSON, err := st.Retest(ctx, id, "", true)
		page, _ := json.Marshal(p)
		var a, b any
		if json.Unmarshal([]byte(asJSON), &a) != nil || json.Unmarshal(page, &b) != nil || err != nil {
			t.Fatal(err)
		}
		x, _ := json.Marshal(a)
		y, _ := json.Marshal(b)
		if string(x) != string(y) {
			t.Error("the command tells something else than the page")
		}
		two, err := st.Retest(ctx, p.Visits[2].Result, p.Visits[0].Result, false)
		if err != nil || !strings.Contains(two, "Step rate") || !strings.Contains(two, "Quicker steps: +8") {
			t.Errorf("two results: %v\n%s", err, two)
		}
		for _, bad := range [][2]string{{"nonsense", ""}, {id, p.Visits[0].Result}, {p.Visits[2].Result, ""}, {"../x", "../y"}} {
			if _, err := st.Retest(ctx, bad[0], bad[1], false); err == nil {
				t.Errorf("%v was compared", bad)
			}
		}
	})

	// Last, for it changes what the studio counts with.
	t.Run("the studio's own error", func(t *testing.T) {
		own := "errors:\n- measure: pelvic_drop\n  unit: deg\n  sem: 0.1\n  mdc95: 0.277\n  runners: 12\n  df: 22\n  date: '2026-03-01'\n  from: days.csv\n"
		if err := os.WriteFile(filepath.Join(st.Dir(), "own-errors.yaml"), []byte(own), 0o644); err != nil {
			t.Fatal(err)
		}
		q, err := st.Return(ctx, id, "")
		if err != nil {
			t.Fatal(err)
		}
		was, is := find(t, p, "pelvic_drop", "right"), find(t, q, "pelvic_drop", "right")
		if is.MDC.From != "studio" || is.MDC.N != 12 || is.MDC.DF != 22 || *is.MDC95 >= *was.MDC95 {
			t.Errorf("%+v, %.3f was %.3f", is.MDC, *is.MDC95, *was.MDC95)
		}
		if find(t, q, "trunk_lean", "both").MDC.From != "literature" {
			t.Error("another measure took it too")
		}
	})
}
