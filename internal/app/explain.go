package app

import (
	"fmt"
	"strings"

	"gaitwright/gait/body"
	"gaitwright/gait/measure"
)

// Explain returns the explanation of a measure, the list of all measures for an
// empty name, and the list of landmarks for "landmarks".
func Explain(name string) (string, error) {
	switch name {
	case "":
		return measureList(), nil
	case "landmarks":
		var b strings.Builder
		b.WriteString("Landmarks, as they are named in keypoint files and marker mappings:\n\n")
		for l := range body.NumLandmarks {
			fmt.Fprintf(&b, "  %s\n", l)
			if l == body.NumPose-1 {
				b.WriteString("\nfrom stickers and marker files only:\n\n")
			}
		}
		return b.String(), nil
	}
	text, err := measure.Explain(name)
	if err != nil {
		return "", &Problem{Kind: KindUsage, What: err.Error(), Mend: "`gaitwright explain` lists all measures.", Err: err}
	}
	return text, nil
}

// MeasureName is a measure by the name one types and the title one reads.
type MeasureName struct{ Name, Title string }

// MeasureNames lists all measures.
func MeasureNames() []MeasureName {
	var out []MeasureName
	for _, d := range measure.Catalogue() {
		out = append(out, MeasureName{d.Name, d.Title})
	}
	return out
}

func measureList() string {
	var b strings.Builder
	b.WriteString("Measures; `gaitwright explain NAME` gives definition, sign, formula, source and error.\n")
	group := ""
	for _, d := range measure.Catalogue() {
		if d.Group != group {
			group = d.Group
			fmt.Fprintf(&b, "\n%s\n", group)
		}
		fmt.Fprintf(&b, "  %-28s %-10s %s\n", d.Name, d.Unit, d.Title)
	}
	return b.String()
}
