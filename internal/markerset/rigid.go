package markerset

import "math"

// pose is a rigid motion: p goes to R p + T.
type pose struct {
	R [3][3]float64
	T vec
}

func (q pose) apply(p vec) vec { return q.rotate(p).add(q.T) }

func (q pose) rotate(p vec) vec {
	return vec{
		q.R[0][0]*p[0] + q.R[0][1]*p[1] + q.R[0][2]*p[2],
		q.R[1][0]*p[0] + q.R[1][1]*p[1] + q.R[1][2]*p[2],
		q.R[2][0]*p[0] + q.R[2][1]*p[1] + q.R[2][2]*p[2],
	}
}

// minSpanM2 is twice the area, in square metres, that three markers must span for
// the turn about their line to be told: a triangle of 40 by 10 mm.
const minSpanM2 = 4e-4

// fit returns the rigid motion that brings the points from closest to the points
// to in the sense of least squares, and the root mean square of what is left, in
// metres. Points missing in either are passed over. It is false where fewer than
// three are left or they lie on one line.
func fit(from, to []vec) (pose, float64, bool) {
	var cf, ct vec
	n := 0.0
	for i := range from {
		if from[i].seen() && to[i].seen() {
			cf, ct = cf.add(from[i]), ct.add(to[i])
			n++
		}
	}
	if n < 3 || !spans(from, to) {
		return pose{}, 0, false
	}
	cf, ct = cf.mul(1/n), ct.mul(1/n)
	var s [3][3]float64
	for i := range from {
		if from[i].seen() && to[i].seen() {
			a, b := from[i].sub(cf), to[i].sub(ct)
			for r := range 3 {
				for c := range 3 {
					s[r][c] += a[r] * b[c]
				}
			}
		}
	}
	// The unit quaternion that maximises the agreement is the eigenvector of the
	// largest eigenvalue of this matrix (Horn 1987).
	q := largestEigenvector([4][4]float64{
		{s[0][0] + s[1][1] + s[2][2], s[1][2] - s[2][1], s[2][0] - s[0][2], s[0][1] - s[1][0]},
		{s[1][2] - s[2][1], s[0][0] - s[1][1] - s[2][2], s[0][1] + s[1][0], s[2][0] + s[0][2]},
		{s[2][0] - s[0][2], s[0][1] + s[1][0], s[1][1] - s[0][0] - s[2][2], s[1][2] + s[2][1]},
		{s[0][1] - s[1][0], s[2][0] + s[0][2], s[1][2] + s[2][1], s[2][2] - s[0][0] - s[1][1]},
	})
	w, x, y, z := q[0], q[1], q[2], q[3]
	out := pose{R: [3][3]float64{
		{w*w + x*x - y*y - z*z, 2 * (x*y - w*z), 2 * (x*z + w*y)},
		{2 * (x*y + w*z), w*w - x*x + y*y - z*z, 2 * (y*z - w*x)},
		{2 * (x*z - w*y), 2 * (y*z + w*x), w*w - x*x - y*y + z*z},
	}}
	out.T = ct.sub(out.rotate(cf))
	sum := 0.0
	for i := range from {
		if from[i].seen() && to[i].seen() {
			d := out.apply(from[i]).sub(to[i])
			sum += d.dot(d)
		}
	}
	return out, math.Sqrt(sum / n), true
}

// spans tells whether the points seen in both lists span a surface.
func spans(from, to []vec) bool {
	for i := range from {
		if !from[i].seen() || !to[i].seen() {
			continue
		}
		for j := i + 1; j < len(from); j++ {
			if !from[j].seen() || !to[j].seen() {
				continue
			}
			e := from[j].sub(from[i])
			for k := j + 1; k < len(from); k++ {
				if from[k].seen() && to[k].seen() && e.cross(from[k].sub(from[i])).length() > minSpanM2 {
					return true
				}
			}
		}
	}
	return false
}

// largestEigenvector returns the unit eigenvector of the largest eigenvalue of a
// symmetric matrix, by Jacobi's rotations.
func largestEigenvector(m [4][4]float64) [4]float64 {
	var v [4][4]float64
	for i := range 4 {
		v[i][i] = 1
	}
	for range 30 {
		off, diag := 0.0, 0.0
		for i := range 4 {
			diag += m[i][i] * m[i][i]
			for j := i + 1; j < 4; j++ {
				off += m[i][j] * m[i][j]
			}
		}
		if off <= 1e-26*diag {
			break
		}
		for p := range 4 {
			for q := p + 1; q < 4; q++ {
				if m[p][q] == 0 {
					continue
				}
				theta := (m[q][q] - m[p][p]) / (2 * m[p][q])
				t := 1 / (math.Abs(theta) + math.Sqrt(theta*theta+1))
				if theta < 0 {
					t = -t
				}
				c := 1 / math.Sqrt(t*t+1)
				s := t * c
				for k := range 4 {
					a, b := m[k][p], m[k][q]
					m[k][p], m[k][q] = c*a-s*b, s*a+c*b
				}
				for k := range 4 {
					a, b := m[p][k], m[q][k]
					m[p][k], m[q][k] = c*a-s*b, s*a+c*b
					a, b = v[k][p], v[k][q]
					v[k][p], v[k][q] = c*a-s*b, s*a+c*b
				}
			}
		}
	}
	best := 0
	for i := 1; i < 4; i++ {
		if m[i][i] > m[best][best] {
			best = i
		}
	}
	return [4]float64{v[0][best], v[1][best], v[2][best], v[3][best]}
}
