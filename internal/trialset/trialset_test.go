package trialset

import (
	"strings"
	"testing"
	"testing/fstest"
)

func TestBuiltInLayoutsAreSound(t *testing.T) {
	for _, n := range Names() {
		l, err := BuiltIn(n)
		if err != nil {
			t.Errorf("%s: %v", n, err)
			continue
		}
		if l.Name != n || l.Source == "" || l.About == "" {
			t.Errorf("%s: %+v", n, l)
		}
	}
	if _, err := BuiltIn("none"); err == nil || !strings.Contains(err.Error(), "rbds") {
		t.Errorf("of no layout: %v", err)
	}
}

// The table of participants names subjects by number, the files with leading noughts;
// a standing trial is no trial; what fits no pattern is left alone.
func TestFindRBDS(t *testing.T) {
	l, err := BuiltIn("rbds")
	if err != nil {
		t.Fatal(err)
	}
	dir := fstest.MapFS{
		"participants.csv":          {Data: []byte("Subject,Age,Height,Mass,Gender\n1,22,181,62,M\n10,25,169,64.75,F\n10,99,99,99,M\n")},
		"RBDS010runT25.c3d":         {},
		"RBDS001runT45.c3d":         {},
		"RBDS001runT25.c3d":         {},
		"RBDS001static.c3d":         {},
		"RBDS001processed.txt":      {},
		"RBDS002runT35.c3d":         {},
		"README.md":                 {},
		".hidden/RBDS003runT25.c3d": {},
	}
	files, err := List(dir)
	if err != nil {
		t.Fatal(err)
	}
	s, err := l.Find(dir, files)
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Trials) != 4 || s.Subjects() != 3 || l.Count(files) != 4 {
		t.Fatalf("%d trials of %d: %+v", len(s.Trials), s.Subjects(), s.Trials)
	}
	a := s.Trials[0]
	if a.Subject != "001" || a.SpeedMPS != 2.5 || a.Files[0].Path != "RBDS001runT25.c3d" || a.Standing != "RBDS001static.c3d" || a.Person != (Person{AgeY: 22, Sex: "male", HeightM: 1.81, MassKG: 62}) {
		t.Errorf("%+v", a)
	}
	if s.Trials[1].SpeedMPS != 4.5 || s.Trials[2].Subject != "002" || s.Trials[3].Person.Sex != "female" || s.Trials[3].Standing != "" {
		t.Errorf("%+v", s.Trials)
	}
	if len(s.Notes) != 1 || !strings.Contains(s.Notes[0], "subject 002") {
		t.Errorf("notes: %q", s.Notes)
	}
	delete(dir, "participants.csv")
	if s, err = l.Find(dir, files); err != nil || len(s.Notes) != 1 || !strings.Contains(s.Notes[0], "not in the folder") {
		t.Errorf("without the table: %v, %q", err, s.Notes)
	}
}

const own = `name: own
trials: ["{subject}/{speed}kmh {view}.mp4", "{subject}_{trial}.trc"]
standing: "{subject}_cal*.trc"
speed_unit: km/h
speed: 3m/s
views: {S: left, B: rear}
participants: {files: [people.tsv], subject: ID, leg: {column: Leg, unit: cm}, mass: {column: Weight, unit: lb}}
`

// Films from the side and from behind at one speed are one trial; two files that
// nothing tells apart are two.
func TestFindOwnLayout(t *testing.T) {
	l, err := Parse([]byte(own))
	if err != nil {
		t.Fatal(err)
	}
	dir := fstest.MapFS{
		"people.tsv":     {Data: []byte("\ufeffID\tLeg\tWeight\nMo\t90\t154.3\nAda\t\t-\n")},
		"Mo/10kmh S.mp4": {}, "Mo/10kmh B.mp4": {}, "Mo/9kmh S.mp4": {}, "ada_2.trc": {}, "ada_10.trc": {}, "ada_cal1.trc": {},
		"mo/10kmh s.mp4": {}, // another folder of the same name on systems that tell them apart
	}
	files, err := List(dir)
	if err != nil {
		t.Fatal(err)
	}
	s, err := l.Find(dir, files)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, x := range s.Trials {
		line := x.Subject + " " + x.Trial
		for _, f := range x.Files {
			line += " " + f.Path + "=" + f.View
		}
		got = append(got, line)
	}
	want := []string{"Mo  Mo/9kmh S.mp4=left", "Mo  Mo/10kmh B.mp4=rear Mo/10kmh S.mp4=left mo/10kmh s.mp4=s", "ada 2 ada_2.trc=", "ada 10 ada_10.trc="}
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	if p := s.Trials[0].Person; p.LegLengthM != 0.9 || p.MassKG < 69.98 || p.MassKG > 70 {
		t.Errorf("%+v", p)
	}
	if x := s.Trials[2]; x.SpeedMPS != 3 || x.Standing != "ada_cal1.trc" {
		t.Errorf("%+v", x)
	}
}

func TestLayoutFaults(t *testing.T) {
	for _, x := range []struct{ text, want string }{
		{"name: x", "missing: trials"},
		{"name: x\ntrials: '{subject}.c3d'\nmore: 1", "more: not a name that is used here"},
		{"name: x\ntrials: 'run{speed}.c3d'", "{subject} is missing"},
		{"name: x\ntrials: '{subject}{who}.c3d'", "{who} stands for nothing"},
		{"name: x\ntrials: '{subject}{subject}.c3d'", "twice"},
		{"name: x\ntrials: '{subject}.c3d'\nspeeds: {a: 3}", "a text is wanted"},
		{"name: x\ntrials: '{subject}.c3d'\nspeeds: {a: '3'}", "speeds, a"},
		{"name: x\ntrials: '{subject}.c3d'\nspeed: fast", "speed:"},
		{"name: x\ntrials: '{subject}.c3d'\nstanding: 'still.c3d'", "must name the {subject}"},
		{"name: x\ntrials: '{subject}.c3d'\nparticipants: {files: [a], subject: s, mass: {column: m, unit: cm}}", "cm is no unit for it"},
		{"name: &a x\ntrials: '{subject}.c3d'", "no anchors"},
		{"{", "no well-formed YAML"},
	} {
		if _, err := Parse([]byte(x.text)); err == nil || !strings.Contains(err.Error(), x.want) {
			t.Errorf("%q: %v, want %q", x.text, err, x.want)
		}
	}
	l, err := Parse([]byte("name: x\ntrials: '{subject}-{speed}.c3d'\nspeeds: {a: 3m/s}\nparticipants: {files: [p.csv], subject: id, height: {column: h, unit: cm}}"))
	if err != nil {
		t.Fatal(err)
	}
	for table, want := range map[string]string{"id,h\n1,tall\n": "line 2, column h", "id\n1\n": `"h" is missing`, "": "no table"} {
		if _, err := l.Find(fstest.MapFS{"p.csv": {Data: []byte(table)}}, nil); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("table %q: %v, want %q", table, err, want)
		}
	}
	if _, err := l.Find(fstest.MapFS{}, []string{"m-b.c3d"}); err == nil || !strings.Contains(err.Error(), `what speed "b" is`) {
		t.Errorf("an unknown speed: %v", err)
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(own), "Mo/10kmh S.mp4")
	for _, n := range Names() {
		b, _ := Source(n)
		f.Add(b, "RBDS001runT25.c3d")
	}
	f.Fuzz(func(t *testing.T, data []byte, name string) {
		l, err := Parse(data)
		if err != nil {
			return
		}
		if _, err := l.Find(fstest.MapFS{}, []string{name}); err == nil {
			l.Count([]string{name})
		}
	})
}

func FuzzParticipants(f *testing.F) {
	f.Add([]byte("id;h\n1;170\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		p := Participants{Subject: "id", Height: &Column{"h", "cm"}}
		people, err := p.read(strings.NewReader(string(data)))
		if err == nil && people[""] != (Person{}) {
			t.Error("somebody without a name")
		}
	})
}
