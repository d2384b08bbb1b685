package sqlite

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"gaitwright/internal/store"
)

// The large studio: invented runners and visits, as many as a studio of thirty
// years might have.
const (
	manyRunners = 5000
	manyVisits  = 50000
)

var (
	forenames = strings.Fields("Ann Åsa Łukasz Bea Chloë José Zoë Søren Mária Ngọc Aiko 太郎 花子 Ahmed Fatima Olga Иван Ελένη Siân Joao Renée Karl Pia Tom Uwe Vera Will Xu Yara Zeno")
	family    = strings.Fields("Smith Ñuñez Żółć O’Brien García Müller 山田 鈴木 Ivanova Παππάς Kovács Nguyễn Haddad Lindqvist Sørensen Dvořák Rossi Dubois Jansen Silva Öztürk Popescu Tóth Novák Larsen Moreau Weiß Costa Ricci Berg")
	findings  = strings.Split("overstride,pelvic drop,late heel rise,crossover,low step rate,heel strike,trunk lean,knee valgus,asymmetry,stiff ankle,knee pain,shin pain,achilles pain,low back pain,plantar pain", ",")
	remarks   = strings.Fields("knee pain after ten kilometres left right shoes new track marathon training hill recovery calf tight since spring better worse stairs morning stiff treadmill pace easy long run")
)

// largeDir holds the large studio until the tests end.
var largeDir string

var large = sync.OnceValues(func() (string, error) {
	dir, err := os.MkdirTemp("", "gaitwright-large-")
	if err != nil {
		return "", err
	}
	largeDir = dir
	path := filepath.Join(dir, "records.db")
	s, err := Open(path)
	if err != nil {
		return "", err
	}
	rnd := rand.New(rand.NewPCG(1, 2))
	pick := func(of []string) string { return of[rnd.IntN(len(of))] }
	// said is what a runner says in their own words, most of them in use, some rare.
	said := func() string {
		words := make([]string, 20)
		for i := range words {
			words[i] = pick(remarks)
		}
		return fmt.Sprintf("%s x%d", strings.Join(words, " "), rnd.IntN(4000))
	}
	const chunk = 100
	for from := 0; from < manyRunners; from += chunk {
		err := s.Change(context.Background(), store.Deed{What: "Took in"}, func(w store.Writer) error {
			for range chunk {
				note := make([]string, 15)
				for i := range note {
					note[i] = pick(remarks)
				}
				r := store.Runner{Name: pick(forenames) + " " + pick(family), Note: strings.Join(note, " "), BornYear: 1940 + rnd.IntN(70)}
				if err := w.PutRunner(&r); err != nil {
					return err
				}
				for range manyVisits / manyRunners {
					v := store.Visit{RunnerID: r.ID, Date: time.Date(1996+rnd.IntN(30), 1, 1+rnd.IntN(365), 0, 0, 0, 0, time.UTC), Note: strings.Join(note[:5], " ")}
					for range rnd.IntN(3) {
						v.Tags = append(v.Tags, pick(findings))
					}
					if err := w.PutVisit(&v); err != nil {
						return err
					}
					clip := store.Clip{VisitID: v.ID, Name: "side.mp4", Kind: "film", Hash: fmt.Sprintf("%064x", rnd.Uint64()), Facts: json.RawMessage(`{"view":"left","speed_mps":3}`)}
					if err := w.PutClip(&clip); err != nil {
						return err
					}
					err := errors.Join(
						w.PutDocument(&store.Document{VisitID: v.ID, Kind: "intake", Owner: v.ID, Body: json.RawMessage(`{"goals":"` + strings.Join(note, " ") + `","complaint":"` + said() + `"}`)}),
						w.PutResult(&store.Result{VisitID: v.ID, ClipIDs: []string{clip.ID}, Runner: r.Name, Hash: fmt.Sprintf("%064x", rnd.Uint64()), Summary: json.RawMessage(`{"strides":40}`)}))
					if err != nil {
						return err
					}
				}
			}
			return nil
		})
		if err != nil {
			return "", err
		}
	}
	return path, s.Close()
})

func openLarge(b *testing.B) *Store {
	b.Helper()
	path, err := large()
	if err != nil {
		b.Fatal(err)
	}
	s, err := Open(path)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { s.Close() })
	return s
}

// BenchmarkList measures lists and searches among 5,000 runners and 50,000
// visits, each with a clip, an intake and a result.
func BenchmarkList(b *testing.B) {
	s := openLarge(b)
	date := func(y, m, d int) time.Time { return time.Date(y, time.Month(m), d, 0, 0, 0, 0, time.UTC) }
	var middle string
	if err := s.Read(b.Context(), func(r store.Reader) error {
		rows, err := r.Runners(store.Query{Limit: 1000})
		middle = rows[len(rows)-1].Cursor
		return err
	}); err != nil {
		b.Fatal(err)
	}
	for _, c := range []struct {
		name string
		q    store.Query
	}{
		{"first page", store.Query{}},
		{"later page", store.Query{After: middle}},
		{"page of 200", store.Query{Limit: 200}},
		{"one letter", store.Query{Text: "a"}},
		{"two letters in notes", store.Query{Text: "tr"}},
		{"name", store.Query{Text: "lukasz zolc"}},
		{"four common words", store.Query{Text: "knee pain left right"}},
		{"eight letters", store.Query{Text: "a s t r k p m l"}},
		{"rare word of a complaint", store.Query{Text: "x37"}},
		{"nothing found", store.Query{Text: "zzz"}},
		{"two words not together", store.Query{Text: "zeno zoe"}},
		{"tag", store.Query{Tag: "overstride"}},
		{"no such tag", store.Query{Tag: "none"}},
		{"years", store.Query{From: date(2000, 1, 1), To: date(2010, 1, 1)}},
		{"one day", store.Query{From: date(1999, 5, 5), To: date(1999, 5, 5)}},
		{"day without visits", store.Query{From: date(1970, 5, 5), To: date(1970, 5, 5)}},
		{"all at once", store.Query{Text: "a k", Tag: "crossover", From: date(1996, 1, 1), To: date(1997, 1, 1)}},
	} {
		b.Run(c.name, func(b *testing.B) {
			n := 0
			for b.Loop() {
				if err := s.Read(b.Context(), func(r store.Reader) error {
					rows, err := r.Runners(c.q)
					n = len(rows)
					return err
				}); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(n), "rows")
		})
	}
	b.Run("tags", func(b *testing.B) {
		for b.Loop() {
			if err := s.Read(b.Context(), func(r store.Reader) error { _, err := r.Tags(); return err }); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("results", func(b *testing.B) {
		for b.Loop() {
			if err := s.Read(b.Context(), func(r store.Reader) error { _, err := r.Results(100); return err }); err != nil {
				b.Fatal(err)
			}
		}
	})
}

// BenchmarkOpenVisit measures reading all records of a visit.
func BenchmarkOpenVisit(b *testing.B) {
	s := openLarge(b)
	var ids []string
	if err := s.Read(b.Context(), func(r store.Reader) error {
		rows, err := r.Runners(store.Query{Limit: 1000})
		for _, x := range rows {
			ids = append(ids, x.LastID)
		}
		return err
	}); err != nil {
		b.Fatal(err)
	}
	for i := 0; b.Loop(); i++ {
		id := ids[i*7%len(ids)]
		if err := s.Read(b.Context(), func(r store.Reader) error {
			v, err := r.Visit(id)
			if err != nil {
				return err
			}
			_, e1 := r.Runner(v.RunnerID)
			_, e2 := r.VisitsOf(v.RunnerID)
			_, e3 := r.ClipsOf(id)
			_, e4 := r.DocumentsOf(id)
			_, e5 := r.ResultsOf(id)
			_, e6 := r.Jobs(store.JobQueued, store.JobRunning)
			return errors.Join(e1, e2, e3, e4, e5, e6)
		}); err != nil {
			b.Fatal(err)
		}
		if _, _, err := s.Undoable(b.Context(), id); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkDeed measures one deed: a document rewritten, with its journal, synced
// to the disk.
func BenchmarkDeed(b *testing.B) {
	s := openLarge(b)
	d := store.Document{Kind: "edits", Owner: fmt.Sprint("bench ", time.Now().UnixNano()), Body: json.RawMessage(`{"landmarks":[` + strings.Repeat(`{"landmark":"left_knee","frame":212,"x":1,"y":2},`, 100) + `0]}`)}
	for b.Loop() {
		if err := s.Change(b.Context(), store.Deed{What: "Moved the left knee", VisitID: "bench"}, func(w store.Writer) error { return w.PutDocument(&d) }); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkIntake measures one answer at an intake: its document rewritten, with its
// journal and the words by which its runner of ten visits is found, synced to the disk.
func BenchmarkIntake(b *testing.B) {
	s := openLarge(b)
	var d store.Document
	if err := s.Read(b.Context(), func(r store.Reader) error {
		rows, err := r.Runners(store.Query{Limit: 1})
		if err == nil {
			d, err = r.Document("intake", rows[0].LastID)
		}
		return err
	}); err != nil {
		b.Fatal(err)
	}
	n := 0
	for b.Loop() {
		n++
		d.Body = json.RawMessage(fmt.Sprintf(`{"complaint":"the outside of the left knee after ten kilometres, %d"}`, n))
		if err := s.Change(b.Context(), store.Deed{What: "Entered what brings them here", VisitID: d.VisitID}, func(w store.Writer) error { return w.PutDocument(&d) }); err != nil {
			b.Fatal(err)
		}
	}
}
