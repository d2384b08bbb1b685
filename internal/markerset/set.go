package markerset

import (
	"bytes"
	"embed"
	"errors"
	"fmt"
	"slices"
	"strings"

	"gaitwright/gait/body"
	"gaitwright/gait/table"
)

//go:embed sets/*.yaml
var sets embed.FS

//go:embed schema.json
var schemaJSON []byte

// MaxBytes bounds a user's marker-set file.
const MaxBytes = 1 << 20

var file = table.NewFile("mapping of marker names", MaxBytes, schemaJSON, map[string]string{"oneOf": "a recipe has exactly one of mean, inward, hip, functional, toe and between"})

// Set is a marker set: how the landmarks are found from a laboratory's markers.
type Set struct {
	Name  string `yaml:"name"`
	About string `yaml:"about"`
	// Aliases gives other spellings of a marker's name, by the name that the rest
	// of the set uses.
	Aliases map[string][]string `yaml:"aliases"`
	// Segments lists the markers that lie on one rigid part of the body. A left
	// and a right segment of the same name list their markers in the same order.
	Segments map[string][]string `yaml:"segments"`
	// Landmarks gives the recipes of each landmark, most trusted first.
	Landmarks map[string]Recipes `yaml:"landmarks"`
}

// Recipes is the list of ways to find one landmark.
type Recipes []Recipe

// UnmarshalYAML reads a list of recipes, or the name of one marker.
func (r *Recipes) UnmarshalYAML(unmarshal func(any) error) error {
	var name string
	if err := unmarshal(&name); err == nil {
		*r = Recipes{{Mean: []string{name}}}
		return nil
	}
	var list []Recipe
	if err := unmarshal(&list); err != nil {
		return err
	}
	*r = list
	return nil
}

// Recipe is one way to find a landmark. Exactly one of Mean, Inward, Hip,
// Functional, Toe and Between is set.
type Recipe struct {
	// Mean is the mean of these markers, with Weights where given.
	Mean    []string  `yaml:"mean"`
	Weights []float64 `yaml:"weights"`
	// Inward is a marker on the outer side of a joint, moved toward the midline.
	Inward *Inward `yaml:"inward"`
	// Hip is the hip centre by regression from the pelvis.
	Hip *Hip `yaml:"hip"`
	// Functional is the joint centre between two segments that have no marker at
	// the joint.
	Functional *Functional `yaml:"functional"`
	// Toe is the tip of the foot beyond the metatarsal heads.
	Toe *Toe `yaml:"toe"`
	// Between is a point on the line between two other landmarks.
	Between *Between `yaml:"between"`

	// CarriedBy names the segments that carry the point from the standing trial
	// into the run; the mean is taken of several.
	CarriedBy []string `yaml:"carried_by"`
	// Confidence, 0 to 1, of the landmark found this way; 0 means 1.
	Confidence float64 `yaml:"confidence"`
	// Note is told to the analyst when this recipe is used.
	Note string `yaml:"note"`
}

// Inward describes Recipe.Inward: Marker, moved ByM metres toward the midline.
type Inward struct {
	Marker string  `yaml:"marker"`
	ByM    float64 `yaml:"by_m"`
}

// Hip describes Recipe.Hip by the markers on the anterior spines and the mean of
// those at the back of the pelvis.
type Hip struct {
	LeftASIS  string   `yaml:"left_asis"`
	RightASIS string   `yaml:"right_asis"`
	Back      []string `yaml:"back"`
}

// Functional describes Recipe.Functional: the segments above and below the joint,
// and the landmark that on average lies as far to the side as the joint's centre.
type Functional struct {
	Above string `yaml:"above"`
	Below string `yaml:"below"`
	Near  string `yaml:"near"`
}

// Toe describes Recipe.Toe: from the middle of the forefoot markers, Beyond times
// the way from the heel marker to there. In a standing trial the toe is set level
// with the heel marker, so that a foot flat on the ground reads zero.
type Toe struct {
	Heel     string   `yaml:"heel"`
	Forefoot []string `yaml:"forefoot"`
	Beyond   float64  `yaml:"beyond"`
}

// Between describes Recipe.Between: From plus At times the way to To.
type Between struct {
	From string  `yaml:"from"`
	To   string  `yaml:"to"`
	At   float64 `yaml:"at"`
}

// markers returns the markers that the recipe itself uses.
func (r Recipe) markers() []string {
	switch {
	case len(r.Mean) > 0:
		return r.Mean
	case r.Inward != nil:
		return []string{r.Inward.Marker}
	case r.Hip != nil:
		return append([]string{r.Hip.LeftASIS, r.Hip.RightASIS}, r.Hip.Back...)
	case r.Toe != nil:
		return append([]string{r.Toe.Heel}, r.Toe.Forefoot...)
	}
	return nil
}

// Names returns the names of the built-in marker sets.
func Names() []string {
	entries, err := sets.ReadDir("sets")
	if err != nil {
		panic(err) // the sets are part of the program
	}
	out := make([]string, len(entries))
	for i, e := range entries {
		out[i] = strings.TrimSuffix(e.Name(), ".yaml")
	}
	return out
}

// BuiltIn returns a built-in marker set by its name.
func BuiltIn(name string) (Set, error) {
	data, err := sets.ReadFile("sets/" + name + ".yaml")
	if err != nil {
		return Set{}, fmt.Errorf("marker set %q is not built in: the built-in ones are %s", name, strings.Join(Names(), ", "))
	}
	return Parse(data)
}

// Source returns the YAML text of a built-in set, as a start for one's own.
func Source(name string) ([]byte, error) {
	data, err := sets.ReadFile("sets/" + name + ".yaml")
	if err != nil {
		return nil, fmt.Errorf("marker set %q is not built in: the built-in ones are %s", name, strings.Join(Names(), ", "))
	}
	return data, nil
}

// Parse reads a marker set from YAML and checks it: its shape against the schema,
// then every name in it.
func Parse(data []byte) (Set, error) {
	var s Set
	if err := file.Read(data, &s); err != nil {
		return Set{}, err
	}
	return s, s.check()
}

func (s Set) check() error {
	var faults []string
	for name, recipes := range s.Landmarks {
		if _, err := body.ParseLandmark(name); err != nil {
			faults = append(faults, err.Error())
		}
		for i, r := range recipes {
			where := fmt.Sprintf("landmark %s, recipe %d", name, i+1)
			for _, seg := range r.CarriedBy {
				if _, ok := s.Segments[seg]; !ok {
					faults = append(faults, fmt.Sprintf("%s is carried by segment %q, which the set does not list", where, seg))
				}
			}
			if len(r.Weights) > 0 && len(r.Weights) != len(r.Mean) {
				faults = append(faults, fmt.Sprintf("%s has %d weights for %d markers", where, len(r.Weights), len(r.Mean)))
			}
			if sum := total(r.Weights); len(r.Weights) > 0 && !(sum > 0) {
				faults = append(faults, fmt.Sprintf("%s has weights that sum to %g", where, sum))
			}
			if f := r.Functional; f != nil {
				for _, seg := range []string{f.Above, f.Below} {
					if _, ok := s.Segments[seg]; !ok {
						faults = append(faults, fmt.Sprintf("%s uses segment %q, which the set does not list", where, seg))
					}
				}
				if _, ok := s.Landmarks[f.Near]; !ok {
					faults = append(faults, fmt.Sprintf("%s takes its place sideways from %q, which the set does not find", where, f.Near))
				}
			}
			if b := r.Between; b != nil {
				for _, l := range []string{b.From, b.To} {
					if _, ok := s.Landmarks[l]; !ok {
						faults = append(faults, fmt.Sprintf("%s lies between landmarks, of which the set does not find %q", where, l))
					}
				}
			}
		}
	}
	if len(faults) > 0 {
		slices.Sort(faults)
		return fmt.Errorf("the marker set has faults:\n  %s", strings.Join(faults, "\n  "))
	}
	return nil
}

func total(v []float64) float64 {
	sum := 0.0
	for _, x := range v {
		sum += x
	}
	return sum
}

// index finds the markers of a file by the names that a set uses.
type index struct {
	set   *Set
	plain map[string]int // plain label to place in the file
	moved map[string]int // names exchanged after a check of the shapes
}

func newIndex(s *Set, labels []string) *index {
	x := &index{set: s, plain: make(map[string]int, len(labels)), moved: map[string]int{}}
	for i, l := range labels {
		if _, taken := x.plain[plain(l)]; !taken {
			x.plain[plain(l)] = i
		}
	}
	return x
}

// find returns the place in the file of the marker that the set calls name.
func (x *index) find(name string) (int, bool) {
	if i, ok := x.moved[name]; ok {
		return i, true
	}
	if i, ok := x.plain[plain(name)]; ok {
		return i, true
	}
	for _, a := range x.set.Aliases[name] {
		if i, ok := x.plain[plain(a)]; ok {
			return i, true
		}
	}
	return 0, false
}

func (x *index) all(names []string) bool {
	for _, n := range names {
		if _, ok := x.find(n); !ok {
			return false
		}
	}
	return true
}

// serves tells how many of a file's markers the set uses, and whether they give
// at least a heel, toe, forefoot or ankle on both sides.
func (s *Set) serves(labels []string) (markers int, feet bool) {
	x := newIndex(s, labels)
	used := map[int]bool{}
	for _, m := range s.markerNames() {
		if i, ok := x.find(m); ok {
			used[i] = true
		}
	}
	var foot [3]bool
	for name, recipes := range s.Landmarks {
		l, err := body.ParseLandmark(name)
		if err != nil {
			continue
		}
		for _, r := range recipes {
			if m := r.markers(); len(m) > 0 && x.all(m) {
				switch l.On(body.Left) {
				case body.LeftHeel, body.LeftToe, body.LeftMT1, body.LeftMT5, body.LeftAnkle:
					foot[l.Side()] = true
				}
				break
			}
		}
	}
	return len(used), foot[body.Left] && foot[body.Right]
}

// Detect returns the built-in set that uses the most of these markers; false where
// none finds both feet.
func Detect(labels []string) (Set, bool) {
	var best Set
	most := 0
	for _, name := range Names() {
		s, err := BuiltIn(name)
		if err != nil {
			panic(fmt.Sprintf("markerset: built-in set %s: %v", name, err))
		}
		if n, feet := s.serves(labels); feet && n > most {
			best, most = s, n
		}
	}
	return best, most > 0
}

// UnknownNames is the error for a file whose markers no set knows: it lists the
// names and gives a YAML skeleton to fill in.
func UnknownNames(labels []string) error {
	var b strings.Builder
	fmt.Fprintf(&b, "no marker set knows the names in this file (%s): say which marker is which in a YAML file, such as the one below, and give it with --markers FILE\n\n", strings.Join(labels, ", "))
	b.Write(Skeleton(labels))
	return errors.New(b.String())
}

// Skeleton returns a marker-set file for the given names with the landmarks that
// matter most, to be filled in.
func Skeleton(labels []string) []byte {
	var b bytes.Buffer
	b.WriteString("# A marker set of your own. Put the name of a marker after each landmark, delete\n# the lines that you have no marker for, and keep at least both feet and the pelvis.\n# The names in your file are:\n")
	for _, l := range labels {
		fmt.Fprintf(&b, "#   %s\n", l)
	}
	b.WriteString("name: my-laboratory\nlandmarks:\n")
	for _, l := range []body.Landmark{body.LeftHeel, body.LeftToe, body.LeftMT5, body.LeftAnkle, body.LeftKnee, body.LeftHip, body.LeftASIS, body.LeftPSIS, body.LeftShoulder} {
		for _, s := range body.Sides {
			fmt.Fprintf(&b, "  %s: NAME\n", l.On(s))
		}
	}
	b.WriteString("  # A joint with a marker on either side is the mean of the two:\n  # left_knee:\n  #   - mean: [OUTER, INNER]\n")
	return b.Bytes()
}
