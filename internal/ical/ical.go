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
	"strings"
	"time"
	"unicode"

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
	cal.SetName(plain(name))
	cal.SetXWRCalName(plain(name))
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
		v.SetSummary(plain(e.Title))
		v.SetDescription(plain(e.Description))
		v.SetTimeTransparency(ics.TransparencyTransparent)
	}
	return cal.SerializeTo(w, ics.WithNewLineWindows)
}

// plain is a text without what a calendar cannot hold: control characters, and
// bytes that are no character. Line ends are \n.
func plain(s string) string {
	s = strings.NewReplacer("\r\n", "\n", "\r", "\n").Replace(strings.ToValidUTF8(s, "\uFFFD"))
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) && r != '\n' && r != '\t' {
			return -1
		}
		return r
	}, s)
}
