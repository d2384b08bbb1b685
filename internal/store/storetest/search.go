package storetest

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"testing"
	"time"

	"gaitwright/internal/store"
)

// moment writes a time in one zone; other texts stay.
func moment(s string) string {
	if len(s) < 20 {
		return s
	}
	if t, err := time.Parse(time.RFC3339Nano, s); err == nil {
		return t.UTC().Format(time.RFC3339Nano)
	}
	return s
}

// names lists who a query finds.
func (d *desk) names(q store.Query) []string {
	d.t.Helper()
	var out []string
	d.look(func(r store.Reader) error {
		rows, err := r.Runners(q)
		for _, x := range rows {
			out = append(out, x.Name)
		}
		return err
	})
	return out
}

func search(t *testing.T, d *desk) {
	people := []struct {
		name, note string
		visits     []string // date, or date then tag
		tags       []string
	}{
		{"Åsa Ñuñez", "knee pain after 10 km", []string{"2026-01-10", "2026-03-05"}, []string{"overstride"}},
		{"Łukasz Żółć", "", []string{"2026-02-01"}, []string{"pelvic drop", "overstride"}},
		{"山田 太郎", "Läufer aus 東京", []string{"2025-12-31"}, []string{"pelvic drop"}},
		{"Siân O’Brien", "100% fit_now", nil, nil},
		{"Ann Smith-Jones", "ann's shoes", []string{"2024-06-01"}, []string{"late heel rise"}},
	}
	for _, p := range people {
		r := store.Runner{Name: p.name, Note: p.note}
		d.must("", "Took in", func(w store.Writer) error {
			if err := w.PutRunner(&r); err != nil {
				return err
			}
			for _, date := range p.visits {
				if err := w.PutVisit(&store.Visit{RunnerID: r.ID, Date: day(date), Tags: p.tags}); err != nil {
					return err
				}
			}
			return nil
		})
	}
	const asa, lukasz, yamada, sian, ann = "Åsa Ñuñez", "Łukasz Żółć", "山田 太郎", "Siân O’Brien", "Ann Smith-Jones"
	for _, tt := range []struct {
		q    store.Query
		want []string
	}{
		{store.Query{}, []string{sian, asa, lukasz, yamada, ann}}, // taken in just now, then last seen first
		{store.Query{Text: "fersen", Said: func(tag string) string { return map[string]string{"late heel rise": "Späte Fersenhebung"}[tag] }}, []string{ann}},
		{store.Query{Text: "spate heel", Said: func(string) string { return "Späte" }}, []string{ann}},
		{store.Query{Text: "nunez"}, []string{asa}},
		{store.Query{Text: "ASA Ñu"}, []string{asa}},
		{store.Query{Text: "ñuñez åsa"}, []string{asa}},
		{store.Query{Text: "unez"}, nil},
		{store.Query{Text: "lukasz"}, []string{lukasz}},
		{store.Query{Text: "ŁUK ZOL"}, []string{lukasz}},
		{store.Query{Text: "太"}, []string{yamada}},
		{store.Query{Text: "京"}, []string{yamada}},
		{store.Query{Text: "laufer"}, []string{yamada}},
		{store.Query{Text: "obrien"}, []string{sian}},
		{store.Query{Text: "o'brien"}, []string{sian}},
		{store.Query{Text: "brien"}, []string{sian}},
		{store.Query{Text: "jones"}, []string{ann}},
		{store.Query{Text: "an"}, []string{ann}},
		{store.Query{Text: "10"}, []string{sian, asa}}, // 100 begins with it
		{store.Query{Text: "10 km"}, []string{asa}},
		{store.Query{Text: "fit now"}, []string{sian}},
		{store.Query{Text: "a"}, []string{asa, yamada, ann}},
		{store.Query{Text: "pelvic"}, []string{lukasz, yamada}}, // what was found on them
		{store.Query{Text: "Överstr"}, []string{asa, lukasz}},
		{store.Query{Text: "drop luk"}, []string{lukasz}},
		{store.Query{Text: "rise overstride"}, nil},
		{store.Query{Text: "verstride"}, nil},
		{store.Query{Tag: "overstride"}, []string{asa, lukasz}},
		{store.Query{Tag: "pelvic drop"}, []string{lukasz, yamada}},
		{store.Query{Tag: "pelvic"}, nil},
		{store.Query{Tag: "pelvic drop", Text: "luk"}, []string{lukasz}},
		{store.Query{From: day("2026-01-01")}, []string{asa, lukasz}},
		{store.Query{To: day("2025-12-31")}, []string{yamada, ann}},
		{store.Query{From: day("2026-01-10"), To: day("2026-01-10")}, []string{asa}},
		{store.Query{From: day("2026-01-11"), To: day("2026-02-01")}, []string{lukasz}},
		{store.Query{From: day("2026-02-02"), To: day("2026-02-01")}, nil},
		{store.Query{From: day("2026-01-01"), Tag: "pelvic drop"}, []string{lukasz}},
		{store.Query{SeenBefore: day("2026-02-02")}, []string{ann, yamada, lukasz}}, // last seen longest ago first
		{store.Query{SeenBefore: day("2026-02-01")}, []string{ann, yamada}},
		{store.Query{SeenBefore: day("2026-02-02"), Tag: "pelvic drop"}, []string{yamada, lukasz}},
		{store.Query{From: time.Date(2026, 2, 1, 23, 59, 0, 0, time.FixedZone("", -11*3600)), To: day("2026-02-01")}, []string{lukasz}}, // its own day
	} {
		if got := d.names(tt.q); !slices.Equal(got, tt.want) {
			t.Errorf("%+v finds %q, want %q", tt.q, got, tt.want)
		}
	}
	d.look(func(r store.Reader) error {
		same(t, []string{"late heel rise", "overstride", "pelvic drop"}, try(r.Tags()))
		rows := try(r.Runners(store.Query{Text: "asa"}))
		if len(rows) != 1 || rows[0].Visits != 2 || !rows[0].LastVisit.Equal(day("2026-03-05")) || !slices.Equal(rows[0].Tags, []string{"overstride"}) {
			t.Fatalf("rows %+v", rows)
		}
		v := try(r.VisitsOf(rows[0].ID))
		if rows[0].LastID != v[0].ID {
			t.Errorf("the last visit is %s, want %s", rows[0].LastID, v[0].ID)
		}
		return nil
	})
	// What a runner said at an intake finds them, for as long as it is said.
	var lukaszRow store.RunnerRow
	d.look(func(r store.Reader) error { lukaszRow = try(r.Runners(store.Query{Text: "lukasz"}))[0]; return nil })
	finds := func(text string, want ...string) {
		t.Helper()
		if got := d.names(store.Query{Text: text}); !slices.Equal(got, want) {
			t.Errorf("%q finds %q, want %q", text, got, want)
		}
	}
	intake := store.Document{VisitID: lukaszRow.LastID, Kind: "intake", Owner: lukaszRow.LastID, Body: json.RawMessage(`{"complaint":"Ziehen in der Wade, épine","goals":"halb"}`)}
	d.must("complaint", "Wrote the complaint", func(w store.Writer) error { return w.PutDocument(&intake) })
	finds("wad epi", lukasz)
	finds("zol zieh", lukasz)
	finds("halb") // what else an intake says does not
	other := store.Document{VisitID: lukaszRow.LastID, Kind: "exam", Owner: lukaszRow.LastID, Body: json.RawMessage(`{"complaint":"Kreuzband"}`)}
	d.must("", "Wrote the exam", func(w store.Writer) error { return w.PutDocument(&other) })
	finds("kreuz")
	d.must("complaint", "Wrote another", func(w store.Writer) error {
		intake.Body = json.RawMessage(`{"complaint":"Ferse"}`)
		return w.PutDocument(&intake)
	})
	finds("wade")
	finds("ferse", lukasz)
	d.undo("complaint")
	finds("wade", lukasz)
	finds("ferse")
	d.must("complaint", "Removed the visit", func(w store.Writer) error {
		v := try(w.Visit(lukaszRow.LastID))
		return w.Remove(store.KindVisit, v.ID, v.Version)
	})
	finds("wade")
	d.undo("complaint")
	finds("wade", lukasz)
	// What a list says follows every change.
	var a store.RunnerRow
	d.look(func(r store.Reader) error { a = try(r.Runners(store.Query{Text: "asa"}))[0]; return nil })
	d.must("list", "Renamed and tagged", func(w store.Writer) error {
		a.Name = "Åsa Öberg"
		last := try(w.Visit(a.LastID))
		last.Tags, last.Date = []string{"crossover", "overstride", ""}, day("2023-01-01")
		return errors.Join(w.PutRunner(&a.Runner), w.PutVisit(&last))
	})
	row := func(text string) store.RunnerRow {
		t.Helper()
		var rows []store.RunnerRow
		d.look(func(r store.Reader) error { rows = try(r.Runners(store.Query{Text: text})); return nil })
		if len(rows) != 1 {
			t.Fatalf("%d rows for %q", len(rows), text)
		}
		return rows[0]
	}
	got := row("oberg")
	if !got.LastVisit.Equal(day("2026-01-10")) || !slices.Equal(got.Tags, []string{"overstride", "crossover"}) || d.names(store.Query{Text: "nunez"}) != nil {
		t.Errorf("after a change: %+v", got)
	}
	d.undo("list")
	if got := row("nunez"); !got.LastVisit.Equal(day("2026-03-05")) || len(got.Tags) != 1 || d.names(store.Query{Text: "oberg"}) != nil || d.names(store.Query{Tag: "crossover"}) != nil {
		t.Errorf("after undoing it: %+v", got)
	}
}

func searchHostile(t *testing.T, d *desk) {
	names := []string{`Robert'); DROP TABLE record;--`, `100%`, `under_score`, `"quoted"`, `back\slash`, "nul\x00nul", "\xff\xfe", long("x"), long("é ‮"), "🏃 emoji", "{}", "‏שלום‎"}
	for _, n := range names {
		d.runner(n)
	}
	if got := len(d.names(store.Query{Limit: 100})); got != len(names) {
		t.Fatalf("%d are listed, want %d", got, len(names))
	}
	for text, want := range map[string]int{
		`robert'); drop`: 1, `drop table`: 1, `100`: 1, `%`: len(names), `_`: len(names), `*`: len(names), `"`: len(names), `\`: len(names), `un%`: 1, `under score`: 1,
		`"quoted"`: 1, `quot*`: 1, `back\`: 1, `nul`: 1, `'`: len(names), `' OR '1'='1`: 0, `NEAR(a b)`: 0, `name:x`: 0, "\x00": len(names), "\xff": len(names), `🏃`: len(names), `emoji`: 1, `שלו`: 1,
	} {
		if got := len(d.names(store.Query{Text: text, Limit: 100})); got != want {
			t.Errorf("%q finds %d, want %d", text, got, want)
		}
	}
	for _, text := range []string{long("x"), long("a b "), long("'"), long("é"), long("\xff"), long("山")} {
		d.names(store.Query{Text: text, Tag: ""})
		if got := d.names(store.Query{Tag: text}); got != nil {
			t.Errorf("%.10q… is the tag of %q", text, got)
		}
	}
	for _, after := range []string{"x", "1", "1.", ".", "1.x", "9999999999999999999999.01ARZ3NDEKTSV4RRFFQ69G5FAV", "1.01ARZ3NDEKTSV4RRFFQ69G5FA'", long("1")} {
		d.look(func(r store.Reader) error {
			if _, err := r.Runners(store.Query{After: after}); err == nil {
				t.Errorf("%.20q was taken for a cursor", after)
			}
			return nil
		})
	}
}

func paging(t *testing.T, d *desk) {
	var want []string
	d.must("", "Took in many", func(w store.Writer) error {
		for i := range 60 {
			r := store.Runner{Name: fmt.Sprintf("Runner %02d", i)}
			if err := w.PutRunner(&r); err != nil {
				return err
			}
			want = append(want, r.Name)
			// Many share a day, some have none.
			if i%10 != 9 {
				if err := w.PutVisit(&store.Visit{RunnerID: r.ID, Date: day("2026-01-01").AddDate(0, 0, i/20)}); err != nil {
					return err
				}
			}
		}
		return nil
	})
	whole := d.names(store.Query{Limit: 1000})
	if len(whole) != 60 {
		t.Fatalf("%d are listed", len(whole))
	}
	if sorted := slices.Sorted(slices.Values(whole)); !slices.Equal(sorted, want) {
		t.Errorf("listed are %q", sorted)
	}
	if n := len(d.names(store.Query{})); n != 50 {
		t.Errorf("a page without a limit has %d", n)
	}
	for _, size := range []int{1, 7, 30, 60, 61} {
		var got []string
		q := store.Query{Limit: size, Text: "runner"}
		for page := 0; ; page++ {
			var rows []store.RunnerRow
			d.look(func(r store.Reader) error { rows = try(r.Runners(q)); return nil })
			for _, x := range rows {
				got = append(got, x.Name)
			}
			if len(rows) < size {
				break
			}
			q.After = rows[len(rows)-1].Cursor
			if page == 0 {
				d.runner(fmt.Sprintf("Late runner %d", size)) // does not shift the pages
			}
		}
		got = slices.DeleteFunc(got, func(s string) bool { return s[0] == 'L' })
		if !slices.Equal(got, whole) {
			t.Errorf("pages of %d give %q", size, got)
		}
	}
	// The other way round.
	all := d.names(store.Query{Limit: 1000})
	slices.Reverse(all)
	var got []string
	for q := (store.Query{Limit: 7, SeenBefore: day("2999-01-01")}); ; {
		var rows []store.RunnerRow
		d.look(func(r store.Reader) error { rows = try(r.Runners(q)); return nil })
		for _, x := range rows {
			got = append(got, x.Name)
		}
		if len(rows) < q.Limit {
			break
		}
		q.After = rows[len(rows)-1].Cursor
	}
	if !slices.Equal(got, all) {
		t.Errorf("those not seen longest come as %q, want %q", got, all)
	}
}
