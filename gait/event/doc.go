// Package event finds when each foot meets and leaves the ground, and from that
// steps, strides and the phases of a stride.
//
// Initial contact is the first instant of a foot's contact, toe-off the last. A
// step runs from a contact to the other foot's next contact, a stride from a
// contact to the same foot's next. Stance is contact to toe-off of one foot;
// flight is a toe-off to the other foot's contact; swing is toe-off to the same
// foot's contact.
//
// # From force
//
// Where the runner ran on force platforms, a contact is the time during which the
// vertical force exceeds a threshold ([ForceContacts]). That is the truth by
// which everything else here is judged, at 50 N.
//
// # From motion
//
// Landmarks do not show force; they show what follows from it, each part of the
// body in its own time. The ankle is braked, the heel takes on the belt's speed,
// the pelvis is held back, the shank stops swinging, the knee begins to give: each
// is a rule, and the literature knows a dozen. Each is late or early by an amount
// that differs between runners far more than within one (SD 4 to 20 ms against 2
// to 5), so that no single rule will do for every foot strike; which of them errs
// in whom, however, differs too.
//
// [MotionContacts] therefore asks many rules, called witnesses, and joins what
// they say as one joins measurements of unequal worth:
//
//  1. Strides are told apart by the ankle's reach ahead of and behind the pelvis
//     (from behind and in front: by the lowest points of the pelvis, one a step,
//     and which ankle is then the lower; see behind.go).
//  2. Each witness looks for its instant in a window, on signals carried to an
//     even clock of 200 samples a second and smoothed at a cut-off of its own,
//     never above 14 Hz; a parabola places the instant between samples.
//  3. Its mean lateness is taken off. At touch-down the lateness may change with
//     pace, measured in leg lengths a second, for which no scale is needed.
//  4. What it says through a clip is split into a habit and the rest. Habits are
//     weighted by the covariance of the witnesses' errors between runners, the
//     rest by their covariance within a clip: the best linear unbiased estimate
//     in both cases. Who strays from his own habit in one contact is not heard in
//     that contact.
//     At touch-down from behind and in front, where few witnesses are left to
//     correct those that err, one that takes now this crest and now that is doubted
//     by how far it leaps, and of two feet that would land quite unlike, one in which
//     the witnesses are of two minds takes the other's.
//  5. The rhythm is looked over: contacts too many are left out, missing ones
//     looked for again, the rest doubted; all of it is said in the notes.
//
// # Where the numbers come from
//
// The lateness and the covariances are in learned.go. They were learned from the
// open treadmill runs of Fukuchi, Fukuchi & Duarte (2017, PeerJ 5:e3298; six
// runners, three speeds, each with and without its standing trial) and the
// overground run of Dorn, Schache & Pandy (2012, J Exp Biol 215:1944), by [Learn]:
// medians, one straight line, covariances; there is nothing to tune but the
// distrust of 4 ms added to every witness. The tables for video take the markers'
// tables over, shifted and widened by what the pose model's landmarks show on
// rendered clips of two of the runners ([Transfer]). Those for pictures from behind
// and in front were learned from the same treadmill runs as cameras 2.8 to 5 m away
// and 0.8 to 1.3 m high would show them: near such a camera a foot sinks in the
// picture as it comes nearer, and rules on its height are late or early by that.
// In internal/app,
//
//	go test -run TestContactsLearn -learn
//
// learns them again; TestContactsTablesAreLearned holds the committed tables
// against the data, TestContactsOfStrangers leaves each runner out in turn,
// TestContactsPublishedRules prints the published rules on the same runs.
//
// # What it cannot know
//
// A laboratory's force and marker clocks may differ by a few milliseconds (see
// [OvergroundS]), and the force threshold is a convention: both enter as a
// systematic error that does not shrink with more strides. The speeds learned from
// are 2.5 to 4.5 m/s; faster and slower running is carried on from there, and was
// tried on an invented runner only. From behind, toe-off is rough: of the two
// runners on film the one's is put 16 ms early and the other's 34 ms late by tables
// that know only the other. The pose model's hips do not rise and fall alike for
// both feet: on six films of drawn runners from behind and in front, errors of left
// and right toe-off differed by 11 to 50 ms, those of contact by 1 to 49, while
// within one foot they spread by 4 to 14. Walking is refused from the side; from behind it cannot
// be told from running, and a low step rate is noted.
package event
