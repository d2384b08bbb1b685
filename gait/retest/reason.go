package retest

import "fmt"

// Reason is why two values cannot be compared, or what is to be said with their
// change: a word for those who have their own sentences, and what was before and
// now.
type Reason struct {
	Code   string `json:"code"`
	Before string `json:"before"`
	After  string `json:"after"`
}

// order is how telling a reason is: the first is said where several hold.
func (r Reason) order() int {
	for i, code := range []string{"speed", "incline", "surface", "model", "origin", "view"} {
		if r.Code == code {
			return i
		}
	}
	return 99
}

// weight is how much a caution makes two films less alike.
func (r Reason) weight() int {
	switch r.Code {
	case "shoes":
		return 1
	case "speed_unknown", "click":
		return 2
	}
	return 0
}

// String says it in a sentence without its full stop; empty for no reason.
func (r Reason) String() string {
	switch r.Code {
	case "":
		return ""
	case "not_before":
		return "it was not measured before"
	case "not_now":
		return "it was not measured now"
	case "error":
		return "the error of one of the two is not known"
	case "no_view":
		return "no film before was taken from that side"
	case "pain":
		return "pain stopped the test"
	case "view":
		return fmt.Sprintf("it was filmed from %s before and from %s now", r.Before, r.After)
	case "origin":
		return fmt.Sprintf("landmarks came from %s before and from %s now", r.Before, r.After)
	case "model":
		return fmt.Sprintf("the pose model was %s before and is %s now; measure the older film again with the same", r.Before, r.After)
	case "surface":
		return fmt.Sprintf("it was run on %s before and on %s now", r.Before, r.After)
	case "incline":
		return fmt.Sprintf("the incline was %s %% before and %s %% now", r.Before, r.After)
	case "speed":
		return fmt.Sprintf("the speed was %s m/s before and %s m/s now", r.Before, r.After)
	case "speed_unknown":
		return "the speed of one film is not known; it is taken to be the same"
	case "shoes":
		return fmt.Sprintf("other shoes: %s before, %s now", r.Before, r.After)
	case "click":
		return fmt.Sprintf("filmed %s the click before and %s it now", r.Before, r.After)
	case "return":
		return "it was looked at because it was extreme, and such a value returns toward the mean by itself: what is left of the change lies within the error"
	case "not_measured":
		return "it was not measured at that visit"
	case "few_visits":
		return r.Before + " visits have no trend; three are the least"
	case "one_day":
		return "all visits are on one day"
	}
	return r.Code
}
