package measure

import (
	"fmt"
	"math"
)

// Gravity is the acceleration of gravity in m/s² used by the spring-mass
// formulas, as in Morin et al. 2005.
const Gravity = 9.81

// Spring is a runner as a mass on a spring, estimated from times alone.
type Spring struct {
	PeakForceN    float64 // largest vertical force
	PeakForceBW   float64 // the same in body weights
	DropM         float64 // fall of the centre of mass in stance
	VerticalNPM   float64 // vertical stiffness, N/m
	ShorteningM   float64 // shortening of the leg spring
	LegNPM        float64 // leg stiffness, N/m
	ContactAngleD float64 // half the angle swept by the leg in stance, degrees
}

// SineWave estimates the spring-mass model from mass, speed, contact and flight
// time and leg length, taking the vertical force as half a sine wave (Morin,
// Dalleau, Kyröläinen, Jeannin & Belli 2005, J Appl Biomech 21:167-180, where it
// reads 0.67 to 6.93 % below a force plate). The speed and the leg length may be
// 0 where only the vertical part is wanted, and the mass 0 where only
// PeakForceBW and DropM are. The method does not hold on a slope (Meyer et al.
// 2023, Int J Sports Med 44:673-679).
func SineWave(massKG, speedMPS, contactS, flightS, legM float64) (Spring, error) {
	if !(contactS > 0 && contactS < 1) || !(flightS >= 0 && flightS < 1) {
		return Spring{}, fmt.Errorf("the spring-mass estimate needs running: contact %.3f s, flight %.3f s", contactS, flightS)
	}
	var s Spring
	s.PeakForceBW = math.Pi / 2 * (flightS/contactS + 1)
	acceleration := s.PeakForceBW * Gravity
	s.DropM = acceleration*contactS*contactS/(math.Pi*math.Pi) - Gravity*contactS*contactS/8
	s.PeakForceN = massKG * acceleration
	s.VerticalNPM = s.PeakForceN / s.DropM
	half := speedMPS * contactS / 2
	if legM > 0 && speedMPS > 0 {
		if half >= legM {
			return Spring{}, fmt.Errorf("half the ground covered in stance (%.2f m) is longer than the leg (%.2f m): check speed and leg length", half, legM)
		}
		s.ShorteningM = legM - math.Sqrt(legM*legM-half*half) + s.DropM
		s.LegNPM = s.PeakForceN / s.ShorteningM
		s.ContactAngleD = math.Asin(half/legM) * degPerRad
	}
	return s, nil
}
