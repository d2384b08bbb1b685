package agree

import "math"

// SymmetryIndex is 100·(right-left)/mean of the two, in percent: 0 for equal
// sides, positive where the right is larger (Robinson, Herzog & Nigg 1987, J
// Manipulative Physiol Ther 10:172-176, from memory). It grows without bound as
// the mean nears zero, and so it is NaN where the two differ in sign or are both
// zero: signed angles take the symmetry angle.
func SymmetryIndex(left, right float64) float64 {
	if left*right < 0 || left+right == 0 {
		return math.NaN()
	}
	return 100 * (right - left) / (0.5 * math.Abs(left+right))
}

// SymmetryAngle is the angle between the point (right, left) and the line of
// equality, as a percentage of a right angle: 0 for equal sides, 100 for equal
// and opposite ones; positive where the right is larger in size (Zifchock et al.
// 2008, Gait Posture 27:622-627; formula from memory):
// 100·(45° - atan(left/right))/90°, less 180° where that angle exceeds 90°. NaN
// where both are zero.
func SymmetryAngle(left, right float64) float64 {
	if left == 0 && right == 0 {
		return math.NaN()
	}
	a := 45 - math.Atan(left/right)*180/math.Pi
	if a > 90 {
		a -= 180
	}
	return 100 * a / 90
}
