// Package measure turns landmarks and contacts into gait measures, left and
// right, each with its error.
//
// # Signs
//
// Flexion is positive and hip extension negative; ankle dorsiflexion positive;
// knee valgus (inward) positive; pelvic drop of the swing side positive; hip
// adduction positive; forward lean positive; foot angle positive when the toes
// are up; shank angle positive when the ankle is ahead of the knee; rearfoot
// eversion positive; heel whip positive when medial. Step width is negative
// where the feet cross over.
package measure
