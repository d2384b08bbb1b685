package app_test

import (
	"context"
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"

	"gaitwright/gait/body"
	"gaitwright/gait/event"
	"gaitwright/gait/track"
	"gaitwright/internal/app"
	"gaitwright/internal/pose"
)

// clipTruth is what is known exactly of a rendered clip; its README describes it.
type clipTruth struct {
	BeltMPS  float64              `json:"belt_speed_rendered_m_s"`
	PxPerM   float64              `json:"px_per_m_midplane"`
	Angles   map[string][]float64 `json:"angles_deg"`
	Contacts []struct {
		Side     string
		ContactS float64 `json:"contact_s"`
		ToeOffS  float64 `json:"toe_off_s"`
	}
}

func readClipTruth(t *testing.T, path string) (k clipTruth, contacts event.Series) {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Skip("the shared clips are absent: ", err)
	}
	if err := json.Unmarshal(b, &k); err != nil {
		t.Fatal(err)
	}
	for _, c := range k.Contacts {
		side := body.Left
		if strings.HasPrefix(strings.ToLower(c.Side), "r") {
			side = body.Right
		}
		contacts.Contacts = append(contacts.Contacts, event.Contact{Side: side, InitialContactS: c.ContactS, ToeOffS: c.ToeOffS})
	}
	return k, contacts
}

func needModel(t *testing.T) {
	t.Helper()
	if err := pose.Locate("").Ready(pose.Full); err != nil {
		t.Skip("the pose model is not installed: ", err)
	}
}

// TestRenderedClips takes rendered treadmill clips of two real runners' motion
// through the whole video path and holds contacts, scale and key angles against
// what is exactly known of them. The raw track is kept, and exchanged legs are mended.
func TestRenderedClips(t *testing.T) {
	if testing.Short() {
		t.Skip("decodes and follows several seconds of film")
	}
	needModel(t)
	t.Parallel()
	for _, c := range []struct {
		name      string
		heightM   float64
		exchanged bool // the pose model exchanges the feet at one crossing of nearly every stride
	}{{"RBDS001-35", 1.81, false}, {"RBDS012-35", 1.786, true}} {
		t.Run(c.name, func(t *testing.T) {
			side := sharedData(t, "clips", c.name+"-side.mp4")
			truth, contacts := readClipTruth(t, sharedData(t, "clips", c.name+"-side.json"))
			st, err := app.OpenStudio(t.TempDir())
			if err != nil {
				t.Fatal(err)
			}
			s, err := st.Measure(context.Background(), app.Request{Files: []string{side}, SpeedMPS: truth.BeltMPS, EndS: 5,
				Runner: app.RunnerFacts{HeightM: c.heightM}}, app.NoProgress{})
			if err != nil {
				t.Fatal(err)
			}
			clip := s.Clips[0]
			if c.exchanged && clip.Treatment.SwapsMended == 0 {
				t.Error("no exchanged legs were found in a clip that has them")
			}
			if clip.Raw.Frames() != clip.Track.Frames() || clip.Raw.Space != track.Picture {
				t.Error("the raw track does not lie beside the measured one")
			}
			if got := clip.Info.View.String(); got != "left" {
				t.Errorf("view told as %s, want left", got)
			}
			if d := clip.Info.Scale.PixelsPerM/truth.PxPerM - 1; math.Abs(d) > 0.06 {
				t.Errorf("scale %.0f px/m, true %.0f (%+.1f %%)", clip.Info.Scale.PixelsPerM, truth.PxPerM, 100*d)
			}
			k := app.CompareContacts(clip.Contacts, contacts)
			if k.Missed != 0 || k.Extra != 0 {
				t.Errorf("%d contacts missed, %d extra", k.Missed, k.Extra)
			}
			for _, row := range k.Rows[:2] {
				t.Logf("%-16s bias %+.1f ms, SD %.1f ms, n %d", row.What, 1000*row.BiasS, 1000*row.SDS, row.Pairs)
				if math.Abs(row.BiasS) > 0.015 || row.SDS > 0.015 {
					t.Errorf("%s: bias %+.1f ms, SD %.1f ms; want within 15 and 15", row.What, 1000*row.BiasS, 1000*row.SDS)
				}
			}
			if math.Abs(k.MotionStepRate-k.ForceStepRate) > 0.5 {
				t.Errorf("step rate %.2f, true %.2f", k.MotionStepRate, k.ForceStepRate)
			}
			for _, side := range body.Sides {
				prefix := strings.ToUpper(side.String()[:1]) + "_"
				at := func(angle string, when func(event.Contact) float64) float64 {
					sum, n := 0.0, 0
					for _, c := range contacts.Of(side) {
						if i := int(math.Round(150 * when(c))); i >= 0 && i < len(truth.Angles[prefix+angle]) && when(c) < 5 {
							sum, n = sum+truth.Angles[prefix+angle][i], n+1
						}
					}
					return sum / float64(n)
				}
				landing := func(c event.Contact) float64 { return c.InitialContactS }
				leaving := func(c event.Contact) float64 { return c.ToeOffS }
				for _, q := range []struct {
					name  string
					truth float64
				}{
					{"knee_flexion_at_contact", at("knee_flexion", landing)},
					{"shank_angle_at_contact", at("shank", landing)},
					{"thigh_angle_at_toe_off", at("thigh", leaving)},
				} {
					for _, m := range clip.Measures {
						if m.Name != q.name || m.Side != side {
							continue
						}
						t.Logf("%-26s %-5s true %6.1f measured %6.1f ± %.1f", q.name, side, q.truth, m.Value, m.SEM)
						if math.Abs(m.Value-q.truth) > 2.5*m.SEM {
							t.Errorf("%s %s: %.1f ± %.1f, true %.1f", q.name, side, m.Value, m.SEM, q.truth)
						}
					}
				}
			}
		})
	}
}

// Without a speed and a height nothing is given that rests on them.
func TestClipWithoutSpeedAndHeight(t *testing.T) {
	if testing.Short() {
		t.Skip("decodes and follows several seconds of film")
	}
	needModel(t)
	t.Parallel()
	film := sharedData(t, "clips", "RBDS012-35-side.mp4")
	st, err := app.OpenStudio(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	s, err := st.Measure(context.Background(), app.Request{Files: []string{film}, EndS: 2.5, Model: "lite"}, app.NoProgress{})
	if err != nil {
		t.Fatal(err)
	}
	c := s.Clips[0]
	if c.Info.BeltSpeedMPS != 0 || c.Info.Scale.Known() {
		t.Error("neither speed nor height was given, yet there is a scale")
	}
	for _, m := range c.Measures {
		if m.Name == "step_length" && (!m.Withheld() || m.Reason == "") {
			t.Error("step length was given without a belt speed")
		}
	}
}
