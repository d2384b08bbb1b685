package quantity

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// An Error says which text could not be read as a quantity, and why.
type Error struct {
	What string // "speed", "length" …
	Text string // as it was typed
	Why  string // what is wrong with it
	Hint string // ways to write it
}

// Error returns the sentence for the person who typed the text.
func (e *Error) Error() string {
	return fmt.Sprintf("%s %q: %s; write it like %s", e.What, e.Text, e.Why, e.Hint)
}

// tidy lowers the case and gives look-alike signs their plain form.
func tidy(text string) string {
	return strings.ToLower(strings.TrimSpace(lookalikes.Replace(text)))
}

var lookalikes = strings.NewReplacer(
	"′", "'", "’", "'", "‘", "'", "″", `"`, "”", `"`, "“", `"`, "''", `"`,
	"\u00a0", " ", "\u2009", " ", "\u202f", " ", "−", "-", "·", "",
)

// number reads a plain decimal number: digits with one dot or decimal comma and
// an optional sign. Exponents, hexadecimal, infinities and NaN are not numbers a
// person means.
func number(s string) (float64, error) {
	body := strings.TrimLeft(s, "+-")
	if len(s)-len(body) > 1 || body == "" {
		return 0, fmt.Errorf("%q is not a number", s)
	}
	if i := strings.IndexByte(body, ','); i >= 0 {
		if strings.ContainsRune(body, '.') || strings.Count(body, ",") > 1 || len(body)-i-1 == 3 {
			return 0, fmt.Errorf("the comma in %q could be read two ways; use a dot for decimals and nothing for thousands", s)
		}
		s = strings.Replace(s, ",", ".", 1)
	}
	for _, r := range body {
		if (r < '0' || r > '9') && r != '.' && r != ',' {
			return 0, fmt.Errorf("%q is not a number", s)
		}
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsInf(v, 0) {
		return 0, fmt.Errorf("%q is not a number", s)
	}
	return v, nil
}

// split cuts a tidied text into its leading number and the rest.
func split(s string) (num, unit string) {
	i := strings.IndexFunc(s, func(r rune) bool {
		return (r < '0' || r > '9') && r != '.' && r != ',' && r != '+' && r != '-'
	})
	if i < 0 {
		return s, ""
	}
	return s[:i], strings.Join(strings.Fields(s[i:]), " ")
}

// kind is one quantity's way of being read: its name, how to write it, and its
// units with their factors to SI.
type kind struct {
	what, hint string
	units      map[string]float64
	signed     bool // negative values and zero have a meaning
}

func (k kind) fail(text, why string) error {
	return &Error{What: k.what, Text: text, Why: why, Hint: k.hint}
}

// parse reads "number unit".
func (k kind) parse(text string) (float64, error) {
	num, unit := split(tidy(text))
	if num == "" {
		return 0, k.fail(text, "there is no number at its start")
	}
	v, err := number(num)
	if err != nil {
		return 0, k.fail(text, err.Error())
	}
	if unit == "" {
		return 0, k.fail(text, "the unit is missing")
	}
	factor, ok := k.units[unit]
	if !ok {
		factor, ok = k.units[strings.ReplaceAll(unit, " ", "")]
	}
	if !ok {
		return 0, k.fail(text, fmt.Sprintf("the unit %q is not known", unit))
	}
	return k.check(text, v*factor)
}

// check refuses what no runner's quantity can be.
func (k kind) check(text string, v float64) (float64, error) {
	switch {
	case math.IsNaN(v) || math.IsInf(v, 0):
		return 0, k.fail(text, "it is too large")
	case !k.signed && v <= 0:
		return 0, k.fail(text, "it must be greater than zero")
	}
	return v, nil
}

// trim prints v with at most the given decimals and no trailing zeros.
func trim(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.ContainsRune(s, '.') {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		s = "0"
	}
	return s
}
