package app

import (
	"slices"
	"sync"

	"gaitwright/gait/clip"
	"gaitwright/gait/track"
)

// shape is a part of a track in runner space with what it shows as a whole, each worked
// out once and where it is asked for.
type shape struct {
	*track.Track
	from, to   int                           // frames of the whole, the last one not in it
	leg, reach func() float64                // medianLeg and straightestReach
	offSquare  func() (deg float64, ok bool) // of a side view
}

func shapeOf(whole *track.Track, from, to int, view clip.View) *shape {
	t := whole.Part(from, to)
	return &shape{
		Track: t, from: from, to: to,
		leg:       sync.OnceValue(func() float64 { return medianLeg(t) }),
		reach:     sync.OnceValue(func() float64 { return straightestReach(t) }),
		offSquare: sync.OnceValues(func() (float64, bool) { return track.OffSquare(t, view) }),
	}
}

// carried is a track in the picture with what became of it in runner space, and by what.
type carried struct {
	from, to   *track.Track
	pixelsPerM float64
	by         standpoint
}

// standpoint is what the picture owes to where the camera stood.
type standpoint struct {
	view                       clip.View
	rollDeg, yawDeg, distanceM float64
	widthPX, heightPX          int
}

func standpointOf(i clip.Info) standpoint {
	return standpoint{i.View, i.RollDeg, i.YawDeg, i.CameraDistanceM, i.WidthPX, i.HeightPX}
}

// turn is inRunnerSpace; paths that are still those of last are shared with what came
// of them then. It puts t in the place of last.
func (c *Clip) turn(t *track.Track, pixelsPerM float64, last *carried) (*track.Track, error) {
	by := standpointOf(c.Info)
	if t.Space == track.Runner || last.to == nil || last.pixelsPerM != pixelsPerM || last.by != by || !slices.Equal(last.from.TimeS, t.TimeS) {
		out, err := c.inRunnerSpace(t, pixelsPerM)
		if err == nil {
			*last = carried{t, out, pixelsPerM, by}
		}
		return out, err
	}
	other := track.New(t.Space, t.Unit, t.TimeS)
	for l, p := range t.Paths {
		if p != last.from.Paths[l] {
			other.Paths[l] = p
		}
	}
	out, err := c.inRunnerSpace(other, pixelsPerM)
	if err != nil {
		return nil, err
	}
	for l, p := range t.Paths {
		if p != nil && other.Paths[l] == nil {
			out.Paths[l] = last.to.Paths[l]
		}
	}
	*last = carried{t, out, pixelsPerM, by}
	return out, nil
}
