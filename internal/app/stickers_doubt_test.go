package app

import (
	"math"
	"strings"
	"testing"

	"gaitwright/gait/body"
	"gaitwright/gait/track"
	"gaitwright/internal/sticker"
)

// What is in doubt takes no part in a measurement: doubtful frames are left out,
// and a sticker that is in doubt or lost for half of the time is left out whole.
func TestNothingIsMeasuredFromDoubt(t *testing.T) {
	const frames = 100
	clock := make([]float64, frames)
	for i := range clock {
		clock[i] = float64(i) / 60
	}
	path := func(name string, doubtful, lost int) StickerPath {
		p := StickerPath{Name: name, Shape: "round"}
		for i := range frames {
			x, state := float64(100+i), sticker.Followed
			switch {
			case i < doubtful:
				state = sticker.Doubtful
			case i < doubtful+lost:
				x, state = math.NaN(), sticker.Missing
			}
			p.X, p.Y, p.SD = append(p.X, x), append(p.Y, x), append(p.SD, 0.1+0*x)
			p.Quality, p.State = append(p.Quality, 0.9), append(p.State, uint8(state))
		}
		return p
	}
	for _, c := range []struct {
		name           string
		doubtful, lost int
		taken          int // frames in which it takes part; −1 where it does not at all
		says           string
	}{
		{"left_psis", 0, 0, 100, ""},
		{"left_psis", 10, 0, 90, "doubtful in 10 of 100 frames, which are left out"},
		{"left_psis", 10, 39, 51, "doubtful in 10 of 100"},
		{"left_psis", 0, 30, 70, "seen in 70 of 100"},
		{"left_psis", 51, 0, -1, "without doubt in 49 of 100"},
		{"left_psis", 20, 31, -1, "nothing is measured"},
		{"left_psis", 0, 100, -1, "was not seen"},
	} {
		k := &Clip{Raw: &track.Track{TimeS: clock, Space: track.Picture}}
		k.takeStickers([]StickerPath{path(c.name, c.doubtful, c.lost)}, clock)
		said := strings.Join(k.Warnings, "; ")
		if !strings.Contains(said, c.says) || c.says == "" && said != "" {
			t.Errorf("%d doubtful, %d lost: said %q, want %q", c.doubtful, c.lost, said, c.says)
		}
		with, err := k.withStickers(k.Raw)
		if err != nil {
			t.Fatal(err)
		}
		p := with.Paths[body.LeftPSIS]
		if c.taken < 0 {
			if p != nil {
				t.Errorf("%d doubtful, %d lost: it takes part in the measurement", c.doubtful, c.lost)
			}
			continue
		}
		n := 0
		for i := range frames {
			if p.Seen(i) {
				n++
				if i < c.doubtful {
					t.Fatalf("the doubtful frame %d takes part", i)
				}
			}
		}
		if n != c.taken {
			t.Errorf("%d doubtful, %d lost: %d frames take part, want %d", c.doubtful, c.lost, n, c.taken)
		}
	}
}

// A landmark that the pose network gives too is fused with its sticker by error: in
// full sight the sticker decides, where it is in doubt the network's point helps out.
func TestStickerAndNetworkAreFusedByError(t *testing.T) {
	const frames = 60
	clock, pose := make([]float64, frames), &track.Path{Origin: track.PoseModel, X: make([]float64, frames), Y: make([]float64, frames)}
	s := StickerPath{Name: "left_heel", Shape: "round"}
	for i := range frames {
		clock[i] = float64(i) / 60
		wobble := 3 * math.Sin(1.7*float64(i))
		pose.X[i], pose.Y[i] = 110+wobble, 200-wobble
		s.X, s.Y, s.SD = append(s.X, 100), append(s.Y, 200), append(s.SD, 0.1)
		state := sticker.Followed
		if i >= 50 {
			s.X[i], state = 160, sticker.Doubtful
		}
		s.Quality, s.State = append(s.Quality, 0.95), append(s.State, uint8(state))
	}
	k := &Clip{Raw: &track.Track{TimeS: clock, Space: track.Picture}}
	k.Raw.Paths[body.LeftHeel] = pose
	k.takeStickers([]StickerPath{s}, clock)
	with, err := k.withStickers(k.Raw)
	if err != nil {
		t.Fatal(err)
	}
	p := with.Paths[body.LeftHeel]
	for i := range frames {
		limit := 0.1
		if i >= 50 {
			limit = 4 // the network's point, moved to where the sticker sits
		}
		if !p.Seen(i) || math.Abs(p.X[i]-100) > limit {
			t.Errorf("frame %d is at %.2f", i, p.X[i])
		}
	}
}

// A further click never takes away what was sure before it, unless it shows that it
// was wrong.
func TestAClickTakesNothingAway(t *testing.T) {
	const frames = 60
	// F is followed, D in doubt, C clicked, . missing.
	path := func(name, states string, at func(i int) float64) StickerPath {
		p := StickerPath{Name: name, Shape: "round", DiameterPX: 12}
		for i := range frames {
			state := map[byte]sticker.State{'F': sticker.Followed, 'D': sticker.Doubtful, 'C': sticker.Clicked, '.': sticker.Missing}[states[i*len(states)/frames]]
			x := at(i)
			if state == sticker.Missing {
				x = math.NaN()
			}
			p.X, p.Y, p.SD = append(p.X, x), append(p.Y, 0*x), append(p.SD, 0.1+0*x)
			p.Quality, p.State = append(p.Quality, 0.9), append(p.State, uint8(state))
		}
		return p
	}
	still := func(x float64) func(int) float64 { return func(int) float64 { return x } }
	point := func(name string, at ...int) StickerPoint {
		p := StickerPoint{Name: name}
		for _, f := range at {
			p.Clicks = append(p.Clicks, StickerClick{Frame: f, X: 100})
		}
		return p
	}
	sure := func(p StickerPath) (n int) {
		for i := range frames {
			if p.sureAt(i) {
				n++
			}
		}
		return n
	}
	once, twice := []StickerPoint{point("a", 5)}, []StickerPoint{point("a", 5, 55)}
	for _, c := range []struct {
		name     string
		was, now []StickerPath
		asked    []StickerPoint
		want     int
	}{
		{"the pass back from the click is at odds with it", []StickerPath{path("a", "FFFDDD", still(100))}, []StickerPath{path("a", "DDDDFF", still(100))}, twice, 50},
		{"it was followed elsewhere, in doubt", []StickerPath{path("a", "FFFDDD", still(100))}, []StickerPath{path("a", "DDDDFF", still(300))}, twice, 50},
		{"it was lost", []StickerPath{path("a", "FFF...", still(100))}, []StickerPath{path("a", "....FF", still(100))}, twice, 50},
		{"a part of it is surely elsewhere", []StickerPath{path("a", "FFFDDD", still(100))}, []StickerPath{path("a", "DDFFFF", still(300))}, twice, 40},
		{"another stretch of it is", []StickerPath{path("a", "FFDDFF", still(100))}, []StickerPath{path("a", "DDDDDF", still(300))}, twice, 30},
		{"another sticker is there", []StickerPath{path("a", "FFFDDD", still(100))}, []StickerPath{path("a", "DDDDFF", still(100)), path("b", "FFFFFF", still(103))}, append(twice, point("b", 0)), 20},
		{"a click was taken back", []StickerPath{path("a", "FFFDDD", still(100))}, []StickerPath{path("a", "DDDDFF", still(100))}, []StickerPoint{point("a", 55)}, 20},
		{"another film", []StickerPath{{Name: "a", X: []float64{100}, State: []uint8{1}}}, []StickerPath{path("a", "DDDDFF", still(100))}, twice, 20},
	} {
		uphold(c.was, once, c.now, c.asked)
		if got := sure(c.now[0]); got != c.want {
			t.Errorf("%s: sure in %d frames, want %d", c.name, got, c.want)
		}
		for i := range frames {
			if now := c.now[0]; now.sureAt(i) && math.IsNaN(now.X[i]) {
				t.Errorf("%s: frame %d is sure and nowhere", c.name, i)
			}
		}
	}
}
