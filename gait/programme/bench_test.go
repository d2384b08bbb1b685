package programme

import "testing"

func BenchmarkParseLibrary(b *testing.B) {
	for b.Loop() {
		if _, err := ParseLibrary(libraryYAML); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkMake(b *testing.B) {
	lib := Default()
	in := Input{Start: start, Equipment: Equipment}
	for _, a := range everyAim() {
		in.Aims = append(in.Aims, aimed(a))
	}
	for b.Loop() {
		Make(lib, in)
	}
}
