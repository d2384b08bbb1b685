package app

import (
	"math"
	"slices"

	"gaitwright/internal/sticker"
)

// sureAt tells whether the point was seen in a frame without doubt.
func (p StickerPath) sureAt(frame int) bool {
	s := sticker.State(p.State[frame])
	return s == sticker.Followed || s == sticker.Clicked
}

// sameMarkPX is how far apart two places of one mark are at most.
func (p StickerPath) sameMarkPX() float64 { return math.Max(3, p.DiameterPX/2) }

// onlyAdded tells whether a point differs from what it was by further clicks at most.
func (p StickerPoint) onlyAdded(was StickerPoint) bool {
	return p.Shape == was.Shape && p.DiameterPX == was.DiameterPX &&
		!slices.ContainsFunc(was.Clicks, func(c StickerClick) bool { return !slices.Contains(p.Clicks, c) })
}

// uphold keeps sure what was sure before further clicks were made. A click is one
// more thing that is known, yet what is followed from it may go astray on the way and
// gainsay a path that was never in doubt. A stretch without doubt, from one click,
// loss or doubt to the next, falls only where it is contradicted: where what is sure
// now lies elsewhere, or another sticker lies there.
func uphold(was []StickerPath, wasAsked []StickerPoint, now []StickerPath, asked []StickerPoint) {
	fresh := make([]StickerPath, len(now)) // as they were followed, which is what contradicts
	for i, p := range now {
		fresh[i] = p
		fresh[i].X, fresh[i].Y, fresh[i].State = slices.Clone(p.X), slices.Clone(p.Y), slices.Clone(p.State)
	}
	for i := range now {
		named := func(p StickerPath) bool { return p.Name == now[i].Name }
		point := func(p StickerPoint) bool { return p.Name == now[i].Name }
		k, a, b := slices.IndexFunc(was, named), slices.IndexFunc(wasAsked, point), slices.IndexFunc(asked, point)
		if k < 0 || a < 0 || b < 0 || !asked[b].onlyAdded(wasAsked[a]) || len(was[k].X) != len(now[i].X) {
			continue
		}
		old, p := was[k], now[i]
		contradicted := func(f int) bool {
			for j, q := range fresh {
				if !q.sureAt(f) {
					continue
				}
				apart := math.Hypot(q.X[f]-old.X[f], q.Y[f]-old.Y[f])
				if j == i && apart > p.sameMarkPX() || j != i && apart < math.Min(p.sameMarkPX(), q.sameMarkPX()) {
					return true
				}
			}
			return false
		}
		for from := 0; from < len(old.X); from++ {
			to, falls := from, false
			for ; to < len(old.X) && sticker.State(old.State[to]) == sticker.Followed; to++ {
				falls = falls || contradicted(to)
			}
			for f := from; f < to && !falls; f++ {
				if !p.sureAt(f) {
					p.X[f], p.Y[f], p.SD[f], p.Quality[f], p.State[f] = old.X[f], old.Y[f], old.SD[f], old.Quality[f], old.State[f]
				}
			}
			from = max(from, to)
		}
	}
}
