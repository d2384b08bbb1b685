package handout

// inUS says the instructions of an exercise with lengths in inches. What a coach wrote
// in their own exercise stays as it was written.
func inUS(how []string) []string {
	out := make([]string, len(how))
	for i, s := range how {
		if us, ok := usSaid[s]; ok {
			s = us
		}
		out[i] = s
	}
	return out
}

// usSaid are the library's sentences that name a metric length: 2 to 3 cm are 0.8 to
// 1.2 in.
var usSaid = map[string]string{
	"Each foot lands on its own side, two or three centimetres are enough.":   "Each foot lands on its own side, about an inch is enough.",
	"Jeder Fuß setzt auf seiner Seite auf; zwei bis drei Zentimeter genügen.": "Jeder Fuß setzt auf seiner Seite auf; etwa ein Zoll genügt.",
}
