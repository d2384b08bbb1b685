// Package event finds when each foot meets and leaves the ground, and from that
// steps, strides and the phases of a stride.
//
// Initial contact is the first instant of a foot's contact, toe-off the last. A
// step runs from a contact to the other foot's next contact, a stride from a
// contact to the same foot's next. Stance is contact to toe-off of one foot;
// flight is a toe-off to the other foot's contact; swing is toe-off to the same
// foot's contact.
package event
