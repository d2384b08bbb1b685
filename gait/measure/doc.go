// Package measure turns landmarks and contacts into gait measures, left and
// right, each with its error.
//
// # How a measure is made
//
// The catalogue is a table: one Definition a measure, with its title, unit,
// sign, formula, source and published error, and with what the clip must offer
// for it (view, landmarks, scale, belt speed, frame rate). Compute walks the
// table. Where the clip cannot carry a measure it is withheld, with the reason
// and what to film instead; where it can, every contact gives one value, wild
// ones are dropped, and their mean is given with the spread and a Budget of
// errors.
//
// # Signs
//
// Flexion is positive and hip extension negative; ankle dorsiflexion positive;
// knee valgus (inward) positive; pelvic drop of the swing side positive; hip
// adduction positive; forward lean positive; lateral lean positive toward the
// standing side; foot angle positive when the toes are up; shank angle positive
// when the ankle is ahead of the knee; thigh angle positive when the knee is
// ahead of the hip; rearfoot eversion positive; heel whip positive when medial;
// anterior pelvic tilt positive. Step width is negative where the feet cross
// over. Asymmetry is positive where the right is larger.
//
// # Sides
//
// A step belongs to the foot that lands (the left step ends with the left
// contact), a flight to the foot that pushed off, everything in stance to the
// standing foot. A side view has a near and a far leg; the far one is less sure
// and says so.
//
// # Errors
//
// SEM joins what differs from stride to stride (with the likeness of neighbouring
// strides allowed for), the frame interval, the uncertainty of the contact rule,
// of what found the landmarks, of scale, belt speed and camera. Only the first
// two shrink with more strides. See Budget.
package measure
