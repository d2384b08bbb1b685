package exam

import (
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"gaitwright/gait/body"
)

// Participant is a person of an open research set with the exam that was done.
type Participant struct {
	Subject string
	AgeY    int
	HeightM float64
	Body    Body
	// Injured says what the set says of injuries: where, empty for none.
	Injured string
	Sheet   Sheet
}

// NominalLeverM is the lever arm put beside forces that come without one, so that
// side ratios and force per mass can be told; torque from it is not to be used.
const NominalLeverM = 0.40

// NoLever marks entries whose lever arm is nominal.
const NoLever = "the table gives no lever arm: torque is by a nominal 0.40 m, the ratio of the sides is not touched"

// ReadParticipants reads the participants' table of Fukuchi, Fukuchi & Duarte
// 2017 (PeerJ 5:e3298): one row a person, strength in kgf, angles in degrees.
func ReadParticipants(r io.Reader) ([]Participant, error) {
	rows, at, err := openTable(r)
	if err != nil {
		return nil, err
	}
	for _, need := range []string{"subject", "height", "mass", "gender", "rthomas", "lthomas"} {
		if _, ok := at[need]; !ok {
			return nil, fmt.Errorf("line 1: the column %q is missing: this is not the participants' table of that set", need)
		}
	}
	var out []Participant
	for {
		rec, err := rows.Read()
		if errors.Is(err, io.EOF) {
			return out, nil
		}
		if err != nil {
			return nil, fmt.Errorf("this is no well-formed table: %w", err)
		}
		line, _ := rows.FieldPos(0)
		var wrong error
		text := func(name string) string {
			if i, ok := at[name]; ok && i < len(rec) {
				return strings.TrimSpace(rec[i])
			}
			return ""
		}
		number := func(name string) (float64, bool) {
			s := text(name)
			if s == "" || s == "-" || strings.EqualFold(s, "nan") {
				return 0, false
			}
			v, err := strconv.ParseFloat(s, 64)
			if err != nil {
				wrong = fmt.Errorf("line %d, column %s: %q is not a number", line, name, s)
			}
			return v, err == nil
		}
		p := Participant{Subject: text("subject")}
		height, _ := number("height")
		p.HeightM = height / 100
		p.Body.MassKG, _ = number("mass")
		age, _ := number("age")
		p.AgeY = int(age)
		switch text("gender") {
		case "M":
			p.Body.Sex = "male"
		case "F":
			p.Body.Sex = "female"
		}
		if strings.EqualFold(text("injury"), "yes") {
			p.Injured = text("injuryloc")
		}
		for _, c := range []struct{ column, test string }{
			{"thomas", "thomas_hip"}, {"ober", "ober"},
			{"hipabd", "hip_abduction_strength"}, {"hipext", "hip_extension_strength"},
			{"hiper", "hip_external_rotation_strength"}, {"hipir", "hip_internal_rotation_strength"},
		} {
			t, _ := Lookup(c.test)
			for _, side := range []body.Side{body.Left, body.Right} {
				v, ok := number(side.String()[:1] + c.column)
				if !ok {
					continue
				}
				e := Entry{Test: c.test, Side: side, Trials: []Trial{{Value: v}}}
				if t.Kind == Strength {
					e.Trials[0] = Trial{ForceN: v * StandardGravityMPS2, LeverM: NominalLeverM}
					e.Note = NoLever
				}
				p.Sheet.Entries = append(p.Sheet.Entries, e)
			}
		}
		if wrong != nil {
			return nil, wrong
		}
		if errs := p.Sheet.Check(); len(errs) > 0 {
			return nil, fmt.Errorf("line %d: %w", line, errs[0])
		}
		out = append(out, p)
	}
}
