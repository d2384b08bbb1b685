package app

import (
	"errors"
	"fmt"
	"slices"

	"gaitwright/gait/event"
	"gaitwright/gait/measure"
	"gaitwright/gait/track"
	"gaitwright/num/kept"
)

// stages holds what the parts of working out one clip gave, so that a correction
// does again only what it changes: an exchange of left and right everything but
// the mending of names, a moved landmark its own path and the contacts, a moved
// contact neither. The zero value holds nothing.
type stages struct {
	named       *track.Track // names mended
	swapsMended int

	swaps  string       // the exchanges that are in what follows
	before *track.Track // mended, without landmarks placed by hand
	report track.CleanReport

	moves  string           // the placed landmarks that are in what follows
	mended *track.Track     // with them
	placed *track.Corrected // mended as it was with other landmarks placed
	turned carried          // the same in runner space, in pixels where there is no scale
	part   *shape           // of that, the frames that are used

	from, to  int                 // the part that is smoothed
	last      track.Smoothed      // cut and smoothCut as they were with other exchanges
	cut       *track.Track        // before, that part
	smoothCut *track.Track        // and smooth
	smoothed  *track.Track        // with the placed landmarks
	like      *track.SmoothedLike // smoothed as it was with other landmarks placed
	likeFrom  *track.Track        // and all frames of what it was made of

	scaled     carried        // the smooth track, to scale
	anatomical carried        // the same, with legs that stand where a body's do
	lines      *measure.Lines // of that

	hasFound bool
	found    event.Series
	other    *event.Series
	heard    *kept.Store // of the paths they were found from
}

// mend brings the mended track up to date with the clip's edits.
func (s *stages) mend(c *Clip, whole *track.Track, options track.CleanOptions) (err error) {
	if s.named == nil {
		s.named = whole
		if c.origin() == track.PoseModel {
			s.named, s.swapsMended = track.MendSwaps(whole)
		}
	}
	swaps, moves := fmt.Sprint(c.Edits.Swaps), fmt.Sprint(c.Edits.Moves)
	if s.before == nil || swaps != s.swaps {
		// Stickers have their names by a click, so no exchange touches them.
		with, err := c.withStickers(track.Exchanged(s.named, c.Edits.exchanges(c.Begun.FirstFrame)))
		if err != nil {
			return err
		}
		cutoffs := s.report.CutoffHz
		s.before, s.report = track.Mend(with, options)
		if s.cut != nil {
			s.last = track.Smoothed{From: s.cut, To: s.smoothCut, CutoffHz: cutoffs}
		}
		s.swaps, s.mended, s.cut = swaps, nil, nil
	}
	if s.mended != nil && moves == s.moves {
		return nil
	}
	s.mended, s.moves, s.hasFound, s.smoothed = s.before, moves, false, nil
	if len(c.Edits.Moves) > 0 {
		by := c.Edits.corrections(c.Begun.FirstFrame)
		if s.mended, err = track.CorrectAgain(s.before, by, s.placed, options); err != nil {
			return err
		}
		s.placed = &track.Corrected{From: s.before, To: s.mended, By: by}
	}
	s.part = nil
	if _, err = c.turn(s.mended, 0, &s.turned); err != nil {
		return &Problem{Kind: KindUsage, File: c.Path, What: err.Error(), Err: err}
	}
	return nil
}

// contacts brings the contacts that were found up to date with the mended track.
// Where corrections by hand, perhaps half done, leave none to be found, those
// without them stay.
func (s *stages) contacts(c *Clip, r *Request, options track.CleanOptions) (err error) {
	if s.hasFound {
		return nil
	}
	s.heard = s.heard.Next()
	s.found, s.other, err = c.findContacts(s.turned.to, c.Begun.Force, r, s.heard)
	if err != nil && len(c.Edits.Moves)+len(c.Edits.Swaps) > 0 {
		plain, _ := track.Mend(s.named, options)
		runner, bad := c.inRunnerSpace(plain, 0)
		if bad != nil {
			return err
		}
		found, other, bad := c.findContacts(runner, c.Begun.Force, r, nil)
		if bad != nil {
			return err
		}
		why := err.Error()
		var p *Problem
		if errors.As(err, &p) {
			why = p.What
		}
		found.Notes = append(slices.Clone(found.Notes), "with the landmarks as corrected no contacts could be found, so those of before stand: "+why)
		s.found, s.other, err = found, other, nil
	}
	s.hasFound = err == nil
	return err
}

// smooth brings the smooth track of the frames from, inclusive, to, exclusive, up
// to date with the mended one.
func (s *stages) smooth(c *Clip, from, to int, options track.CleanOptions) (err error) {
	if s.cut == nil || s.from != from || s.to != to {
		var last *track.Smoothed
		if s.last.From != nil && s.from == from && s.to == to {
			last = &s.last
		}
		s.cut, s.from, s.to, s.smoothed, s.like = s.before.Part(from, to), from, to, nil, nil
		if s.smoothCut, err = track.SmoothAgain(s.cut, last, options, &s.report); err != nil {
			s.cut = nil
			return err
		}
	}
	if s.smoothed == nil {
		s.smoothed = s.smoothCut
		if len(c.Edits.Moves) > 0 {
			part := s.mended.Part(from, to)
			if s.like != nil && part != s.mended {
				for l, p := range s.mended.Paths { // a part of the same path is the same path
					if p == s.likeFrom.Paths[l] {
						part.Paths[l] = s.like.From.Paths[l]
					}
				}
			}
			if s.smoothed, err = track.SmoothLikeAgain(part, s.cut, s.smoothCut, s.like, options); err == nil {
				s.like, s.likeFrom = &track.SmoothedLike{From: part, Before: s.cut, To: s.smoothed}, s.mended
			}
		}
	}
	return err
}

// shape brings what the frames from, inclusive, to, exclusive, show as a whole up to
// date with the mended track.
func (s *stages) shape(c *Clip, from, to int) *shape {
	if s.part == nil || s.part.from != from || s.part.to != to {
		s.part = shapeOf(s.turned.to, from, to, c.Info.View)
		if c.squareMatters() {
			go s.part.offSquare() // while the contacts are looked for
		}
	}
	return s.part
}
