package ical

import (
	"bytes"
	"regexp"
	"strings"
	"testing"
	"time"
	"unicode/utf8"
)

func write(t *testing.T, events ...Event) string {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, "Programme of Ñandú", "runner 1", time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC), events); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

var session = Event{Key: "w1d1", Start: time.Date(2026, 3, 2, 7, 0, 0, 0, time.Local), Length: 20 * time.Minute, Title: "Full session, week 1",
	Description: "Roll the inner thigh, left: 1 × 15 s; then: a, b\nSecond line with ünïcode that is quite long so that it must be folded somewhere along the way"}

// The rules of RFC 5545: CRLF line ends, no line above 75 octets, no character
// broken by folding, text escaped, needed properties there.
func TestRulesOfTheStandard(t *testing.T) {
	text := write(t, session)
	if strings.Contains(strings.ReplaceAll(text, "\r\n", ""), "\n") || strings.Contains(strings.ReplaceAll(text, "\r\n", ""), "\r") {
		t.Error("a line does not end in CRLF (section 3.1)")
	}
	for _, line := range strings.Split(text, "\r\n") {
		if len(line) > 75 {
			t.Errorf("a line of %d octets (section 3.1): %q", len(line), line)
		}
		if !utf8.ValidString(line) {
			t.Errorf("a character is broken by folding: %q", line)
		}
	}
	whole := regexp.MustCompile("\r\n[ \t]").ReplaceAllString(text, "")
	for _, want := range []string{"BEGIN:VCALENDAR\r\n", "VERSION:2.0\r\n", "PRODID:", "BEGIN:VEVENT\r\n", "UID:", "DTSTAMP:20260301T090000Z\r\n", "DTSTART:20260302T070000\r\n", "DTEND:20260302T072000\r\n", "SUMMARY:Full session\\, week 1\r\n", "END:VEVENT\r\n", "END:VCALENDAR\r\n"} {
		if !strings.Contains(whole, want) {
			t.Errorf("%q is missing in\n%s", want, whole)
		}
	}
	if !strings.Contains(whole, `left: 1 × 15 s\; then: a\, b\nSecond line`) {
		t.Errorf("the description is not escaped (section 3.3.11):\n%s", whole)
	}
}

func TestSameProgrammeSameBytes(t *testing.T) {
	if write(t, session) != write(t, session) {
		t.Error("the same programme gives other bytes")
	}
	other := session
	other.Key = "w1d2"
	uid := regexp.MustCompile(`UID:(\S+)`)
	if a, b := uid.FindString(write(t, session)), uid.FindString(write(t, other)); a == b {
		t.Error("two sessions have one UID")
	}
}

func TestASessionWithoutLengthIsRefused(t *testing.T) {
	e := session
	e.Length = 0
	if err := Write(&bytes.Buffer{}, "x", "y", time.Now(), []Event{e}); err == nil {
		t.Error("taken")
	}
}
