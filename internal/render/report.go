package render

import (
	"errors"
	"fmt"
	"image"
	"slices"
	"strings"
	"time"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/measure"
	"gaitwright/num/quantity"
)

// MaxKeyFrames is how many pictures a report holds.
const MaxKeyFrames = 12

// Report is what stands on the page. Only Runner and Made are needed; what is
// empty is left out.
type Report struct {
	Paper  Size   // A4 where it is zero
	US     bool   // speeds are said in miles; lengths are given in inches ("in") then
	Title  string // "Running gait report" where it is empty
	Studio Studio
	Runner string    // name
	About  string    // one line on the runner: height, mass, shoes, purpose
	Made   time.Time // printed as a date, and the date of the file

	Clips     []Clip
	Facts     []Fact // further facts for the head of the page
	KeyFrames []KeyFrame
	Curves    []measure.Curve // in the order in which they are to be shown
	Bands     []Reference     // to compare curves with

	// Measures of all clips, in order; left and right of one name stand in one
	// row, under the catalogue's headings.
	Measures    []measure.Measure
	Asymmetries []measure.Asymmetry
	Remarks     []string // on the table as a whole, under it

	Warnings []string // about this measurement
	Notes    []string // of the analyst
	Cautions []string // beside the usual ones
	Method   []string // how it was measured: what found the landmarks and contacts, their errors
	Foot     string   // the program and its version
}

// Studio is whose letterhead it is.
type Studio struct {
	Name    string
	Contact string // one line: address, telephone, web
}

// Clip is one clip that was measured.
type Clip struct {
	Info  clip.Info
	Steps int // contacts of both feet that were seen
}

// Fact is a labelled line at the head of the page.
type Fact struct{ Label, Value string }

// KeyFrame is a picture of the runner with whatever the caller has drawn on it.
type KeyFrame struct {
	Title string // "Contact"
	Image image.Image
	// Focus is the part of the picture, in its own pixels, that has to stay in
	// view: the runner. Empty for the middle of the whole.
	Focus image.Rectangle
	View  clip.View
	Side  body.Side // of the foot that is meant
	Label string    // what to see in it: "knee 17°, shank 6°"
	TimeS float64   // on the clip's clock; NaN where it is not to be printed
}

// usualCautions stand on every report.
const usualCautions = "This report describes how the runner moved in these clips. It is not a diagnosis, and a number outside a range is not a fault. " +
	"Where there is pain, or a warning sign such as swelling, numbness, night pain, pain in one spot of a bone or pain that worsens with running, stop and refer to licensed care before any change of running or exercise. " +
	"Local rules decide what a coach may assess and advise."

// check reports what makes a page impossible.
func (r *Report) check() error {
	var errs []error
	if strings.TrimSpace(r.Runner) == "" {
		errs = append(errs, errors.New("the report has no runner: give a name"))
	}
	if r.Made.IsZero() {
		errs = append(errs, errors.New("the report has no date: give the day of the visit"))
	}
	if n := len(r.KeyFrames); n > MaxKeyFrames {
		errs = append(errs, fmt.Errorf("%d pictures do not fit one page: give at most %d", n, MaxKeyFrames))
	}
	if s := r.paper(); s.W < 400 || s.H < 500 || s.W > s.H {
		errs = append(errs, fmt.Errorf("paper of %.0f by %.0f points is too small or lies on its side: use A4 or Letter, upright", s.W, s.H))
	}
	return errors.Join(errs...)
}

func (r *Report) paper() Size {
	if r.Paper == (Size{}) {
		return A4
	}
	return r.Paper
}

func (r *Report) title() string {
	if t := strings.TrimSpace(r.Title); t != "" {
		return t
	}
	return "Running gait report"
}

// facts lists what the head of the page tells.
func (r *Report) facts() []Fact {
	var out []Fact
	add := func(label, value string) {
		f := Fact{label, value}
		for _, o := range out {
			if o == f {
				return
			}
		}
		if strings.TrimSpace(value) != "" {
			out = append(out, f)
		}
	}
	for _, c := range r.Clips {
		if v := c.Info.BeltSpeedMPS; v > 0 {
			s := quantity.Speed(v)
			if r.US {
				add("Speed", fmt.Sprintf("%.1f mph · %s", s.MPH(), s.PaceMile()))
				continue
			}
			add("Speed", fmt.Sprintf("%.2f m/s · %.1f km/h · %s", s.MPS(), s.KMH(), s.Pace()))
		}
	}
	add("Filmed", r.filmed())
	add("Steps", r.steps())
	return append(out, r.Facts...)
}

// filmed tells from where the clips were taken, where and how finely; what they
// have in common is said once.
func (r *Report) filmed() string {
	var views, each, common []string
	for _, c := range r.Clips {
		view, how := viewTitle(c.Info.View), c.Info.Surface.String()
		if c.Info.FrameRateHz > 0 {
			how += ", " + trimmed(c.Info.FrameRateHz) + " frames/s"
		}
		if len(views) > 0 {
			view = strings.ToLower(view[:1]) + view[1:]
		}
		views, each = append(views, view), append(each, view+", "+how)
		if !slices.Contains(common, how) {
			common = append(common, how)
		}
	}
	if len(common) == 1 {
		return strings.Join(views, ", ") + "; " + common[0]
	}
	return strings.Join(each, "; ")
}

// steps tells how many steps each clip shows.
func (r *Report) steps() string {
	var p []string
	for _, c := range r.Clips {
		switch view := viewTitle(c.Info.View); {
		case c.Steps <= 0:
		case len(r.Clips) == 1:
			p = append(p, fmt.Sprint(c.Steps))
		case c.Info.View.Sagittal():
			p = append(p, fmt.Sprintf("%d from the side", c.Steps))
		default:
			p = append(p, fmt.Sprintf("%d %s", c.Steps, strings.ToLower(view[:1])+view[1:]))
		}
	}
	return strings.Join(p, ", ")
}

func trimmed(v float64) string {
	return strings.TrimSuffix(fmt.Sprintf("%.1f", v), ".0")
}

func viewTitle(v clip.View) string {
	switch v {
	case clip.LeftSide:
		return "Left side"
	case clip.RightSide:
		return "Right side"
	case clip.Rear:
		return "From behind"
	case clip.Front:
		return "From the front"
	case clip.Spatial:
		return "Markers in space"
	}
	return "View not known"
}

// wordsOf makes a heading of a snake-case name.
func wordsOf(name string) string {
	s := strings.TrimSpace(strings.ReplaceAll(name, "_", " "))
	if s == "" {
		return s
	}
	r := []rune(s)
	return strings.ToUpper(string(r[:1])) + string(r[1:])
}
