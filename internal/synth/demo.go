package synth

import "gaitwright/gait/body"

// The invented studio and runner of the demonstration.
const (
	DemoStudio = "Kiesweg Laufstudio"
	DemoRunner = "Mira Feldkamp"
)

// Demo describes the invented runner of the demonstration: a tall step in front
// of her at a low step rate, a right knee that gives way inward over a dropping
// pelvis, and little hip extension at push-off. All of it is invented.
func Demo() Params {
	p := NewParams(1.70, 3.0, 158)
	p.Female = true
	p.MassKG = 61
	p.Seed = 20
	p.Variation = Usual()
	p.OverstrideM = Both(p.OverstrideM.Left + 0.035)
	p.FootAngleAtContactDeg = Sided{Left: 19, Right: 20}
	p.KneeFlexionAtContactDeg = Both(10)
	p.HipExtensionShiftDeg = Sided{Left: -3, Right: -4}
	p.KneeValgusDeg = Sided{Left: 2, Right: 11}
	p.PelvicDropDeg = Sided{Left: 4, Right: 8}
	p.StepWidthM = 0.03
	p.HeelWhipDeg = Sided{Left: 2, Right: 7}
	p.TrunkLeanDeg = 4
	return p
}

// DemoSideWithFault is the side on whose leg the demonstration's knee gives way.
const DemoSideWithFault = body.Right
