package cli

import (
	"strings"
	"testing"
)

func TestParseStickers(t *testing.T) {
	got, err := parseStickers([]string{"left_psis=12,640.5,380", "2:my own=0,1,2", "left_psis=40,600,381"}, 2)
	if err != nil {
		t.Fatal(err)
	}
	if p := got[0]; len(p) != 1 || p[0].Name != "left_psis" || len(p[0].Clicks) != 2 || p[0].Clicks[0].X != 640.5 || p[0].Clicks[1].Frame != 40 {
		t.Errorf("first film: %+v", p)
	}
	if p := got[1]; len(p) != 1 || p[0].Name != "my own" || p[0].Clicks[0].Y != 2 {
		t.Errorf("second film: %+v", p)
	}
	for _, bad := range []string{"", "left_psis", "=1,2,3", "a=1,2", "a=1.5,2,3", "a=-1,2,3", "a=1,NaN,3", "a=1,2,Inf", "a=1,2,-3", "3:a=1,2,3", "0:a=1,2,3", "x:a=1,2,3", "a=1,2,3,4"} {
		if _, err := parseStickers([]string{bad}, 2); err == nil || !strings.Contains(err.Error(), "--sticker") {
			t.Errorf("%q: %v", bad, err)
		}
	}
}
