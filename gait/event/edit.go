package event

import "slices"

// Merge joins contacts that the analyst placed or moved with those of a fresh
// run. Edited contacts are kept as they are, and marked so; a fresh contact of the
// same foot that is on the ground at the same time as one of them, or whose
// initial contact lies within half a contact of its, gives way.
func Merge(edited []Contact, fresh Series) Series {
	out := fresh
	out.Contacts = nil
	out.Notes = slices.Clone(fresh.Notes)
	for _, e := range edited {
		e.Edited = true
		out.Contacts = append(out.Contacts, e)
	}
	for _, f := range fresh.Contacts {
		if !slices.ContainsFunc(edited, func(e Contact) bool { return sameContact(e, f) }) {
			out.Contacts = append(out.Contacts, f)
		}
	}
	sortContacts(out.Contacts)
	return out
}

func sameContact(a, b Contact) bool {
	if a.Side != b.Side {
		return false
	}
	if a.InitialContactS < b.ToeOffS && b.InitialContactS < a.ToeOffS {
		return true
	}
	d := a.InitialContactS - b.InitialContactS
	return max(d, -d) < 0.5*max(a.DurationS(), b.DurationS())
}
