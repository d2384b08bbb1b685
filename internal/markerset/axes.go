package markerset

import (
	"fmt"
	"math"
	"slices"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
)

// Axes are the runner's axes as unit vectors in the laboratory: forward, up and
// to the runner's right.
type Axes struct {
	Forward, Up, Right [3]float64
}

// Turn gives a laboratory vector (a place, a force) in runner space: its parts
// forward, up and rightward.
func (a Axes) Turn(v [3]float64) [3]float64 {
	return [3]float64{vec(v).dot(a.Forward), vec(v).dot(a.Up), vec(v).dot(a.Right)}
}

// Thresholds of the axes.
const (
	minUpM          = 0.3 // pelvis or trunk above the feet, less is no upright body
	overgroundM     = 2.0 // the pelvis travels farther than this: not a treadmill
	minBeltMPS      = 0.7 // slower than this the standing foot tells no direction
	snapDeg         = 8.0 // within this of a laboratory axis, that axis is forward
	minFootLengthM  = 0.05
	overgroundSpeed = 0.5 // metres a second
)

// course is what the markers themselves say about where the runner went.
type course struct {
	axes     Axes
	surface  clip.Surface
	speedMPS float64 // 0 where the runner stands
	notes    []string
}

// bearings are the paths, in the laboratory, from which the axes are told.
type bearings struct {
	upper    []vec    // the mean of the pelvis and trunk markers, by frame
	heel     [3][]vec // by side
	forefoot [3][]vec // by side
	lower    []vec    // the mean of the foot markers
	timeS    []float64
}

// takeBearings averages the markers that the set uses for the pelvis and trunk
// and for the feet.
func takeBearings(s *Set, x *index, p Points) bearings {
	b := bearings{timeS: p.TimeS}
	group := func(ls ...body.Landmark) []vec {
		var use []int
		for _, l := range ls {
			for _, r := range s.Landmarks[l.String()] {
				for _, m := range r.markers() {
					if i, ok := x.find(m); ok && !slices.Contains(use, i) {
						use = append(use, i)
					}
				}
			}
		}
		return meanPath(p, use)
	}
	b.upper = group(body.LeftASIS, body.RightASIS, body.LeftPSIS, body.RightPSIS, body.Sacrum, body.LeftHip, body.RightHip,
		body.LeftShoulder, body.RightShoulder, body.C7)
	for _, side := range body.Sides {
		b.heel[side] = group(body.LeftHeel.On(side), body.LeftHeelBottom.On(side), body.LeftHeelTop.On(side))
		b.forefoot[side] = group(body.LeftMT1.On(side), body.LeftMT5.On(side))
		if b.forefoot[side] == nil {
			b.forefoot[side] = group(body.LeftToe.On(side))
		}
	}
	b.lower = group(body.LeftHeel, body.RightHeel, body.LeftToe, body.RightToe, body.LeftMT5, body.RightMT5, body.LeftAnkle, body.RightAnkle)
	return b
}

// meanPath returns, by frame, the mean of the markers that are all seen; nil for
// no markers.
func meanPath(p Points, use []int) []vec {
	if len(use) == 0 {
		return nil
	}
	out := make([]vec, len(p.TimeS))
	for k := range out {
		var sum vec
		for _, i := range use {
			sum = sum.add(p.Markers[i].at(k))
		}
		out[k] = sum.mul(1 / float64(len(use)))
	}
	return out
}

// findCourse tells the runner's axes, whether the runner stayed on the spot, and
// about how fast the run was.
func (b bearings) findCourse() (course, error) {
	var c course
	up, err := b.up()
	if err != nil {
		return c, err
	}
	toes := b.toward(up)
	travel, seconds := b.travel(up)
	belt := b.belt(up)
	var forward vec
	switch {
	case travel.length() > overgroundM && travel.length() > overgroundSpeed*seconds:
		c.surface, forward = clip.Overground, travel
		c.speedMPS = travel.length() / seconds
	case belt.length() > minBeltMPS:
		forward = belt.mul(-1)
		c.speedMPS = belt.length()
	case toes.length() > minFootLengthM:
		forward = toes
	default:
		return c, fmt.Errorf("the direction of running cannot be told: the runner does not travel, no foot is carried back by a belt, and the file has no heel and toe of one foot")
	}
	forward = forward.unit()
	if toes.length() > minFootLengthM && toes.unit().dot(forward) < 0 {
		if c.surface == clip.Overground {
			c.notes = append(c.notes, "the toes point against the direction of travel: check the names of the heel and forefoot markers")
		} else {
			return c, fmt.Errorf("the toes point against the direction of running: the names of heel and forefoot markers seem to be exchanged, or the runner ran backward")
		}
	}
	for axis := range 3 {
		for _, sign := range []float64{1, -1} {
			var e vec
			e[axis] = sign
			if e.dot(forward) > math.Cos(snapDeg*math.Pi/180) {
				forward = e
			}
		}
	}
	c.axes = Axes{Forward: forward, Up: up, Right: forward.cross(up)}
	return c, nil
}

// up returns the laboratory axis along which the pelvis and trunk lie above the
// feet.
func (b bearings) up() (vec, error) {
	if b.upper == nil || b.lower == nil {
		return vec{}, fmt.Errorf("which way is up cannot be told: markers of the pelvis or trunk and of the feet are needed")
	}
	d := medianVec(b.upper).sub(medianVec(b.lower))
	best := 0
	for i := range 3 {
		if math.Abs(d[i]) > math.Abs(d[best]) {
			best = i
		}
	}
	if !(math.Abs(d[best]) > minUpM) {
		return vec{}, fmt.Errorf("which way is up cannot be told: the pelvis and trunk markers lie only %.2f m from the foot markers; check the unit of length in the file and the marker names", math.Abs(d[best]))
	}
	var up vec
	up[best] = math.Copysign(1, d[best])
	return up, nil
}

func level(v, up vec) vec { return v.sub(up.mul(v.dot(up))) }

// toward returns the mean horizontal way from heel to forefoot, both feet.
func (b bearings) toward(up vec) vec {
	var sum vec
	n := 0.0
	for _, s := range body.Sides {
		if b.heel[s] == nil || b.forefoot[s] == nil {
			continue
		}
		var way []vec
		for k := range b.timeS {
			if d := b.forefoot[s][k].sub(b.heel[s][k]); d.seen() {
				way = append(way, d)
			}
		}
		if len(way) > 0 {
			sum = sum.add(level(medianVec(way), up))
			n++
		}
	}
	if n == 0 {
		return vec{}
	}
	return sum.mul(1 / n)
}

// travel returns how far the trunk went between the first and the last frame in
// which it was seen, horizontally, and the seconds between.
func (b bearings) travel(up vec) (vec, float64) {
	first, last := -1, -1
	for k, v := range b.upper {
		if v.seen() {
			if first < 0 {
				first = k
			}
			last = k
		}
	}
	if last <= first {
		return vec{}, 0
	}
	return level(b.upper[last].sub(b.upper[first]), up), b.timeS[last] - b.timeS[first]
}

// belt returns the horizontal velocity that the feet show most often while they
// are low: that of the belt under a standing foot. For each foot the frames are
// taken whose height is within the lowest fifth of its range; the slow and the
// swinging frames among them are few, so the mode is hardly drawn to them.
func (b bearings) belt(up vec) vec {
	var vx [3][]float64
	for _, s := range body.Sides {
		foot := b.forefoot[s]
		if foot == nil {
			foot = b.heel[s]
		}
		if foot == nil {
			continue
		}
		var heights []float64
		for _, v := range foot {
			if v.seen() {
				heights = append(heights, v.dot(up))
			}
		}
		if len(heights) < 10 {
			continue
		}
		slices.Sort(heights)
		low := heights[len(heights)/50]
		limit := low + 0.2*(heights[len(heights)-1-len(heights)/50]-low)
		for k := 1; k+1 < len(foot); k++ {
			if foot[k-1].seen() && foot[k+1].seen() && foot[k].seen() && foot[k].dot(up) < limit {
				v := level(foot[k+1].sub(foot[k-1]), up).mul(1 / (b.timeS[k+1] - b.timeS[k-1]))
				for a := range 3 {
					vx[a] = append(vx[a], v[a])
				}
			}
		}
	}
	if len(vx[0]) == 0 {
		return vec{}
	}
	return vec{mode(vx[0]), mode(vx[1]), mode(vx[2])}
}

// medianVec returns the median of each coordinate over the points that were seen;
// missing where there are none.
func medianVec(v []vec) vec {
	out := missing
	for a := range 3 {
		var c []float64
		for _, p := range v {
			if p.seen() {
				c = append(c, p[a])
			}
		}
		if len(c) > 0 {
			out[a] = median(c)
		}
	}
	return out
}

// mode sorts v and returns the middle of its densest half, halved again and again
// (the half-sample mode, Bickel 2002, from memory).
func mode(v []float64) float64 {
	slices.Sort(v)
	for len(v) > 3 {
		half := (len(v) + 1) / 2
		best := 0
		for i := 1; i+half <= len(v); i++ {
			if v[i+half-1]-v[i] < v[best+half-1]-v[best] {
				best = i
			}
		}
		v = v[best : best+half]
	}
	return median(v)
}

// median sorts v and returns its median.
func median(v []float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	slices.Sort(v)
	if n := len(v); n%2 == 0 {
		return (v[n/2-1] + v[n/2]) / 2
	}
	return v[len(v)/2]
}
