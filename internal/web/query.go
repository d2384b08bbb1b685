package web

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"gaitwright/internal/app"
)

// options are the values that a query may have under a name, where it is not free.
var options = map[string][]string{
	"units": {"metric", "us"},
	"lang":  app.ReportLanguages,
	"for":   {"runner", "clinician"},
	"paper": {"a4", "letter"},
	"side":  {"left", "right", "both"},
	"look":  {"light", "dark"},
	"foot":  {"left", "right"},
}

// chosen refuses a query that has another value than there is under one of the names;
// each may be lacking.
func chosen(q url.Values, names ...string) error {
	for _, name := range names {
		if v := q.Get(name); v != "" && !slices.Contains(options[name], v) {
			return asked("The address says %s=%s, which is not known. Write %s=%s.", name, short(v), name, strings.Join(options[name], " or "+name+"="))
		}
	}
	return nil
}

// asked is the refusal of a request that the page would not have sent.
func asked(format string, a ...any) error {
	return &badBody{http.StatusBadRequest, fmt.Sprintf(format, a...)}
}

// short is what somebody wrote, as far as it is worth repeating.
func short(text string) string {
	r := []rune(strings.ToValidUTF8(text, "�"))
	if len(r) > 40 {
		r = append(r[:40], '…')
	}
	return string(r)
}
