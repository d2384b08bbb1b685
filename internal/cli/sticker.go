package cli

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"gaitwright/internal/app"
)

// parseStickers reads clicks of the form [FILE:]NAME=FRAME,X,Y. FILE is the place
// of the film among those named, counted from 1; several clicks with one name are
// of one sticker.
func parseStickers(texts []string, files int) (map[int][]app.StickerPoint, error) {
	var out map[int][]app.StickerPoint
	for _, text := range texts {
		wrong := func(why string) error {
			return fmt.Errorf("--sticker %q: %s; write name=frame,x,y, such as left_psis=12,640.5,380 (2:left_psis=… for the second film)", text, why)
		}
		name, place, ok := strings.Cut(text, "=")
		if !ok {
			return nil, wrong("there is no =")
		}
		file := 1
		if n, rest, ok := strings.Cut(name, ":"); ok {
			v, err := strconv.Atoi(n)
			if err != nil || v < 1 || v > files {
				return nil, wrong(fmt.Sprintf("there is no file %s among %d", n, files))
			}
			file, name = v, rest
		}
		if name = strings.TrimSpace(name); name == "" {
			return nil, wrong("there is no name")
		}
		parts := strings.Split(place, ",")
		if len(parts) != 3 {
			return nil, wrong("a click has three numbers")
		}
		frame, err := strconv.Atoi(strings.TrimSpace(parts[0]))
		if err != nil || frame < 0 {
			return nil, wrong("the frame is a whole number from 0 on")
		}
		var xy [2]float64
		for i, p := range parts[1:] {
			v, err := strconv.ParseFloat(strings.TrimSpace(p), 64)
			if err != nil || !(v >= 0) || math.IsInf(v, 0) {
				return nil, wrong("x and y are pixels from the top-left corner")
			}
			xy[i] = v
		}
		if out == nil {
			out = map[int][]app.StickerPoint{}
		}
		points := out[file-1]
		at := -1
		for i := range points {
			if points[i].Name == name {
				at = i
			}
		}
		if at < 0 {
			points = append(points, app.StickerPoint{Name: name})
			at = len(points) - 1
		}
		points[at].Clicks = append(points[at].Clicks, app.StickerClick{Frame: frame, X: xy[0], Y: xy[1]})
		out[file-1] = points
	}
	return out, nil
}
