package app

import (
	"strings"
	"testing"

	"gaitwright/internal/render"
)

// What the report puts together of several pieces is said in German as a whole; what
// has no German, such as a citation, stays and is told.
func TestGermanOfPiecesPutTogether(t *testing.T) {
	for from, want := range map[string]string{
		"8.0 to 14.0":                          "8,0 bis 14,0",
		"from 9":                               "ab 9",
		"3 of 3":                               "3/3",
		"-6.5 deg":                             "-6,5 Grad",
		"2.80 m/s; given":                      "2,80 m/s; angegeben",
		"at the border; felt in the hamstring": "an der Grenze; gespürt: hintere Oberschenkelmuskeln",
		"Knee flexion, peak in swing, right (from the runner's left, 3.00 m/s): The pose model misreads it by about 11.0 deg on the leg away from the camera: film that side too.": "Kniebeugung, größte im Schwung, rechts (von links, 3,00 m/s): Das Modell liest es am Bein, das der Kamera abgewandt ist, um etwa 11,0 Grad falsch: auch diese Seite filmen.",
		"marker file; far leg, less sure; 1 wild value left out": "Markerdatei; abgewandtes Bein, weniger sicher; 1 Ausreißer weggelassen",
		"Rejected by the coach: 2.5 is nothing":                  "Verworfen, weil: 2,5 is nothing",
		"The Thomas position says little about hip extension unless the pelvis is held: sensitivity 32 %, specificity 57 %. [X 2016]":               "Die Thomas-Lage sagt wenig über die Hüftstreckung, wenn das Becken nicht gehalten wird: Sensitivität 32 %, Spezifität 57 %. [X 2016]",
		"Single-leg bridge, repetitions: The right side is the poorer one: the difference of 9 repetitions lies beyond its error of 8 repetitions.": "Einbeinige Brücke, Wiederholungen: Schwächer ist rechts: Der Unterschied von 9 Wiederholungen liegt jenseits seines Fehlers von 8 Wiederholungen.",
		"27 repetitions":                "27 Wdh",
		"gaitwright 1.2.3 on 2.10.2026": "gaitwright 1.2.3 on 2.10.2026",
	} {
		r := &render.Dossier{Parts: []render.Part{{Blocks: []render.Block{{Text: from}}}}}
		inGerman(r, nil)
		if got := r.Parts[0].Blocks[0].Text; got != want {
			t.Errorf("%q\n got %q\nwant %q", from, got, want)
		}
	}
	about := &render.Dossier{About: RunnerFacts{HeightM: 1.78, LegLengthM: 0.91, MassKG: 64, Sex: "female"}.inWords()}
	if inGerman(about, nil); about.About != "178 cm, Bein 91 cm, 64 kg, weiblich" {
		t.Errorf("the runner is %q", about.About)
	}
	// A text of many parts that nobody has words for comes to its end.
	many := strings.Repeat("xyz; ", 60) + "xyz"
	long := &render.Dossier{Parts: []render.Part{{Blocks: []render.Block{{Text: many}}}}}
	if inGerman(long, nil); long.Parts[0].Blocks[0].Text != many {
		t.Errorf("%q", long.Parts[0].Blocks[0].Text)
	}
	var untold []string
	r := &render.Dossier{Facts: []render.Fact{{Label: "Goals", Value: "Ten kilometres."}}, Parts: []render.Part{{Title: "Exam", Blocks: []render.Block{{Text: "Souza et al. 2011, PM&R 3:1"}, {Text: "It is no diagnosis."}}}}}
	inGerman(r, func(s string) { untold = append(untold, s) })
	if len(untold) != 1 || untold[0] != "Souza et al. 2011, PM&R 3:1" || r.Facts[0].Value != "Ten kilometres." || r.Parts[0].Title != "Prüfung" {
		t.Errorf("untold %q, %+v", untold, r)
	}
}
