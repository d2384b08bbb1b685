package c3d

import (
	"cmp"
	"math"
	"slices"
)

// readEvents collects the events of the EVENT group and, where there are none,
// those of the header. Times in the file count from the laboratory's frame 1;
// they are moved to the clock of the file's first frame.
func (f *File) readEvents(data []byte) {
	ps := f.params
	times := ps.extendedNumbers("EVENT", "TIMES")
	labels, contexts := ps.extended("EVENT", "LABELS"), ps.extended("EVENT", "CONTEXTS")
	used := int(ps.number("EVENT", "USED", 0))
	startS := float64(f.FirstFrame-1) / f.RateHz
	at := func(list []string, i int) string {
		if i < len(list) {
			return list[i]
		}
		return ""
	}
	for i := 0; i < used && 2*i+1 < len(times); i++ {
		t := 60*times[2*i] + times[2*i+1] - startS
		f.Events = append(f.Events, Event{TimeS: t, Label: at(labels, i), Context: at(contexts, i)})
	}
	if len(f.Events) == 0 {
		f.Events = headerEvents(data, startS)
	}
	slices.SortStableFunc(f.Events, func(a, b Event) int { return cmp.Compare(a.TimeS, b.TimeS) })
}

// headerEvents reads the up to eighteen events of the header block, whose times
// are in words 153-188, switches in 189-197 and four-letter names in 199-234. An
// event that is switched off is left out.
func headerEvents(data []byte, startS float64) []Event {
	const fourLetters = 12345
	if u16(data, 2*149) != fourLetters {
		return nil
	}
	var out []Event
	for i := range min(u16(data, 2*150), 18) {
		t := f32(data, 2*152+4*i)
		if math.IsNaN(t) || math.IsInf(t, 0) || data[2*188+i] != 0 {
			continue
		}
		out = append(out, Event{TimeS: t - startS, Label: clean(data[2*198+4*i : 2*198+4*i+4])})
	}
	return out
}
