package app

import "testing"

func TestOnPage(t *testing.T) {
	for said, want := range map[string]string{
		"": "",
		"side.mp4: the display's 3.33 m/s is 66 % too high":                                        "side.mp4: the display's 3.33 m/s is 66 % too high",
		"Stand it square; for this film, --yaw 9 corrects the side view":                           "Stand it square; for this film, the camera's turn (9°) corrects the side view",
		"The belt speed is not known. Give it (--speed 3.5m/s); a clip does not show it.":          "The belt speed is not known. Give it; a clip does not show it.",
		"the camera stands between side and rear; it was taken as left: say --view":                "The camera stands between side and rear; it was taken as left: say the view",
		"no contact was found by force; use --contacts motion":                                     "No contact was found by force; use contacts from motion",
		"give the rate at which it was filmed: --capture-rate 240.":                                "Give the rate at which it was filmed: the capture rate (240).",
		"choose another with --start and --end":                                                    "Choose another with the start and end",
		"The error (±5.0 deg) is larger than the differences that matter. Film from the side too.": "The error (±5.0 deg) is larger than the differences that matter. Film from the side too.",
	} {
		if got := onPage(said); got != want {
			t.Errorf("onPage(%q)\n got %q\nwant %q", said, got, want)
		}
	}
}
