package ical

import (
	"bytes"
	"fmt"
	"regexp"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// contentline is that of RFC 5545, section 3.1, unfolded: name, parameters, value;
// no control character but the tab.
var contentline = regexp.MustCompile(`^([A-Za-z0-9-]+)((?:;[A-Za-z0-9-]+=(?:"[^"\x00-\x08\x0a-\x1f\x7f]*"|[^";:,\x00-\x08\x0a-\x1f\x7f]*)(?:,(?:"[^"\x00-\x08\x0a-\x1f\x7f]*"|[^";:,\x00-\x08\x0a-\x1f\x7f]*))*)*):([^\x00-\x08\x0a-\x1f\x7f]*)$`)

// text is a value of the type TEXT, section 3.3.11: backslash, semicolon and comma
// escaped, lines joined by \n.
var text = regexp.MustCompile(`^(?:[^\\;,]|\\[\\;,Nn])*$`)

var (
	localTime = regexp.MustCompile(`^\d{8}T\d{6}$`)
	utcTime   = regexp.MustCompile(`^\d{8}T\d{6}Z$`)
)

// unescape undoes the escapes of a TEXT.
func unescape(s string) string {
	return strings.NewReplacer(`\\`, `\`, `\;`, ";", `\,`, ",", `\n`, "\n", `\N`, "\n").Replace(s)
}

// read reads a calendar by the grammar of RFC 5545 (sections 3.1, 3.4, 3.6 and
// 3.6.1) and returns its events' properties.
func read(data []byte) (events []map[string]string, err error) {
	if !bytes.HasSuffix(data, []byte("\r\n")) {
		return nil, fmt.Errorf("the last line does not end in CRLF")
	}
	var lines []string
	for n, raw := range strings.Split(strings.TrimSuffix(string(data), "\r\n"), "\r\n") {
		switch {
		case len(raw) > 75:
			return nil, fmt.Errorf("line %d has %d octets", n+1, len(raw))
		case strings.ContainsAny(raw, "\r\n"):
			return nil, fmt.Errorf("line %d: a bare CR or LF", n+1)
		case strings.HasPrefix(raw, " ") || strings.HasPrefix(raw, "\t"):
			if len(lines) == 0 {
				return nil, fmt.Errorf("it begins with a folded line")
			}
			lines[len(lines)-1] += raw[1:]
		default:
			lines = append(lines, raw)
		}
	}
	var open []string
	here := map[string]int{}
	var event map[string]string
	for n, l := range lines {
		m := contentline.FindStringSubmatch(l)
		if m == nil {
			return nil, fmt.Errorf("line %d is no contentline: %q", n+1, l)
		}
		name, value := strings.ToUpper(m[1]), m[3]
		switch name {
		case "BEGIN":
			if value == "VCALENDAR" != (len(open) == 0) || value == "VEVENT" && open[len(open)-1] != "VCALENDAR" {
				return nil, fmt.Errorf("line %d: %s within %v", n+1, value, open)
			}
			if value == "VEVENT" && (here["PRODID"] != 1 || here["VERSION"] != 1) {
				return nil, fmt.Errorf("line %d: an event before PRODID and VERSION", n+1)
			}
			open = append(open, value)
			event = map[string]string{}
			continue
		case "END":
			if len(open) == 0 || open[len(open)-1] != value {
				return nil, fmt.Errorf("line %d: END:%s within %v", n+1, value, open)
			}
			open = open[:len(open)-1]
			if value == "VEVENT" {
				for _, must := range []string{"UID", "DTSTAMP", "DTSTART"} {
					if event[must] == "" {
						return nil, fmt.Errorf("line %d: an event without %s", n+1, must)
					}
				}
				if event["DTEND"] != "" && event["DURATION"] != "" {
					return nil, fmt.Errorf("line %d: DTEND and DURATION together", n+1)
				}
				if event["DTEND"] != "" && event["DTEND"] <= event["DTSTART"] {
					return nil, fmt.Errorf("line %d: it ends at %s and begins at %s", n+1, event["DTEND"], event["DTSTART"])
				}
				events = append(events, event)
			}
			continue
		}
		if len(open) == 0 {
			return nil, fmt.Errorf("line %d: %s outside the calendar", n+1, name)
		}
		switch name {
		case "SUMMARY", "DESCRIPTION", "PRODID", "NAME", "X-WR-CALNAME", "UID":
			if !text.MatchString(value) {
				return nil, fmt.Errorf("line %d: %s is no TEXT: %q", n+1, name, value)
			}
		case "DTSTAMP":
			if !utcTime.MatchString(value) {
				return nil, fmt.Errorf("line %d: DTSTAMP %q", n+1, value)
			}
		case "DTSTART", "DTEND":
			if _, err := time.Parse("20060102T150405", value); err != nil || !localTime.MatchString(value) {
				return nil, fmt.Errorf("line %d: %s %q", n+1, name, value)
			}
		case "VERSION":
			if value != "2.0" {
				return nil, fmt.Errorf("VERSION %q", value)
			}
		}
		if open[len(open)-1] == "VEVENT" {
			if _, twice := event[name]; twice {
				return nil, fmt.Errorf("line %d: %s twice in an event", n+1, name)
			}
			event[name] = value
		} else {
			here[name]++
		}
	}
	if len(open) != 0 || here["PRODID"] != 1 || here["VERSION"] != 1 {
		return nil, fmt.Errorf("not closed, or PRODID or VERSION not once: %v %v", open, here)
	}
	return events, nil
}

// Whatever stands in the texts, the calendar follows the grammar and gives them
// back.
func TestEveryCalendarFollowsTheGrammar(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var events []Event
		for i := range rapid.IntRange(1, 5).Draw(t, "events") {
			events = append(events, Event{Key: fmt.Sprint(i), Start: time.Date(2026, 3, 2+i, rapid.IntRange(0, 23).Draw(t, "hour"), 0, 0, 0, time.UTC),
				Length: time.Duration(rapid.IntRange(1, 7200).Draw(t, "seconds")) * time.Second,
				Title:  "t" + rapid.String().Draw(t, "title"), Description: "d" + rapid.String().Draw(t, "description")})
		}
		var b bytes.Buffer
		if err := Write(&b, "Plan of "+rapid.String().Draw(t, "name"), "visit", time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC), events); err != nil {
			t.Fatal(err)
		}
		got, err := read(b.Bytes())
		if err != nil {
			t.Fatalf("%v\n%q", err, b.String())
		}
		if len(got) != len(events) {
			t.Fatalf("%d events of %d", len(got), len(events))
		}
		for i, e := range events {
			if s := unescape(got[i]["SUMMARY"]); s != plain(e.Title) {
				t.Fatalf("the title %q came back as %q", e.Title, s)
			}
			if s := unescape(got[i]["DESCRIPTION"]); s != plain(e.Description) {
				t.Fatalf("the description %q came back as %q", e.Description, s)
			}
		}
	})
}

// The reader refuses what is no calendar.
func TestTheGrammarRefuses(t *testing.T) {
	good := write(t, session)
	if _, err := read([]byte(good)); err != nil {
		t.Fatal(err)
	}
	for _, c := range [][2]string{{"VERSION:2.0\r\n", ""}, {"\r\n", "\n"}, {"UID:", "X-UID:"}, {"END:VEVENT\r\n", ""}, {"DTEND:2026", "DTEND:1926"}, {"week 1", "week, 1"}, {"SUMMARY:", "SUMMARY"}} {
		if _, err := read([]byte(strings.Replace(good, c[0], c[1], -1))); err == nil {
			t.Errorf("%q for %q was taken", c[1], c[0])
		}
	}
}
