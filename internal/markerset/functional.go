package markerset

import (
	"math"
	"strings"

	"gonum.org/v1/gonum/mat"

	"gaitwright/gait/body"
)

// minFunctionalFrames is the number of frames with both segments seen that a
// functional joint centre needs.
const minFunctionalFrames = 50

// functional finds the centre of the joint between two segments as the point that
// moves least against both: with the segments' poses R1, T1 and R2, T2, the pair
// c1, c2 for which R1 c1 + T1 = R2 c2 + T2 holds best over all frames (the
// symmetrical centre of rotation of Ehrig et al. 2006, J Biomech 39:2798, from
// memory). A running knee or ankle is nearly a hinge, so the place along its axis
// is all but free: there the point is taken that on average lies as far to the
// runner's right as another landmark does.
func (a *application) functional(f Functional) *finding {
	above, below := a.segments[f.Above], a.segments[f.Below]
	nearTo, err := body.ParseLandmark(f.Near)
	if above == nil || below == nil || err != nil {
		return nil
	}
	near := a.find(nearTo)
	if near == nil {
		return nil
	}
	normal := mat.NewSymDense(6, nil)
	right := mat.NewVecDense(6, nil)
	side := vec(a.axes.Right)
	n, nearSide, nNear := 0, 0.0, 0.0
	var across vec // the runner's right in the axes of the segment above, summed
	for k := range above.poses {
		if !above.ok[k] || !below.ok[k] {
			continue
		}
		n++
		p, q := above.poses[k], below.poses[k]
		d := q.T.sub(p.T)
		for r := range 3 {
			row := [6]float64{p.R[r][0], p.R[r][1], p.R[r][2], -q.R[r][0], -q.R[r][1], -q.R[r][2]}
			for i := range 6 {
				right.SetVec(i, right.AtVec(i)+row[i]*d[r])
				for j := i; j < 6; j++ {
					normal.SetSym(i, j, normal.At(i, j)+row[i]*row[j])
				}
			}
		}
		if v := near.path[k]; v.seen() {
			nearSide += v.sub(p.T).dot(side)
			across = across.add(p.unrotate(side))
			nNear++
		}
	}
	if n < minFunctionalFrames || nNear == 0 {
		return nil
	}
	nearSide, across = nearSide/nNear, across.mul(1/nNear)
	var eig mat.EigenSym
	if !eig.Factorize(normal, true) {
		return nil
	}
	values := eig.Values(nil)
	var vectors mat.Dense
	eig.VectorsTo(&vectors)
	var c [6]float64
	// Values ascend: the first direction, the hinge's axis, is left out here.
	for i := 1; i < 6; i++ {
		if !(values[i] > 1e-9*values[5]) {
			return nil
		}
		along := 0.0
		for r := range 6 {
			along += vectors.At(r, i) * right.AtVec(r)
		}
		for r := range 6 {
			c[r] += vectors.At(r, i) * along / values[i]
		}
	}
	axis := vec{vectors.At(0, 0), vectors.At(1, 0), vectors.At(2, 0)}
	c1 := vec{c[0], c[1], c[2]}
	if math.Abs(axis.dot(across)) < 0.5*axis.length() {
		return nil // the joint's axis does not lie across the run
	}
	s := (nearSide - c1.dot(across)) / axis.dot(across)
	for r := range 6 {
		c[r] += s * vectors.At(r, 0)
	}
	one, two := above.carry(vec{c[0], c[1], c[2]}), below.carry(vec{c[3], c[4], c[5]})
	out := &finding{path: make([]vec, len(one)), how: "functional centre between the " +
		strings.ReplaceAll(f.Above, "_", " ") + " and the " + strings.ReplaceAll(f.Below, "_", " ")}
	for k := range one {
		switch {
		case one[k].seen() && two[k].seen():
			out.path[k] = one[k].add(two[k]).mul(0.5)
		case one[k].seen():
			out.path[k] = one[k]
		default:
			out.path[k] = two[k]
		}
	}
	return out
}

// unrotate turns v back by the pose's rotation.
func (q pose) unrotate(v vec) vec {
	return vec{
		q.R[0][0]*v[0] + q.R[1][0]*v[1] + q.R[2][0]*v[2],
		q.R[0][1]*v[0] + q.R[1][1]*v[1] + q.R[2][1]*v[2],
		q.R[0][2]*v[0] + q.R[1][2]*v[1] + q.R[2][2]*v[2],
	}
}
