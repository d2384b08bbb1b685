package synth

import (
	"errors"
	"fmt"
	"math"

	"gaitwright/gait/body"
)

// Sided is a value for each side.
type Sided struct{ Left, Right float64 }

// Both returns the same value for both sides.
func Both(v float64) Sided { return Sided{v, v} }

// On returns the value of one side; of NoSide the mean of both.
func (s Sided) On(side body.Side) float64 {
	switch side {
	case body.Left:
		return s.Left
	case body.Right:
		return s.Right
	}
	return (s.Left + s.Right) / 2
}

func (s Sided) mirror() Sided { return Sided{s.Right, s.Left} }

// Variation is the random change from contact to contact: one standard
// deviation of each quantity. The zero value is a runner like clockwork.
type Variation struct {
	StepTimeS       float64
	ContactTimeS    float64
	OverstrideM     float64
	StepWidthM      float64 // of one foot's place across the belt
	FootAngleDeg    float64
	KneeFlexionDeg  float64 // at contact
	HipExtensionDeg float64
	PelvicDropDeg   float64
	KneeValgusDeg   float64
	HeelWhipDeg     float64
	SwingKneeDeg    float64
	DriftM          float64 // slow wandering forward and back on the belt, amplitude
	Autocorrelation float64 // of each quantity from one stride to the same foot's next, 0 to below 1
}

// Usual is variation as runners show it. Step and contact time, overstride and
// place across the belt are as computed from one runner at 2.5 m/s (Fukuchi,
// Fukuchi & Duarte 2017, PeerJ 5:e3298, subject 1: step time SD 6.8 ms, contact
// time SD 5.3 ms, heel to pelvis SD 9 mm, step width SD 16 mm, here halved
// because two feet make one width); the others are invented.
func Usual() Variation {
	return Variation{StepTimeS: 0.0055, ContactTimeS: 0.0045, OverstrideM: 0.009, StepWidthM: 0.010,
		FootAngleDeg: 1.2, KneeFlexionDeg: 1.2, HipExtensionDeg: 0.8, PelvicDropDeg: 0.6, KneeValgusDeg: 0.8,
		HeelWhipDeg: 1.5, SwingKneeDeg: 2, DriftM: 0.02, Autocorrelation: 0.3}
}

// Params describes a runner. [NewParams] fills it with published defaults;
// change what is wanted and hand it to [New].
type Params struct {
	HeightM    float64
	LegLengthM float64 // greater trochanter to ground, without shoes
	MassKG     float64
	Female     bool

	SpeedMPS     float64 // of the belt
	StepRateSPM  float64 // steps a minute, both feet
	DutyFactor   Sided   // contact time over stride time, below 0.5
	StepTimeSkew float64 // (time from left to right contact) minus (right to left), over their mean

	// FootAngleAtContactDeg is the heel-to-toe line at contact against flat, toes
	// up positive. Who lands on the forefoot lands nearer below the hips: lower
	// the overstride with it.
	FootAngleAtContactDeg   Sided
	OverstrideM             Sided // heel ahead of the middle of the hips at contact
	KneeFlexionAtContactDeg Sided
	// HipExtensionShiftDeg moves the thigh at toe-off against where this runner's
	// leg would naturally be: negative leaves it less far behind vertical, with
	// the heel higher and the knee more bent.
	HipExtensionShiftDeg Sided
	SwingKneeFlexionDeg  Sided // peak in swing
	SwingThighDeg        Sided // peak of the thigh ahead of vertical in swing
	PelvicDropDeg        Sided // by stance side: swing side lower positive
	KneeValgusDeg        Sided // frontal projection at mid-stance; inward positive
	HeelWhipDeg          Sided // turn of the sole in early swing; medial positive
	ToeOutDeg            Sided
	EversionDeg          Sided   // peak turn of the heel counter against the shank in stance
	StepWidthM           float64 // right heel minus left heel across the belt; crossing negative

	TrunkLeanDeg     float64 // forward positive
	TrunkSideLeanDeg float64 // toward the stance side, peak
	PelvicTiltDeg    float64 // forward tilt of the line from posterior to anterior spines
	// VerticalOscillationM is the rise and fall of the middle of the hips. 0
	// leaves it to the times: a half-sine force in stance, free fall in flight
	// (Morin et al. 2005, J Appl Biomech 21:167-180).
	VerticalOscillationM float64
	ArmSwingDeg          float64 // forward and back about the middle, amplitude
	ElbowDeg             float64 // mean flexion

	// LandingDownMPS and LandingForwardMPS are the speed, against the belt, with
	// which the heel of the shoe goes on after contact while the sole yields;
	// LandingGiveS is how long it goes down. The forward speed is raised where the
	// knee would otherwise bend fast already at contact.
	LandingDownMPS, LandingForwardMPS, LandingGiveS float64

	Variation Variation
	Seed      uint64
	// FirstSide is the foot that lands first; NoSide stands for the left.
	FirstSide body.Side
	DurationS float64 // the runner can be asked for times from 0 to DurationS
}

// The proportions of the body as fractions of stature: Drillis & Contini 1966,
// in Winter 2009, Biomechanics and Motor Control of Human Movement.
const (
	thighFraction    = 0.245
	shankFraction    = 0.246
	ankleFraction    = 0.039
	legFraction      = 0.530
	shoulderFraction = 0.818
	footFraction     = 0.152
	upperArmFraction = 0.186
	forearmFraction  = 0.146
	eyeFraction      = 0.936
)

// NewParams returns an ordinary runner of that height (m) at that belt speed
// (m/s) and step rate (steps/min; 0 takes the usual one of [UsualStepRateSPM]),
// with no variation. What depends on speed is drawn from published values.
func NewParams(heightM, speedMPS, stepRateSPM float64) Params {
	if stepRateSPM == 0 {
		stepRateSPM = UsualStepRateSPM(heightM, speedMPS)
	}
	// Stance share of the stride: 36, 32.5 and 30.5 % at 2.5, 3.5 and 4.5 m/s
	// (processed curves published with Fukuchi et al. 2017, PeerJ 5:e3298);
	// outside that invented.
	df := table(speedMPS, 2, .385, 2.5, .36, 3.5, .325, 4.5, .305, 6, .265, 7, .25)
	// The belt's travel in contact against leg length: 0.73, 0.83 and 0.95 at
	// those speeds in the same data; no more than a tenth above that, so that
	// long steps of short legs have a longer flight instead.
	leg := legFraction * heightM
	travel := speedMPS * 2 * df * 60 / stepRateSPM
	if most := 1.08 * leg * table(speedMPS, 2, .66, 2.5, .73, 3.5, .83, 4.5, .95, 6, 1.02, 7, 1.05); travel > most {
		df *= most / travel
		travel = most
	}
	return Params{
		HeightM: heightM, LegLengthM: legFraction * heightM, MassKG: 22 * heightM * heightM,
		SpeedMPS: speedMPS, StepRateSPM: stepRateSPM, DutyFactor: Both(df),
		// Rearfoot landing: above 8° (Altman & Davis 2012, Gait Posture 35:298-300).
		FootAngleAtContactDeg: Both(16),
		// Share of the belt's travel in contact, mean of the six runners of Fukuchi
		// et al. 2017 in use here: 0.18, 0.21 and 0.235 at 2.5, 3.5 and 4.5 m/s;
		// beyond them invented.
		OverstrideM: Both(travel * table(speedMPS, 2, .17, 2.5, .18, 3.5, .213, 4.5, .235, 7, .25)),
		// 10-20° is usual (from memory).
		KneeFlexionAtContactDeg: Both(table(speedMPS, 2, 17, 2.5, 14, 3.5, 14, 4.5, 17, 6, 23, 7, 27)),
		// 87, 103 and 116° at 2.5, 3.5 and 4.5 m/s: computed from Fukuchi et al.
		// 2017, subject 1.
		SwingKneeFlexionDeg: Both(table(speedMPS, 2, 80, 2.5, 87, 3.5, 103, 4.5, 116, 7, 128)),
		SwingThighDeg:       Both(table(speedMPS, 2, 28, 2.5, 31, 3.5, 37, 4.5, 43, 7, 58)), // invented
		PelvicDropDeg:       Both(4),                                                        // usual 3-6° (from memory)
		KneeValgusDeg:       Both(2),                                                        // invented
		HeelWhipDeg:         Both(1),                                                        // mean 0.4° (Souza 2015, PM&R 7:823-830)
		ToeOutDeg:           Both(6),                                                        // invented
		EversionDeg:         Both(9),                                                        // 8-15° (from memory)
		StepWidthM:          0.06,                                                           // preferred about 6 cm (Brindle 2014, Gait Posture 39:124-128)
		TrunkLeanDeg:        7.3,                                                            // Teng & Powers 2014, JOSPT 44:785-792
		TrunkSideLeanDeg:    2.5,                                                            // 2-5° (from memory)
		PelvicTiltDeg:       17,                                                             // 15-20° (Schache 1999, from memory)
		ArmSwingDeg:         table(speedMPS, 2, 15, 3.5, 20, 7, 32),                         // invented
		ElbowDeg:            88,                                                             // invented
		// Near the heel markers of Fukuchi et al. 2017.
		LandingDownMPS: 0.65, LandingForwardMPS: 0.36 * speedMPS, LandingGiveS: 0.034,
		DurationS: 30,
	}
}

// Land makes the runner land with that foot angle (degrees, toes up positive). Below
// 8° the foot lands nearer below the hips, four fifths as far at 3° and less, and on
// a knee up to 5° more bent: of six runners, three landing at 0 to 5° placed the heel
// 0.14, 0.18 and 0.205 of the belt's travel in contact ahead at 2.5, 3.5 and 4.5 m/s,
// three at 12 to 24° 0.18, 0.22 and 0.24 (computed from Fukuchi et al. 2017); their
// contact times did not differ. The bend is invented.
func (p *Params) Land(angleDeg float64) {
	p.FootAngleAtContactDeg = Both(angleDeg)
	share := table(angleDeg, 3, 0.8, 8, 1)
	bend := table(angleDeg, -5, 5, 8, 0)
	p.OverstrideM = Sided{share * p.OverstrideM.Left, share * p.OverstrideM.Right}
	p.KneeFlexionAtContactDeg = Sided{bend + p.KneeFlexionAtContactDeg.Left, bend + p.KneeFlexionAtContactDeg.Right}
}

// UsualStepRateSPM is the step rate to expect of a runner of that height (m) at
// that speed (m/s): 172.6 steps/min at 2.9 m/s (Heiderscheit 2011, MSSE
// 43:296-302, from memory), 5.6 more per m/s and 12.3 fewer per 10 cm of stature
// (Burns, Zendler & Zernicke 2019, J Appl Physiol 126:462-468); the stature that
// goes with the first figure, 1.74 m, is invented. Beyond 4.5 m/s steps grow longer
// no more, and 8 more are taken per m/s besides: about 1.8 strides a second at 7 m/s
// (Dorn, Schache & Pandy 2012, J Exp Biol 215:1944, from memory). Single runners
// differ from it by 15 steps a minute and more.
func UsualStepRateSPM(heightM, speedMPS float64) float64 {
	return 172.6 + 5.6*(speedMPS-2.9) + 8*max(0, speedMPS-4.5) - 123.1*(heightM-1.74)
}

// table interpolates linearly in pairs of x and y and stays level beyond them.
func table(x float64, xy ...float64) float64 {
	if x <= xy[0] {
		return xy[1]
	}
	for i := 2; i < len(xy); i += 2 {
		if x <= xy[i] {
			u := (x - xy[i-2]) / (xy[i] - xy[i-2])
			return xy[i-1] + u*(xy[i+1]-xy[i-1])
		}
	}
	return xy[len(xy)-1]
}

// Mirror returns the runner as a mirror shows them: left and right exchanged in
// every instant, the first landing foot included.
func (p Params) Mirror() Params {
	for _, s := range p.sided() {
		*s.value = s.value.mirror()
	}
	p.StepTimeSkew = -p.StepTimeSkew
	p.FirstSide = p.first().Other()
	return p
}

func (p *Params) first() body.Side {
	if p.FirstSide == body.NoSide {
		return body.Left
	}
	return p.FirstSide
}

type limits struct {
	name  string
	value *Sided
	least float64
	most  float64
}

func (p *Params) sided() []limits {
	return []limits{
		{"duty factor", &p.DutyFactor, 0.15, 0.49},
		{"foot angle at contact (degrees)", &p.FootAngleAtContactDeg, -20, 35},
		{"overstride (m)", &p.OverstrideM, -0.1, 0.5},
		{"knee flexion at contact (degrees)", &p.KneeFlexionAtContactDeg, 4, 45},
		{"hip extension shift (degrees)", &p.HipExtensionShiftDeg, -25, 10},
		{"swing knee flexion (degrees)", &p.SwingKneeFlexionDeg, 50, 145},
		{"swing thigh angle (degrees)", &p.SwingThighDeg, 15, 80},
		{"pelvic drop (degrees)", &p.PelvicDropDeg, -10, 20},
		{"knee valgus (degrees)", &p.KneeValgusDeg, -20, 25},
		{"heel whip (degrees)", &p.HeelWhipDeg, -30, 30},
		{"toe-out (degrees)", &p.ToeOutDeg, -20, 30},
		{"eversion (degrees)", &p.EversionDeg, -5, 25},
	}
}

// check says which parameter lies outside what the model can do.
func (p *Params) check() error {
	var errs []error
	within := func(name string, v, least, most float64) {
		if !(v >= least && v <= most) {
			errs = append(errs, fmt.Errorf("%s is %g; give a value from %g to %g", name, v, least, most))
		}
	}
	within("height (m)", p.HeightM, 1.2, 2.3)
	within("leg length (m)", p.LegLengthM, 0.45*p.HeightM, 0.6*p.HeightM)
	within("mass (kg)", p.MassKG, 25, 200)
	within("belt speed (m/s)", p.SpeedMPS, 1.5, 8)
	within("step rate (steps/min)", p.StepRateSPM, 120, 260)
	within("step time skew", p.StepTimeSkew, -0.3, 0.3)
	within("step width (m)", p.StepWidthM, -0.15, 0.35)
	within("trunk lean (degrees)", p.TrunkLeanDeg, -15, 35)
	within("side lean (degrees)", p.TrunkSideLeanDeg, -10, 15)
	within("pelvic tilt (degrees)", p.PelvicTiltDeg, -10, 40)
	within("vertical oscillation (m)", p.VerticalOscillationM, 0, 0.25)
	within("arm swing (degrees)", p.ArmSwingDeg, 0, 60)
	within("elbow flexion (degrees)", p.ElbowDeg, 20, 130)
	within("landing speed down (m/s)", p.LandingDownMPS, 0, 2)
	within("landing speed forward (m/s)", p.LandingForwardMPS, 0, 4)
	within("landing time (s)", p.LandingGiveS, 0.01, 0.06)
	within("autocorrelation", p.Variation.Autocorrelation, 0, 0.95)
	within("duration (s)", p.DurationS, 1, 3600)
	for _, s := range p.sided() {
		within(s.name+", left", s.value.Left, s.least, s.most)
		within(s.name+", right", s.value.Right, s.least, s.most)
	}
	for _, v := range [...]float64{p.Variation.StepTimeS, p.Variation.ContactTimeS, p.Variation.OverstrideM, p.Variation.StepWidthM,
		p.Variation.FootAngleDeg, p.Variation.KneeFlexionDeg, p.Variation.HipExtensionDeg, p.Variation.PelvicDropDeg,
		p.Variation.KneeValgusDeg, p.Variation.HeelWhipDeg, p.Variation.SwingKneeDeg, p.Variation.DriftM} {
		if !(v >= 0) || math.IsInf(v, 0) {
			errs = append(errs, fmt.Errorf("a variation is %g; give a standard deviation of 0 or more", v))
		}
	}
	return errors.Join(errs...)
}
