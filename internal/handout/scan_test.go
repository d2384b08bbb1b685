package handout_test

import (
	"encoding/json"
	"image"
	"image/color"
	"math"
	"strings"
	"testing"

	"gaitwright/gait/programme"
	"gaitwright/internal/handout"
)

// longLog is eight weeks of a log with notes, as the sheet's script cuts it.
const longLog = `const days = []; for (let i = 0; i < 56; i++) days.push({date: new Date(Date.UTC(2026, 2, 2 + i)).toISOString().slice(0, 10), done: i % 2 ? Object.keys(codes) : [], ran: i % 2 === 0, run_min: i % 2 === 0 ? 30 : null, pain: i % 4, next_day: false, bone: false, effort: 4, per_min: i % 6 ? null : 163, note: i % 7 ? "" : "Wade zog – nach dem Hügel, Woche " + i});
const log = {gaitwright_log: 1, visit: "01KA0000000000000000000000", sheet: "0123ABCD", days};`

// TestLongLogComesBackInParts cuts eight weeks with notes into QR codes by the
// sheet's script, draws each as a camera might see it, and reads them in any order.
func TestLongLogComesBackInParts(t *testing.T) {
	page := string(written(t, sheet(t, "en")))
	codes := map[string]string{}
	for _, m := range idAndCode.FindAllStringSubmatch(page, 6) {
		codes[m[1]] = m[2]
	}
	named, _ := json.Marshal(codes)
	var got []struct {
		Text string
		Rows []string
	}
	script(t, "code.js", "const codes = "+string(named)+";"+longLog+`console.log(JSON.stringify(logParts(log, codes).map((text) => ({text, rows: qrModules(text).map((r) => r.map((v) => v ? "1" : "0").join(""))}))));`, &got)
	if len(got) < 5 {
		t.Fatalf("%d parts", len(got))
	}
	largest, read := 0, []string{}
	for i, g := range got {
		largest = max(largest, len(g.Rows))
		text := handout.ReadQR(seenByCamera(g.Rows, 6+float64(i%3), float64(i%5-2)*4))
		if text != g.Text {
			t.Fatalf("part %d of %d modules is read as %q", i+1, len(g.Rows), text)
		}
		read = append([]string{text}, read...) // the last first
	}
	t.Logf("%d parts, at most %d modules a side", len(got), largest)
	read = append(read, read[1]) // and one twice
	l, err := handout.ParseLog([]byte(strings.Join(read, "\n")), programme.Default())
	if err != nil {
		t.Fatal(err)
	}
	if len(l.Days) != 56 || l.Short || l.Unknown != 0 || l.Days[7].Note != "Wade zog – nach dem Hügel, Woche 7" || len(l.Days[1].Done) != len(codes) || *l.Days[6].PerMin != 163 {
		t.Errorf("came back as %d days, %+v", len(l.Days), l.Days[7])
	}
	for name, c := range map[string]struct{ text, want string }{
		"one missing":     {strings.Join(read[1:len(read)-1], ""), "missing"},
		"of two codes":    {read[0] + strings.Replace(read[1], ":"+strings.Split(read[1], ":")[2]+":", ":00000000:", 1), "two codes"},
		"no number":       {"GW2:x/3:00000000:A", "cannot be read"},
		"number too high": {"GW2:4/3:00000000:A", "cannot be read"},
		"too many":        {"GW2:1/100000000:00000000:A", "cannot be read"},
		"spoiled":         {strings.Replace(strings.Join(read, ""), "163", "164", 1), "not whole"},
	} {
		if _, err := handout.ParseLog([]byte(c.text), programme.Default()); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if text := handout.ReadQR(image.NewGray(image.Rect(0, 0, 300, 200))); text != "" {
		t.Errorf("a black picture reads as %q", text)
	}
}

// FuzzReadQR reads pictures that are none of ours: whatever comes is empty or a code.
func FuzzReadQR(f *testing.F) {
	f.Add([]byte{0, 255, 0, 255}, uint8(3))
	f.Fuzz(func(t *testing.T, data []byte, wide uint8) {
		width := int(wide)%90 + 1
		img := image.NewGray(image.Rect(0, 0, width, len(data)/width))
		copy(img.Pix, data)
		if text := handout.ReadQR(img); text != "" && !strings.HasPrefix(text, "GW") {
			t.Errorf("read %q", text)
		}
	})
}

// seenByCamera draws modules turned a little, softly lit from one side, on a grey
// ground; a module is px pixels wide.
func seenByCamera(rows []string, px, degrees float64) image.Image {
	n := float64(len(rows))
	size := int((n + 16) * px)
	img := image.NewGray(image.Rect(0, 0, size, size))
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	for y := range size {
		for x := range size {
			u, v := float64(x)+0.5-float64(size)/2, float64(y)+0.5-float64(size)/2
			mx, my := (u*cos+v*sin)/px+n/2, (v*cos-u*sin)/px+n/2
			light := 0.55 + 0.35*float64(x)/float64(size)
			value := 0.6 // the ground
			switch {
			case mx >= 0 && my >= 0 && mx < n && my < n:
				value = 0.95
				if rows[int(my)][int(mx)] == '1' {
					value = 0.1
				}
			case mx > -4 && my > -4 && mx < n+4 && my < n+4:
				value = 0.95
			}
			img.SetGray(x, y, color.Gray{Y: uint8(255 * light * value)})
		}
	}
	return img
}
