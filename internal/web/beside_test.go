package web

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"gaitwright/internal/app"
)

// What is asked amiss of two strides, of drawings and of what is taken away is
// refused with a status that says why.
func TestBesideRefuses(t *testing.T) {
	st, err := app.OpenStudio(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	h := New(st, Options{Log: quiet()}).Handler()
	const id = "01M89B8N6J0JN0MV1GHXBXDKY0"
	const drawings = "/api/results/" + id + "/clips/0/drawings"
	const form = "application/json"
	show := func(s string) string { return "/api/picture.png?show=" + url.QueryEscape(s) }
	for _, c := range []amiss{
		{"a visit that is none", "GET", "/api/visits/" + id + "/beside", "", "", http.StatusNotFound},
		{"a visit that climbs", "GET", "/api/visits/..%2fx/beside", "", "", http.StatusNotFound},
		{"a result that is none", "GET", "/api/results/" + id + "/beside", "", "", http.StatusUnprocessableEntity},
		{"strides without names", "GET", "/api/pairing?foot=left", "", "", http.StatusBadRequest},
		{"a stride below nought", "GET", "/api/pairing?foot=left&a=" + id + "/0/-1&b=" + id + "/0/0", "", "", http.StatusBadRequest},
		{"a stride that climbs", "GET", "/api/pairing?foot=left&a=../../0/0&b=" + id + "/0/0", "", "", http.StatusBadRequest},
		{"a foot that is none", "GET", "/api/pairing?foot=third&a=" + id + "/0/0&b=" + id + "/0/0", "", "", http.StatusBadRequest},
		{"drawings of no result", "GET", drawings, "", "", http.StatusNotFound},
		{"drawings as another site sends them", "PUT", drawings, "text/plain", "{}", http.StatusUnsupportedMediaType},
		{"drawings that are no JSON", "PUT", drawings, form, "{", http.StatusBadRequest},
		{"drawings with a field that is none", "PUT", drawings, form, `{"colour":1}`, http.StatusBadRequest},
		{"too many drawings", "PUT", drawings, form, `{"what":"` + strings.Repeat("x", maxBody) + `"}`, http.StatusRequestEntityTooLarge},
		{"an undo of no result", "POST", drawings + "/undo", form, "{}", http.StatusUnprocessableEntity},
		{"a picture of nothing", "GET", "/api/picture.png", "", "", http.StatusBadRequest},
		{"a picture of a field that is none", "GET", show(`{"file":"/etc/passwd"}`), "", "", http.StatusBadRequest},
		{"a picture of a result that climbs", "GET", show(`{"a":{"result":"../x"},"format":"png"}`), "", "", http.StatusBadRequest},
		{"a picture that is a film", "GET", show(`{"a":{"result":"` + id + `"},"format":"mp4"}`), "", "", http.StatusUnprocessableEntity},
		{"a film in a form of another site", "POST", "/api/exports", "text/plain", "{}", http.StatusUnsupportedMediaType},
		{"a film of no result", "POST", "/api/exports", form, `{"a":{"result":"` + id + `"},"to":9,"slow":1,"format":"mp4"}`, http.StatusUnprocessableEntity},
		{"a film in a format that climbs", "POST", "/api/exports", form, `{"a":{"result":"` + id + `"},"format":"../x"}`, http.StatusUnprocessableEntity},
		{"a film that is none", "GET", "/api/exports/" + id, "", "", http.StatusNotFound},
		{"a film that climbs", "GET", "/api/exports/..%2f..%2fstudio.db", "", "", http.StatusNotFound},
	} {
		c.check(t, h)
	}
}

// A file's name may have any letters and is no way into the header.
func TestAttachment(t *testing.T) {
	for name, want := range map[string]string{
		"gait-Ada-frame-3.png": `attachment; filename=gait-Ada-frame-3.png`,
		"gait-Zoë.png":         `attachment; filename*=utf-8''gait-Zo%C3%AB.png`,
	} {
		if got := attachment(name); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
