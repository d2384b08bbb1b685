package event

import (
	"gaitwright/gait/body"
)

// Contact is one foot's time on the ground, in seconds on the clip's own clock.
type Contact struct {
	Side            body.Side
	InitialContactS float64
	ToeOffS         float64
	// InitialContactSDS and ToeOffSDS are the random error of each time (one
	// standard deviation, seconds): that of the method on force data, joined
	// with the frame interval.
	InitialContactSDS float64
	ToeOffSDS         float64
	// Edited is true where the analyst placed or moved the contact; such a
	// contact is never changed by a later run.
	Edited bool
	// Doubt says why the contact is not trusted ("rhythm: an extra contact",
	// "landmark missing near toe-off"); empty where it is sound.
	Doubt string
}

// DurationS returns the contact (stance) time in seconds.
func (c Contact) DurationS() float64 { return c.ToeOffS - c.InitialContactS }

// Method says what the contacts were taken from.
type Method string

// The methods.
const (
	FromForce  Method = "force"  // vertical force above a threshold
	FromMotion Method = "motion" // landmarks alone
)

// Series is the contacts of one clip, ordered by initial contact.
type Series struct {
	Contacts []Contact
	Method   Method
	// Rule is one sentence for the analyst: which rule and, for force, which
	// threshold.
	Rule string
	// Notes are things the analyst should know, such as a contact added by
	// rhythm.
	Notes []string
	// BiasSDS and ToeOffBiasSDS are the systematic uncertainty of the method
	// (one standard deviation between runners, seconds). It does not shrink
	// with more strides.
	InitialContactBiasSDS float64
	ToeOffBiasSDS         float64
}

// Of returns the contacts of one side, in order.
func (s Series) Of(side body.Side) []Contact {
	var out []Contact
	for _, c := range s.Contacts {
		if c.Side == side {
			out = append(out, c)
		}
	}
	return out
}
