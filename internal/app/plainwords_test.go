package app

import (
	"math"
	"strings"
	"testing"

	"gaitwright/gait/body"
	"gaitwright/gait/measure"
)

func TestInPlainWords(t *testing.T) {
	for remark, want := range map[string]string{
		"the steady part from 0.0 to 4.2 s was used; choose another with --start and --end":                 "The steady part from 0.0 to 4.2 s was used.",
		"1 contact not used: doubtful in rhythm or landmarks. Check them in the editor.":                    "1 contact not used: doubtful in rhythm or landmarks.",
		"reads about 6 % short. Stand it square; for this film, --yaw 20 corrects the side view":            "Reads about 6 % short. Stand it square.",
		"The belt speed is not known. Give it (--speed 3.5m/s); a clip does not show it.":                   "The belt speed is not known. Give it; a clip does not show it.",
		"The leg length is not known. Give it or the height (--height 178cm).":                              "The leg length is not known. Give it or the height.",
		"the camera stands between side and rear; it was taken as from behind: say --view if that is wrong": "The camera stands between side and rear; it was taken as from behind.",
		"use --contacts motion": "",
		"":                      "",
		"Only 5 contacts: 7 a side or more make means stable (Dingenen 2018), and 25 steps or more the times.": "Only 5 contacts: 7 a side or more make means stable (Dingenen 2018), and 25 steps or more the times.",
	} {
		if got := inPlainWords(remark); got != want {
			t.Errorf("%q becomes %q, want %q", remark, got, want)
		}
	}
}

// What is said of both legs alike is said once, and what only the analyst can use
// is not said.
func TestReportInPlainWords(t *testing.T) {
	nan := math.NaN()
	ms := []measure.Measure{
		{Name: "heel_whip", Side: body.Left, Value: nan, Reason: "The error (±15.2 deg) is larger than the differences that matter. Film the left foot."},
		{Name: "heel_whip", Side: body.Right, Value: nan, Reason: "The error (±16.0 deg) is larger than the differences that matter. Film the right foot."},
		{Name: "step_width", Value: nan, Reason: "No whole stride of the foot was seen, from its contact to its next; at least 3 are needed. Film longer; the frame bench shows the contacts."},
		{Name: "step_width", Side: body.Left, Value: nan, Reason: "Of 5 left strides seen, what this is read from was seen in none; at least 3 are needed. Film longer; the frame bench shows which point is lost."},
		{Name: "crossover_share", Value: nan, Reason: "Only 2 strides could be read; at least 3 are needed. Film longer."},
		{Name: "shank_angle_at_contact", Side: body.Left, Value: 9},
		{Name: "shank_angle_at_contact", Side: body.Right, Value: 7, Flag: "far leg, less sure; 1 wild value left out"},
		{Name: "contact_time", Side: body.Left, Value: 0.2, Flag: "only 5 strides, 7 or more advised"},
		{Name: "knee_flexion_at_contact", Side: body.Left, Value: 9, Bias: -6, Flag: "reads about 6 deg low; relative to the trunk"},
	}
	remarks := plainMeasures(ms)
	if ms[0].Reason != ms[1].Reason || strings.Contains(ms[0].Reason, "15") || ms[2].Reason != ms[3].Reason || ms[3].Reason != ms[4].Reason {
		t.Errorf("reasons %q, %q; %q, %q, %q", ms[0].Reason, ms[1].Reason, ms[2].Reason, ms[3].Reason, ms[4].Reason)
	}
	for i, want := range map[int]string{6: "", 7: "", 8: "relative to the trunk"} {
		if ms[i].Flag != want {
			t.Errorf("%s has the note %q, want %q", ms[i].Name, ms[i].Flag, want)
		}
	}
	said := strings.Join(remarks, "|")
	for _, want := range []string{"Right: the leg away from the camera", "n below 7", "knee flexion at contact left 6.0° low"} {
		if strings.Count(said, want) != 1 {
			t.Errorf("%q is not said once: %s", want, said)
		}
	}
	if got := forRunner([]string{"the steady part from 0.0 to 4.2 s was used; choose another with --start and --end", "the feet overlap", "the feet overlap"}); len(got) != 1 || got[0] != "The feet overlap." {
		t.Errorf("warnings %q", got)
	}
}

func TestReportCache(t *testing.T) {
	var c reportCache
	sessions := make([]Session, maxReports+1)
	for i := range sessions {
		c.put(drawnReport{session: &sessions[i], format: "pdf", data: []byte{byte(i)}})
		c.get(&sessions[0], "pdf", "") // the first stays: it is asked for again and again
	}
	if d, ok := c.get(&sessions[0], "pdf", ""); !ok || d.data[0] != 0 {
		t.Error("the report asked for last is gone")
	}
	if _, ok := c.get(&sessions[1], "pdf", ""); ok {
		t.Error("more reports are held than should be")
	}
	if _, ok := c.get(&sessions[0], "png", ""); ok {
		t.Error("one format is given for another")
	}
	if _, ok := c.get(&sessions[0], "pdf", "us"); ok {
		t.Error("a report in metres is given for one in inches")
	}
	if _, ok := c.get(&Session{ID: sessions[0].ID}, "pdf", ""); ok {
		t.Error("a session read anew has an old report")
	}
}
