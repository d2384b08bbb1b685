package pose

import (
	"context"

	"gaitwright/gait/body"
	"gaitwright/gait/track"
)

// Run follows the people in the frames that come over the channel until it is
// closed. The frames are made elsewhere meanwhile, so that decoding and the
// network overlap; a channel with room for a few frames keeps both busy. A
// frame's Release is called as soon as its buffer is no longer needed. Where
// progress is not nil it is called after each frame with the number done and
// the leader's pose.
//
// When Run returns an error the sender may be blocked: it must watch ctx, which
// the caller cancels then.
func (t *Tracker) Run(ctx context.Context, frames <-chan Frame, progress func(done int, leader Pose)) error {
	for {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case f, ok := <-frames:
			if !ok {
				return nil
			}
			p, err := t.Next(f)
			if f.Release != nil {
				f.Release()
			}
			if err != nil {
				return err
			}
			if progress != nil {
				progress(len(t.timeS), p)
			}
		}
	}
}

// Track returns the person's landmarks as a track in picture space over the
// tracker's frames: pixels, origin PoseModel, NaN and no confidence where the
// person was not seen. Nothing is smoothed or mended.
func (t *Tracker) Track(p *Person) *track.Track { return Assemble(t.timeS, p) }

// Assemble returns a person's landmarks as a track over frames at the given
// times in seconds.
func Assemble(timeS []float64, p *Person) *track.Track {
	n := len(timeS)
	out := track.New(track.Picture, track.Pixel, append([]float64(nil), timeS...))
	for l := range body.NumPose {
		out.Paths[l] = &track.Path{Origin: track.PoseModel,
			X: make([]float64, n), Y: make([]float64, n), Confidence: make([]float64, n)}
	}
	missing := nobody()
	for i := range n {
		pose := &missing
		if k := i - p.First; k >= 0 && k < len(p.Poses) {
			pose = &p.Poses[k]
		}
		for l := range body.NumPose {
			path := out.Paths[l]
			path.X[i], path.Y[i], path.Confidence[i] = pose.X[l], pose.Y[l], pose.Confidence(l)
		}
	}
	return out
}

// NearerSide returns the side whose leg is nearer to the camera over the frames
// in which the person was seen, from the network's idea of depth, and how sure
// that is: the share of frames that agree, 0.5 to 1. NoSide where nobody was
// seen.
func (p *Person) NearerSide() (side body.Side, agreement float64) {
	left, all := 0, 0
	for i := range p.Poses {
		q := &p.Poses[i]
		if !q.Found {
			continue
		}
		all++
		depth := func(hip, shoulder body.Landmark) float32 { return q.World[hip][2] + q.World[shoulder][2] }
		if depth(body.LeftHip, body.LeftShoulder) < depth(body.RightHip, body.RightShoulder) {
			left++
		}
	}
	switch {
	case all == 0:
		return body.NoSide, 0
	case 2*left >= all:
		return body.Left, float64(left) / float64(all)
	}
	return body.Right, 1 - float64(left)/float64(all)
}
