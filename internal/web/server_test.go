package web

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"image/jpeg"
	"io"
	"io/fs"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"gaitwright/internal/app"
	"gaitwright/ui"
)

func quiet() *slog.Logger { return slog.New(slog.DiscardHandler) }

// ask sends one request to a server of the invented results.
func ask(t *testing.T, src Source, path string, change func(*http.Request)) *http.Response {
	t.Helper()
	r := httptest.NewRequest(http.MethodGet, "http://localhost:8787/", nil)
	r.URL.Path, r.URL.RawPath = "", ""
	u, err := r.URL.Parse(path)
	if err != nil {
		t.Fatal(err)
	}
	r.URL = u
	if change != nil {
		change(r)
	}
	w := httptest.NewRecorder()
	New(src, Options{Log: quiet()}).Handler().ServeHTTP(w, r)
	return w.Result()
}

func body(t *testing.T, res *http.Response) []byte {
	t.Helper()
	b, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// TestAnotherSitesPageIsCutOff: whoever opens the page from elsewhere has no hold on it,
// nor has one whose browser does not tell from where it was opened.
func TestAnotherSitesPageIsCutOff(t *testing.T) {
	for site, want := range map[string]string{"cross-site": "same-origin", "same-site": "same-origin", "": "same-origin", "else": "same-origin", "none": "", "same-origin": ""} {
		for _, path := range []string{"/", "/results/2026-11-25-ada", "/nothing"} {
			h := ask(t, someResults(), path, func(r *http.Request) {
				if site != "" {
					r.Header.Set("Sec-Fetch-Site", site)
				}
			}).Header
			if got := h.Get("Cross-Origin-Opener-Policy"); got != want {
				t.Errorf("%s asked for by %q: opener policy %q, want %q", path, site, got, want)
			}
			if vary := h.Values("Vary"); !slices.Contains(vary, "Sec-Fetch-Site") {
				t.Errorf("%s: Vary is %q", path, vary)
			}
		}
	}
}

func TestEveryAnswerCarriesThePolicy(t *testing.T) {
	src := someResults()
	for _, path := range []string{"/", "/results/2026-11-25-ada", "/api/results", "/api/results/2026-11-25-ada", "/api/results/2026-11-25-ada/clips/0/frames/0", "/nothing", "/assets/none.js", "/api/measures"} {
		h := ask(t, src, path, nil).Header
		csp := h.Get("Content-Security-Policy")
		for _, want := range []string{"default-src 'none'", "script-src 'self'", "frame-ancestors 'none'", "require-trusted-types-for 'script'"} {
			if !strings.Contains(csp, want) {
				t.Errorf("%s: policy %q lacks %s", path, csp, want)
			}
		}
		if strings.Contains(csp, "unsafe") || strings.Contains(csp, "http") || strings.Contains(csp, "*") {
			t.Errorf("%s: policy %q is too wide", path, csp)
		}
		if h.Get("X-Content-Type-Options") != "nosniff" || h.Get("Referrer-Policy") != "no-referrer" || h.Get("Cross-Origin-Resource-Policy") != "same-origin" {
			t.Errorf("%s: a protective header is missing: %v", path, h)
		}
	}
	h := ask(t, src, "/api/results/2026-11-25-ada/report.pdf", nil).Header
	if csp := h.Get("Content-Security-Policy"); !strings.Contains(csp, "default-src 'none'") || strings.Contains(csp, "script-src") {
		t.Errorf("report: policy %q lets scripts run", csp)
	}
	if h.Get("Content-Type") != "application/pdf" {
		t.Errorf("report: content type %q", h.Get("Content-Type"))
	}
}

func TestHost(t *testing.T) {
	tests := []struct {
		host  string
		local string // address the connection came in on
		want  int
	}{
		{"localhost:8787", "127.0.0.1:8787", 200},
		{"localhost", "127.0.0.1:8787", 200},
		{"LOCALHOST:1", "127.0.0.1:8787", 200},
		{"127.0.0.1:8787", "127.0.0.1:8787", 200},
		{"[::1]:8787", "[::1]:8787", 200},
		{"studio.example:8787", "127.0.0.1:8787", 200}, // named in the options
		{"evil.example:8787", "127.0.0.1:8787", 421},
		{"localhost.evil.example", "127.0.0.1:8787", 421},
		{"127.0.0.1.evil.example:8787", "127.0.0.1:8787", 421},
		{"192.168.1.9:8787", "192.168.1.9:8787", 200},
		{"192.168.1.9:8787", "127.0.0.1:8787", 421},
		{"", "127.0.0.1:8787", 421},
	}
	s := New(someResults(), Options{Names: []string{"studio.example"}, Log: quiet()})
	for _, tt := range tests {
		addr, err := net.ResolveTCPAddr("tcp", tt.local)
		if err != nil {
			t.Fatal(err)
		}
		r := httptest.NewRequest(http.MethodGet, "http://x/api/results", nil)
		r.Host = tt.host
		r = r.WithContext(context.WithValue(r.Context(), http.LocalAddrContextKey, net.Addr(addr)))
		w := httptest.NewRecorder()
		s.Handler().ServeHTTP(w, r)
		if w.Code != tt.want {
			t.Errorf("host %q on %s: got %d, want %d", tt.host, tt.local, w.Code, tt.want)
		}
	}
}

func TestOtherSitesAreRefused(t *testing.T) {
	src := someResults()
	for _, tt := range []struct {
		method, path, site, origin string
		want                       int
	}{
		{"GET", "/api/results", "same-origin", "", 200},
		{"GET", "/api/results", "none", "", 200},
		{"GET", "/api/results", "cross-site", "", 403},
		{"GET", "/api/results/2026-11-25-ada/clips/0/frames/0", "cross-site", "", 403},
		{"GET", "/api/results", "same-site", "", 403}, // another program's page on this machine
		{"GET", "/", "cross-site", "", 200},           // a followed link
		{"GET", "/", "same-site", "", 200},
		{"POST", "/api/results", "cross-site", "https://evil.example", 403},
		{"POST", "/api/results", "", "https://evil.example", 403},
		{"POST", "/api/results", "same-origin", "", 405},
		{"DELETE", "/api/results/2026-11-25-ada", "same-origin", "", 405},
	} {
		res := ask(t, src, tt.path, func(r *http.Request) {
			r.Method = tt.method
			if tt.site != "" {
				r.Header.Set("Sec-Fetch-Site", tt.site)
			}
			if tt.origin != "" {
				r.Header.Set("Origin", tt.origin)
			}
		})
		if res.StatusCode != tt.want {
			t.Errorf("%s %s from %q: got %d, want %d", tt.method, tt.path, tt.site, res.StatusCode, tt.want)
		}
		if kind := res.Header.Get("Content-Type"); tt.want == 403 && kind != "application/json" {
			t.Errorf("%s %s from %q: refused in the form %q", tt.method, tt.path, tt.site, kind)
		}
	}
}

func TestPathsThatDoNotExist(t *testing.T) {
	src := someResults()
	const ada = "/api/results/2026-11-25-ada"
	for _, path := range []string{
		"/api/results/none", "/api/results/..", "/api/results/%2e%2e", "/api/results/..%2f..%2fetc%2fpasswd", "/api/results/.hidden",
		"/api/results/a%5cb", "/api/results/a%00b", "/api/results/" + strings.Repeat("a", 300),
		ada + "/clips/2/track", ada + "/clips/-1/track", ada + "/clips/00/track", ada + "/clips/1e0/track", ada + "/clips/99999999999999999999/track",
		ada + "/clips/0/frames/420", ada + "/clips/0/frames/-1", ada + "/clips/0/frames/+1", ada + "/clips/0/frames/x", ada + "/clips/0/frames/01",
		"/api/results/2026-11-22-markers/clips/0/frames/0", // no pictures
		ada + "/report.", ada + "/report.PDF", ada + "/report.docx", ada + "/report.%2e%2e", ada + "/reportpdf", ada + "/secret",
		"/assets/..%2findex.html", "/assets/%2e%2e%2fembed.go", "/embed.go", "/api", "/api/",
	} {
		res := ask(t, src, path, nil)
		if res.StatusCode == http.StatusTemporaryRedirect || res.StatusCode == http.StatusMovedPermanently || res.StatusCode == http.StatusPermanentRedirect {
			continue // the path was tidied; what it leads to is another row
		}
		b := body(t, res)
		var said struct{ Error string }
		if res.StatusCode != 404 || json.Unmarshal(b, &said) != nil || said.Error == "" {
			t.Errorf("%s: got %d %q, want 404 with a sentence", path, res.StatusCode, b)
		}
	}
}

func TestJSON(t *testing.T) {
	src := someResults()
	var list []app.PageSummary
	if err := json.Unmarshal(body(t, ask(t, src, "/api/results", nil)), &list); err != nil || len(list) != 4 {
		t.Fatalf("list of %d results, error %v; want 4", len(list), err)
	}
	var s app.PageSession
	if err := json.Unmarshal(body(t, ask(t, src, "/api/results/2026-11-25-ada", nil)), &s); err != nil || len(s.Clips) != 2 || s.Clips[1].View != "rear" {
		t.Fatalf("session %v, error %v", s, err)
	}
	var tr app.PageTrack
	if err := json.Unmarshal(body(t, ask(t, src, "/api/results/2026-11-25-ada/clips/1/track", nil)), &tr); err != nil || len(tr.TimeS) != 390 || len(tr.X) != len(tr.Landmarks) {
		t.Fatalf("track of %d frames, error %v", len(tr.TimeS), err)
	}
	want := src.sessions[3].films[1].track()
	if got := *tr.X[7][20]; abs(got-*want.X[7][20]) > 0.0051 {
		t.Errorf("left hip at %v, want %v within half a hundredth of a pixel", got, *want.X[7][20])
	}
	if empty := string(body(t, ask(t, &invented{}, "/api/results", nil))); empty != "[]" {
		t.Errorf("no results are written %s, want []", empty)
	}
}

func abs(v float64) float64 { return max(v, -v) }

func TestCompressionAndTags(t *testing.T) {
	src := someResults()
	const track = "/api/results/2026-11-25-ada/clips/0/track"
	plain := body(t, ask(t, src, track, nil))
	res := ask(t, src, track, func(r *http.Request) { r.Header.Set("Accept-Encoding", "br, gzip;q=0.8") })
	if res.Header.Get("Content-Encoding") != "gzip" || !slices.Contains(res.Header.Values("Vary"), "Accept-Encoding") {
		t.Fatalf("the track is not compressed: %v", res.Header)
	}
	packed := body(t, res)
	z, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		t.Fatal(err)
	}
	back, err := io.ReadAll(z)
	if err != nil || !bytes.Equal(back, plain) {
		t.Fatalf("the compressed track differs from the plain one (%v)", err)
	}
	t.Logf("track of 420 frames, 17 landmarks: %d kB plain, %d kB compressed", len(plain)/1000, len(packed)/1000)
	for _, at := range []string{"127.0.0.1:50000", "[::1]:50000"} {
		if res := ask(t, src, track, func(r *http.Request) { r.RemoteAddr = at; r.Header.Set("Accept-Encoding", "gzip") }); res.Header.Get("Content-Encoding") != "" {
			t.Errorf("data for a browser at %s, on this machine, were compressed", at)
		}
	}
	if res := ask(t, src, track, func(r *http.Request) { r.Header.Set("Accept-Encoding", "gzip;q=0") }); res.Header.Get("Content-Encoding") != "" {
		t.Error("compressed for a browser that refuses it")
	}
	for _, path := range []string{track, "/api/results", "/api/results/2026-11-25-ada/clips/0/frames/7", "/", "/api/measures"} {
		first := ask(t, src, path, nil)
		tag := first.Header.Get("ETag")
		again := ask(t, src, path, func(r *http.Request) { r.Header.Set("If-None-Match", `"other", `+tag) })
		if tag == "" || again.StatusCode != http.StatusNotModified || len(body(t, again)) != 0 {
			t.Errorf("%s: tag %q, asked again: %d", path, tag, again.StatusCode)
		}
	}
	if a, b := ask(t, src, "/api/results/2026-11-25-ada/clips/0/frames/7", nil), ask(t, src, "/api/results/2026-11-25-ada/clips/0/frames/8", nil); a.Header.Get("ETag") == b.Header.Get("ETag") {
		t.Error("two frames have the same tag")
	}
}

func TestFrameIsTheOneAskedFor(t *testing.T) {
	for _, k := range []int{0, 1, 170, 419} {
		res := ask(t, someResults(), "/api/results/2026-11-25-ada/clips/0/frames/"+strconv.Itoa(k), nil)
		img, err := jpeg.Decode(res.Body)
		if err != nil {
			t.Fatal(err)
		}
		got := 0
		for bit := range 12 {
			r, _, b, _ := img.At(32+bit*32, 32).RGBA()
			if r > b {
				got |= 1 << bit
			}
		}
		if got != k {
			t.Errorf("frame %d shows %d", k, got)
		}
	}
}

// broken is a source whose list fails with err.
type broken struct {
	invented
	err error
}

func (b *broken) Results() ([]app.PageSummary, error) { return nil, b.err }

func TestFailureIsSaid(t *testing.T) {
	for _, tt := range []struct {
		err  error
		want int
	}{
		{errors.New("the folder of results cannot be read"), 500},
		{fmt.Errorf("the folder of results: %w", fs.ErrNotExist), 404},
		{&app.Problem{Kind: app.KindUsage, What: "the folder of results has no such result"}, 404},
		{&app.Problem{Kind: app.KindNotInstalled, What: "ffmpeg, which reads the folder of results, is missing"}, 503},
		{&app.Problem{Kind: app.KindNoResult, What: "the folder of results holds a still"}, 422},
		// What was called off elsewhere is no answer for who still waits.
		{fmt.Errorf("the folder of results: %w", context.Canceled), 500},
	} {
		res := ask(t, &broken{err: tt.err}, "/api/results", nil)
		if b := body(t, res); res.StatusCode != tt.want || !strings.Contains(string(b), "folder of results") {
			t.Errorf("%v: got %d %s, want %d", tt.err, res.StatusCode, b, tt.want)
		}
	}
}

func TestRunAndStop(t *testing.T) {
	s := New(someResults(), Options{Log: quiet()})
	if s.Addr() != "" || s.URL() != "" {
		t.Errorf("address %q before listening", s.Addr())
	}
	if err := s.Listen(); err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(s.Addr(), "127.0.0.1:") {
		t.Errorf("listens on %s, want the loopback", s.Addr())
	}
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- s.Run(ctx) }()
	res, err := http.Get(s.URL())
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	if res.StatusCode != 200 {
		t.Errorf("got %d", res.StatusCode)
	}
	stop()
	select {
	case err := <-done:
		if err != nil {
			t.Error(err)
		}
	case <-time.After(2 * time.Minute):
		t.Fatal("did not stop")
	}
	if res, err := http.Get(s.URL()); err == nil {
		res.Body.Close()
		t.Error("still answers after the end")
	}
}

func TestPortTaken(t *testing.T) {
	first := New(someResults(), Options{Log: quiet()})
	if err := first.Listen(); err != nil {
		t.Fatal(err)
	}
	defer first.listener.Close()
	_, port, _ := net.SplitHostPort(first.Addr())
	p, _ := strconv.Atoi(port)
	second := New(someResults(), Options{Port: p, Log: quiet()})
	if err := second.Listen(); err != nil {
		t.Fatal(err)
	}
	defer second.listener.Close()
	if second.Addr() == first.Addr() || second.Addr() == "" {
		t.Errorf("second server at %q, first at %q", second.Addr(), first.Addr())
	}
	if err := New(someResults(), Options{Port: 70000, Log: quiet()}).Listen(); err == nil {
		t.Error("port 70000 was taken")
	}
	if err := New(someResults(), Options{Host: "203.0.113.7", Log: quiet()}).Listen(); err == nil {
		t.Error("an address of another machine was taken")
	}
}

// TestFirstPageIsSmall holds the first page, with all that it loads, under
// 200 kB as sent.
func TestFirstPageIsSmall(t *testing.T) {
	gz := func(r *http.Request) { r.Header.Set("Accept-Encoding", "gzip") }
	index, err := fs.ReadFile(ui.Dist(), "first.en.html")
	if err != nil {
		t.Fatal(err)
	}
	total := 0
	paths := []string{"/", "/api/results"}
	for _, m := range regexp.MustCompile(`<(?:script|link) [^>]*(?:src|href)="(/(?:assets/)?[^/"]+)"`).FindAllSubmatch(index, -1) {
		paths = append(paths, string(m[1]))
	}
	if len(paths) < 4 {
		t.Fatalf("the page names no script and style: %v", paths)
	}
	for _, p := range paths {
		res := ask(t, someResults(), p, gz)
		n := len(body(t, res))
		if res.StatusCode != 200 {
			t.Errorf("%s: %d", p, res.StatusCode)
		}
		total += n
		t.Logf("%6d bytes %s", n, p)
	}
	if total > 200_000 {
		t.Errorf("the first page is %d bytes", total)
	}
}
