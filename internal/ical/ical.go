// Package ical writes a programme as a calendar (iCalendar, RFC 5545): one event a
// session, in floating local time, with what is done in its description. Lines end
// in CRLF and are folded as the standard says; the same programme gives the same
// bytes, so that importing it again replaces and does not double.
package ical

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"time"

	ics "github.com/arran4/golang-ical"
)

// Event is one session.
type Event struct {
	Key         string // what makes it itself, such as "week 3, day 2, full"
	Start       time.Time
	Length      time.Duration
	Title       string
	Description string
}

// Write writes the calendar. made is when; owner tells calendars of different
// runners apart.
func Write(w io.Writer, name, owner string, made time.Time, events []Event) error {
	cal := ics.NewCalendar()
	cal.SetProductId("-//gaitwright//programme//EN")
	cal.SetMethod(ics.MethodPublish)
	cal.SetName(name)
	cal.SetXWRCalName(name)
	for _, e := range events {
		if e.Length <= 0 {
			return fmt.Errorf("the session %q has no length", e.Title)
		}
		sum := sha256.Sum256([]byte(owner + "\x00" + e.Key))
		v := cal.AddEvent(hex.EncodeToString(sum[:12]) + "@gaitwright")
		v.SetDtStampTime(made.UTC())
		// Floating time: seven in the morning wherever the runner is.
		v.SetProperty(ics.ComponentPropertyDtStart, e.Start.Format("20060102T150405"))
		v.SetProperty(ics.ComponentPropertyDtEnd, e.Start.Add(e.Length).Format("20060102T150405"))
		v.SetSummary(e.Title)
		v.SetDescription(e.Description)
		v.SetTimeTransparency(ics.TransparencyTransparent)
	}
	return cal.SerializeTo(w, ics.WithNewLineWindows)
}
