package web

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"gaitwright/internal/app"
)

// amiss is a request that is refused with a status and with why.
type amiss struct {
	name, method, path, kind, body string
	status                         int
}

func (c amiss) check(t *testing.T, h http.Handler) {
	t.Helper()
	r := httptest.NewRequest(c.method, "http://localhost"+c.path, strings.NewReader(c.body))
	if c.kind != "" {
		r.Header.Set("Content-Type", c.kind)
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	if w.Code != c.status || !strings.Contains(w.Body.String(), `"error":`) {
		t.Errorf("%s: status %d (%s), not %d", c.name, w.Code, strings.TrimSpace(w.Body.String()), c.status)
	}
}

// What the bench is asked amiss is refused with a status that says why.
func TestBenchRefuses(t *testing.T) {
	st, err := app.OpenStudio(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	h := New(st, Options{Log: quiet()}).Handler()
	const none = "/api/results/01M89B8N6J0JN0MV1GHXBXDKY0/clips/"
	for _, c := range []amiss{
		{"a form of another site", "POST", none + "0/edits", "text/plain", "{}", http.StatusUnsupportedMediaType},
		{"what is no JSON", "POST", none + "0/edits", "application/json", "{", http.StatusBadRequest},
		{"a field that is none", "POST", none + "0/edits", "application/json", `{"version":0,"tail":1}`, http.StatusBadRequest},
		{"too much", "POST", none + "0/edits", "application/json", `{"what":"` + strings.Repeat("x", maxCorrection) + `"}`, http.StatusRequestEntityTooLarge},
		{"a result that is none", "GET", none + "0/edits", "", "", http.StatusNotFound},
		{"a clip that is none", "GET", none + "-1/check", "", "", http.StatusNotFound},
		{"a name that climbs", "GET", "/api/results/..%2f..%2fetc/clips/0/edits", "", "", http.StatusNotFound},
	} {
		c.check(t, h)
	}
}
