package app

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// What the page of all runners says of the invented year is what was put into it: the
// hip programme's effect lies within the interval, runners it helped are told to have
// changed and no others, and those who stayed away are counted. A runner of the step
// rate's story takes quicker steps by what was put in. None of it needs pictures.
func TestInventedYearTellsTheTruth(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "invented")
	st, err := OpenStudio(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	// Every hip runner, one of the step rate's and the one who withdraws.
	made, err := st.invent(context.Background(), false, func(i int, story string) bool {
		return story == "hip" || i == hipRunners || i == hipRunners+stepRunners+fineRunners-1
	}, NoProgress{})
	if err != nil {
		t.Fatal(err)
	}
	if p, err := st.Settings(context.Background()); err != nil || !p.Invented || !strings.Contains(p.Studio, "invented") {
		t.Errorf("it is not marked: %v", err)
	}
	if note, err := os.ReadFile(filepath.Join(dir, inventedNote)); err != nil || !strings.Contains(string(note), "invented") {
		t.Errorf("nothing in its folder says that it is invented: %v", err)
	}
	p, err := st.Together(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	given, back, away, helped, agree := 0, 0, 0, 0, 0
	var effects []float64
	for _, r := range made.Runners {
		if !r.Research {
			continue
		}
		agree++
		if r.Story != "hip" {
			continue
		}
		given++
		switch {
		case len(r.Visits) > 1:
			back++
			effects = append(effects, r.DropDeg[1]-r.DropDeg[0])
			if r.Helped {
				helped++
			}
		case st.now().Sub(r.Days[0]).Hours() > 24*7*14:
			away++
		}
	}
	if p.Runners != agree || p.LeftOut != len(made.Runners)-agree {
		t.Errorf("%d runners and %d left out, of %d who agree", p.Runners, p.LeftOut, agree)
	}
	if len(p.Findings) == 0 || p.Findings[0].Name != "hip_lets_go" || p.Findings[0].K != given {
		t.Fatalf("seen most: %+v, in %d of them", p.Findings, given)
	}
	hip := p.Programmes[0]
	if hip.Given != given || hip.Returned != back || hip.DropOut.K != away || away != hipAway {
		t.Errorf("given %d, back %d, away %d; it says %+v", given, back, away, hip)
	}
	mean := 0.0
	for _, e := range effects {
		mean += e / float64(len(effects))
	}
	seen := false
	for _, o := range hip.Outcomes {
		if o.Measure != "pelvic_drop" {
			continue
		}
		seen = true
		if o.As != helped || o.Within != back-helped || o.Against != 0 {
			t.Errorf("%d of %d were helped; it says %d as wanted, %d no real change, %d the other way", helped, back, o.As, o.Within, o.Against)
		}
		if o.Low == nil || o.High == nil || !(mean >= *o.Low && mean <= *o.High) {
			t.Errorf("the effect put in is %.2f degrees; it says %.2f (%.2f to %.2f)", mean, *o.Change, *o.Low, *o.High)
		}
	}
	if !seen {
		t.Error("nothing is said of the pelvic drop")
	}
	// Of each runner who was helped the return says that it changed, and what was put in
	// lies within the 95 % interval, save perhaps for one.
	told, outside := 0, 0
	for _, r := range made.Runners {
		if !r.Helped || len(r.Visits) < 2 {
			continue
		}
		name, side, want := "step_rate", "both", r.StepRate[1]-r.StepRate[0]
		if r.Story == "hip" {
			name, side, want = "pelvic_drop", r.Side.String(), r.DropDeg[1]-r.DropDeg[0]
		}
		ret, err := st.Return(context.Background(), r.Visits[1], r.Visits[0])
		if err != nil {
			t.Fatal(err)
		}
		found := false
		for _, c := range ret.Changes {
			if c.Name != name || c.Side != side || c.Verdict == "" {
				continue
			}
			found = true
			told++
			if c.Verdict != "changed" || !c.Aim || c.Better != "better" {
				t.Errorf("%s, %s: %.2f put in, and it is called %q, aim %v, %q", r.Name, name, want, c.Verdict, c.Aim, c.Better)
			} else if want < *c.Low || want > *c.High {
				outside++
				t.Logf("%s, %s: %.2f put in, it says %.2f to %.2f", r.Name, name, want, *c.Low, *c.High)
			}
		}
		if !found {
			t.Errorf("%s: the return says nothing of %s, %s", r.Name, name, side)
		}
	}
	if told < 6 || outside > 1 {
		t.Errorf("of %d what was put in lies outside in %d", told, outside)
	}
}

// An invented studio is never put where anything else is, is opened again as it is, and
// is made anew where it was left half made or that is asked for.
func TestInventedStudioKeepsApart(t *testing.T) {
	ctx := context.Background()
	theirs := t.TempDir()
	if err := os.WriteFile(filepath.Join(theirs, "diary.txt"), []byte("x"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, _, err := OpenInvented(ctx, theirs, false, true, NoProgress{}); KindOf(err) != KindUsage {
		t.Errorf("in a folder that holds something: %v", err)
	}
	own, err := OpenStudio(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer own.Close()
	if _, err := own.NewRunner(ctx, "", "Somebody real"); err != nil {
		t.Fatal(err)
	}
	if _, _, err := OpenInvented(ctx, own.Dir(), false, true, NoProgress{}); KindOf(err) != KindUsage {
		t.Errorf("in one's own studio: %v", err)
	}
	if _, err := own.Invent(ctx, false, NoProgress{}); KindOf(err) != KindUsage {
		t.Errorf("among one's own runners: %v", err)
	}
	if p, err := own.Settings(ctx); p.Invented || err != nil {
		t.Errorf("one's own studio is called invented: %v", err)
	}
	// The note alone does not make a studio an invented one.
	if err := os.WriteFile(filepath.Join(own.Dir(), inventedNote), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, _, err := OpenInvented(ctx, own.Dir(), false, true, NoProgress{}); KindOf(err) != KindUsage {
		t.Errorf("in one's own studio with the note in it: %v", err)
	}
	if rows, err := own.Runners(ctx, RunnerQuery{}); err != nil || len(rows.Rows) != 1 {
		t.Errorf("one's own runners: %v, %v", rows.Rows, err)
	}
}
