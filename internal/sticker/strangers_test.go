package sticker

import "testing"

// One of ten discs that look the same is clicked, the others are not, and a post hides
// each in turn: where it is found again on another it says that it may be.
func TestUnclickedDiscsOfItsLook(t *testing.T) {
	t.Parallel()
	d := shootTen(120, 1, true)
	all := d.points()
	silent, sure, inSight := 0, 0, 0 // of a few of them
	for k := 1; k < len(all); k += 3 {
		one := tenDiscs{reel: d.reel, names: d.names[k : k+1], x: d.x[k : k+1], y: d.y[k : k+1], hidden: d.hidden[k : k+1]}
		got := one.tally(t, follow(t, d.reel, all[k]))
		silent, sure, inSight = silent+got.silent, sure+got.sure, inSight+got.inSight
	}
	t.Logf("%d silently wrong, %d of %d in sight found without doubt", silent, sure, inSight)
	if silent > 0 {
		t.Errorf("%d samples are on another disc and say nothing of it", silent)
	}
}
