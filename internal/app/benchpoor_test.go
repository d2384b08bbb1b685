package app

import (
	"cmp"
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"sync/atomic"
	"testing"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
)

// spoil puts a film of known landmarks wrong all over, as a pose network does in
// bad light: points that wander off and come back, the network hardly sure.
func spoil(c *Clip, draw *rand.Rand, stretches int) *Clip {
	poor, begun := *c, *c.Begun
	poor.Begun = &begun
	poor.Raw = c.Raw.Clone()
	begun.Whole = poor.Raw
	points := []body.Landmark{body.LeftHip, body.LeftKnee, body.LeftAnkle, body.LeftHeel, body.LeftToe, body.RightKnee, body.RightAnkle, body.LeftElbow, body.LeftWrist, body.RightWrist, body.LeftShoulder}
	for range stretches {
		p := poor.Raw.Paths[points[draw.IntN(len(points))]]
		at, long := 20+draw.IntN(c.Mended.Frames()-80), 12+draw.IntN(30)
		dx, dy, sure := 40*draw.NormFloat64(), 20*draw.NormFloat64(), 0.1+0.3*draw.Float64()
		for i := at; i < at+long; i++ {
			w := math.Sin(math.Pi * (float64(i-at) + 0.5) / float64(long))
			p.X[i] += w * dx
			p.Y[i] += w * dy
			p.Confidence[i] = sure
		}
	}
	return &poor
}

// The places of the list are worth their order: corrected one after the other as a
// coach would, to where the points are known to be, the measures come right sooner
// than in an order of chance.
func TestCheckLeadsOnAPoorClip(t *testing.T) {
	t.Parallel()
	_, s := atBench(t)
	good := s.Clips[0]
	if good.Info.View != clip.LeftSide {
		t.Fatal("the first clip is not the side view")
	}
	r := *s.askedOf(good)
	var byList, byChance, all float64
	better := 0
	const seeds, chances = 8, 3
	for seed := range uint64(seeds) {
		draw := rand.New(rand.NewPCG(seed, 11))
		poor := spoil(good, draw, 60)
		work := func(e Edits) *Clip {
			c := poor.afresh(e.settled())
			if _, err := c.workOut(&r, nil, &stages{}); err != nil {
				t.Fatal(err)
			}
			return c
		}
		// How wrong the measures are, in standard errors all together; those of the
		// spoiled film, so that correcting does not move the yardstick.
		now := work(Edits{})
		wrong := func(c *Clip) (sum float64) {
			for i, m := range c.Measures {
				if truth := good.Measures[i]; !m.Withheld() && !truth.Withheld() && !now.Measures[i].Withheld() && truth.SEM > 0 {
					sum += math.Abs(m.Value-truth.Value) / truth.SEM
				}
			}
			return sum
		}
		list, err := now.check(t.Context(), s)
		if err != nil {
			t.Fatal(err)
		}
		list = slices.DeleteFunc(list, func(d PageDoubt) bool { return d.Landmark == "" })
		if len(list) < 12 {
			t.Fatalf("of 60 spoiled stretches %d places are worth checking", len(list))
		}
		mend := func(e *Edits, d PageDoubt) {
			l, err := body.ParseLandmark(d.Landmark)
			if err != nil {
				t.Fatal(err)
			}
			p := good.Mended.Paths[l]
			for i := d.From; i <= d.To; i++ {
				at := i + now.FirstFrame - good.FirstFrame
				e.Moves = append(e.Moves, Move{Landmark: d.Landmark, Frame: now.FirstFrame + i, X: p.X[at], Y: p.Y[at], ErrorPX: 1})
			}
		}
		before := wrong(now)
		// How much is mended on the way: the mean over a quarter, a half and three
		// quarters of the places.
		onTheWay := func(list []PageDoubt) (sum float64) {
			var e Edits
			for i, d := range list {
				mend(&e, d)
				for q := 1; q < 4; q++ {
					if i+1 == (q*len(list)+2)/4 {
						sum += (before - wrong(work(e))) / 3
					}
				}
			}
			return sum
		}
		listed := onTheWay(list)
		var chance float64
		for range chances {
			other := slices.Clone(list)
			draw.Shuffle(len(other), func(i, j int) { other[i], other[j] = other[j], other[i] })
			chance += onTheWay(other) / chances
		}
		var e Edits
		for _, d := range list {
			mend(&e, d)
		}
		whole := before - wrong(work(e))
		byList, byChance, all = byList+listed, byChance+chance, all+whole
		if listed > chance {
			better++
		}
		t.Logf("seed %d: %d places, wrong by %.1f standard errors; all mend %.1f; on the way %.1f by the list, %.1f by chance", seed, len(list), before, whole, listed, chance)
	}
	t.Logf("together: on the way %.1f by the list, %.1f by chance, all %.1f", byList, byChance, all)
	// One film may go the other way, as two wrong points can hide each other.
	if !(byList > 1.5*byChance) || 2*better <= seeds {
		t.Errorf("on the way the list mends %.1f standard errors, chance %.1f; it is ahead for %d of %d", byList, byChance, better, seeds)
	}
	if !(all > 0) {
		t.Errorf("all places mend %.1f standard errors", all)
	}
}

// The places that are tried are those that move a measure most: hardly one of the
// list that trying every place would give is missing.
func TestTriedAreTheLikeliest(t *testing.T) {
	_, s := atBench(t)
	good := s.Clips[0]
	r := *s.askedOf(good)
	found, wanted := 0, 0
	for seed := range uint64(2) {
		c := spoil(good, rand.New(rand.NewPCG(seed, 3)), 150).afresh(Edits{})
		if _, err := c.workOut(&r, nil, &stages{}); err != nil {
			t.Fatal(err)
		}
		doubts := c.doubtfulPoints()
		if len(doubts) < 8*checkMost {
			t.Fatalf("%d places are too few for this test", len(doubts))
		}
		tried := map[PageDoubt]bool{}
		likeliest, err := c.likeliest(t.Context(), slices.Clone(doubts), &r)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range likeliest {
			tried[d.PageDoubt] = true
		}
		exact := slices.Clone(doubts)
		for i := range exact {
			if err := c.try(t.Context(), &exact[i], &r); err != nil {
				t.Fatal(err)
			}
		}
		order := make([]int, len(doubts))
		for i := range order {
			order[i] = i
		}
		slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(exact[b].Effect, exact[a].Effect) })
		for _, i := range order[:checkShown] {
			wanted++
			if tried[doubts[i].PageDoubt] {
				found++
			}
		}
		t.Logf("seed %d: %d places; of the %d that move a measure most %d are tried so far", seed, len(doubts), wanted, found)
	}
	if !(found >= wanted*8/10) {
		t.Errorf("of the %d places that move a measure most %d are tried", wanted, found)
	}
}

// gone is a context of somebody who waits until it was asked so many times, by whomever:
// records that were read are closed beside whoever read them.
type gone struct {
	context.Context
	asked atomic.Int64
	left  int
}

func (g *gone) Err() error {
	if g.asked.Add(1) > int64(g.left) {
		return context.Canceled
	}
	return nil
}

// A list that nobody waits for any more is not worked out to its end, whichever of its
// parts is under way.
func TestCheckEndsWithWhoeverAsked(t *testing.T) {
	_, s := atBench(t)
	r := *s.askedOf(s.Clips[0])
	c := spoil(s.Clips[0], rand.New(rand.NewPCG(0, 3)), 60).afresh(Edits{})
	if _, err := c.workOut(&r, nil, &stages{}); err != nil {
		t.Fatal(err)
	}
	whole := &gone{Context: t.Context(), left: 1 << 30}
	if list, err := c.check(whole, s); err != nil || len(list) == 0 {
		t.Fatalf("%d places, %v", len(list), err)
	}
	asked := int(whole.asked.Load())
	if asked < checkMost {
		t.Fatalf("it is asked %d times whether somebody waits", asked)
	}
	for left := 0; left < asked; left += 9 {
		g := &gone{Context: t.Context(), left: left}
		if _, err := c.check(g, s); !errors.Is(err, context.Canceled) || g.asked.Load() != int64(left+1) {
			t.Errorf("asked %d times of %d, and then %v", g.asked.Load(), left+1, err)
		}
	}
}
