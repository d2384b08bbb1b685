package web

import (
	"bytes"
	"context"
	"crypto/sha256"
	"crypto/tls"
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/netip"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"gaitwright/internal/app"

	"rsc.io/qr"
)

const rightPhrase = "four words of mine"

func checkPhrase(_ context.Context, p string) (bool, error) { return p == rightPhrase, nil }

// signIn is a login with an injected clock in front of a page that says so.
type signIn struct {
	*login
	at time.Time
}

func newSignIn() *signIn {
	s := &signIn{at: time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)}
	s.login = newLogin(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { io.WriteString(w, "inside") }), checkPhrase, quiet())
	s.login.now = func() time.Time { return s.at }
	return s
}

func (s *signIn) ask(method, path string, change func(*http.Request)) *http.Response {
	r := httptest.NewRequest(method, "https://192.168.1.20:8788"+path, nil)
	r.RemoteAddr = "192.168.1.33:5000"
	if change != nil {
		change(r)
	}
	w := httptest.NewRecorder()
	s.ServeHTTP(w, r)
	return w.Result()
}

// give sends a passphrase from an address.
func (s *signIn) give(from, phrase, to string) *http.Response {
	return s.ask("POST", "/login", func(r *http.Request) {
		form := url.Values{"passphrase": {phrase}, "to": {to}}.Encode()
		r.Body = io.NopCloser(strings.NewReader(form))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.RemoteAddr = from
	})
}

func with(c *http.Cookie) func(*http.Request) { return func(r *http.Request) { r.AddCookie(c) } }

func TestStrangersSeeTheLoginAlone(t *testing.T) {
	s := newSignIn()
	for _, tt := range []struct {
		method, path string
		status       int
		location     string
	}{
		{"GET", "/", 303, "/login?to=%2F"},
		{"GET", "/visits/01KG0000000000000000000001/film", 303, "/login?to=%2Fvisits%2F01KG0000000000000000000001%2Ffilm"},
		{"GET", "/assets/index.js", 303, "/login?to=%2F"},
		{"GET", "/api/runners", 401, ""},
		{"GET", "/api/events", 401, ""},
		{"GET", "/api/lan", 401, ""},
		{"HEAD", "/api/uploads/01KG0000000000000000000001", 401, ""},
		{"POST", "/api/runners", 401, ""},
		{"POST", "/", 401, ""},
		{"PUT", "/x", 401, ""},
		{"POST", "/logout", 401, ""},
		{"GET", "/login", 200, ""},
		{"GET", "/login.css", 200, ""},
		{"GET", "/login/", 303, "/login?to=%2F"},
		{"GET", "/LOGIN", 303, "/login?to=%2FLOGIN"},
	} {
		for _, cookie := range []string{"", "x", strings.Repeat("A", 43)} {
			res := s.ask(tt.method, tt.path, func(r *http.Request) {
				if cookie != "" {
					r.AddCookie(&http.Cookie{Name: sessionCookie, Value: cookie})
				}
			})
			if res.StatusCode != tt.status || res.Header.Get("Location") != tt.location {
				t.Errorf("%s %s: %d to %q, want %d to %q", tt.method, tt.path, res.StatusCode, res.Header.Get("Location"), tt.status, tt.location)
			}
			if strings.Contains(string(body(t, res)), "inside") {
				t.Errorf("%s %s let a stranger in", tt.method, tt.path)
			}
		}
	}
}

func TestSignInAndOut(t *testing.T) {
	s := newSignIn()
	res := s.give("192.168.1.33:1", rightPhrase, "/settings")
	if res.StatusCode != 303 || res.Header.Get("Location") != "/settings" || len(res.Cookies()) != 1 {
		t.Fatalf("%d to %q with %v", res.StatusCode, res.Header.Get("Location"), res.Cookies())
	}
	c := res.Cookies()[0]
	if c.Name != "__Host-gaitwright" || !c.HttpOnly || !c.Secure || c.SameSite != http.SameSiteStrictMode || c.Path != "/" || c.Domain != "" || c.MaxAge != 7*24*3600 || len(c.Value) != 43 {
		t.Errorf("cookie %+v", c)
	}
	for k := range s.sessions {
		if k != sha256.Sum256([]byte(c.Value)) {
			t.Error("the session is kept by its secret itself")
		}
	}
	inside := func() bool { return string(body(t, s.ask("GET", "/api/runners", with(c)))) == "inside" }
	if !inside() {
		t.Error("signed in and not let in")
	}
	if res := s.ask("GET", "/login?to=/settings", with(c)); res.StatusCode != 303 || res.Header.Get("Location") != "/settings" {
		t.Errorf("the login of one signed in: %d", res.StatusCode)
	}
	for range 20 { // used now and then, it lasts
		s.at = s.at.Add(8 * time.Hour)
		if !inside() {
			t.Fatalf("ended at %v", s.at)
		}
	}
	s.at = s.at.Add(9 * time.Hour)
	if inside() { // 169 hours
		t.Error("a session lasts longer than a week")
	}
	c = s.give("192.168.1.33:1", rightPhrase, "").Cookies()[0]
	s.at = s.at.Add(13 * time.Hour)
	if inside() {
		t.Error("a session nobody used lasts longer than half a day")
	}
	c = s.give("192.168.1.33:1", rightPhrase, "").Cookies()[0]
	if !inside() {
		t.Error("not let in again")
	}
	if res := s.ask("POST", "/logout", with(c)); res.StatusCode != 303 || res.Cookies()[0].MaxAge >= 0 {
		t.Errorf("signing out: %d, %v", res.StatusCode, res.Cookies())
	}
	if inside() {
		t.Error("let in after signing out")
	}
}

// TestListeningEndsWithItsSession: whoever listens is cut off when the session ends, be
// it by hand, by time, or because others took its place; what happens after that is not
// told there. To listen is not to use a session.
func TestListeningEndsWithItsSession(t *testing.T) {
	for name, c := range map[string]struct {
		ends func(s *signIn, c *http.Cookie)
		want time.Duration // since it signed in
	}{
		"signed out":        {func(s *signIn, c *http.Cookie) { time.Sleep(time.Hour); s.ask("POST", "/logout", with(c)) }, time.Hour},
		"left alone":        {func(*signIn, *http.Cookie) {}, idleFor + 1},
		"used once more":    {func(s *signIn, c *http.Cookie) { time.Sleep(5 * time.Hour); s.ask("GET", "/api/runners", with(c)) }, 5*time.Hour + idleFor + 1},
		"others in between": {func(s *signIn, c *http.Cookie) { time.Sleep(5 * time.Hour); s.give("192.168.1.34:1", rightPhrase, "") }, idleFor + 1},
		"a week": {func(s *signIn, c *http.Cookie) {
			for range 20 {
				time.Sleep(10 * time.Hour)
				s.ask("GET", "/api/runners", with(c))
			}
		}, wholeFor + 1},
		"pushed out": {func(s *signIn, c *http.Cookie) {
			for range maxSessions {
				time.Sleep(time.Second)
				s.give("192.168.1.34:1", rightPhrase, "")
			}
		}, maxSessions * time.Second},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				s := newSignIn()
				s.login.now = time.Now
				events := make(chan app.PageEvent)
				s.login.next = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
					if r.URL.Path == eventsPath {
						api{src: heard{events: events}}.events(w, r)
					}
				})
				cookie := s.give("192.168.1.33:1", rightPhrase, "").Cookies()[0]
				began := time.Now()
				over := make(chan string)
				var lasted time.Duration
				go func() {
					text := string(body(t, s.ask("GET", eventsPath, with(cookie))))
					lasted = time.Since(began)
					over <- text
				}()
				events <- app.PageEvent{Name: "visit", Data: []byte("{}")}
				c.ends(s, cookie)
				text := <-over
				if lasted != c.want {
					t.Errorf("it listened for %v, want %v", lasted, c.want)
				}
				if strings.Count(text, "event: visit\n") != 1 {
					t.Errorf("it heard %q", text)
				}
				if res := s.ask("GET", eventsPath, with(cookie)); res.StatusCode != http.StatusUnauthorized {
					t.Errorf("asked again: %d", res.StatusCode)
				}
			})
		})
	}
}

// TestNothingIsToldAfterASession: what happens in the very moment in which a session
// ends is not told to it.
func TestNothingIsToldAfterASession(t *testing.T) {
	for range 100 { // which of the two is seen first is left to chance
		ctx, end := context.WithCancel(t.Context())
		events := make(chan app.PageEvent, 1)
		events <- app.PageEvent{Name: "visit", Data: []byte("{}")}
		end()
		w := httptest.NewRecorder()
		api{src: heard{events: events}}.events(w, httptest.NewRequest("GET", eventsPath, nil).WithContext(ctx))
		if text := w.Body.String(); strings.Contains(text, "visit") {
			t.Fatalf("it heard %q", text)
		}
	}
}

// heard is a source of which nothing but events is asked.
type heard struct {
	Source
	events chan app.PageEvent
}

func (h heard) Events() (<-chan app.PageEvent, func()) { return h.events, func() {} }

func TestSessionsAreBounded(t *testing.T) {
	s := newSignIn()
	first := s.give("192.168.1.33:1", rightPhrase, "").Cookies()[0]
	for range 2 * maxSessions {
		s.at = s.at.Add(time.Second)
		s.give("192.168.1.33:1", rightPhrase, "")
	}
	if len(s.sessions) != maxSessions {
		t.Errorf("%d sessions", len(s.sessions))
	}
	if string(body(t, s.ask("GET", "/", with(first)))) == "inside" {
		t.Error("the session longest unused was kept")
	}
}

func TestWrongPassphrase(t *testing.T) {
	s := newSignIn()
	const me, you = "192.168.1.33:1", "192.168.1.34:1"
	for i, want := range []time.Duration{1, 2, 4, 8, 16, 32, 64, 120, 120} {
		res := s.give(me, "wrong", "/settings")
		page := string(body(t, res))
		if res.StatusCode != 403 || len(res.Cookies()) > 0 || !strings.Contains(page, "not the passphrase") || !strings.Contains(page, `value="/settings"`) || strings.Contains(page, "wrong") {
			t.Fatalf("attempt %d: %d, %s", i, res.StatusCode, page)
		}
		// The right one does not help before the wait is over.
		res = s.give(me, rightPhrase, "")
		if res.StatusCode != 429 || res.Header.Get("Retry-After") != strconv.Itoa(int(want)+1) {
			t.Fatalf("attempt %d, at once again: %d, wait %s, want %d", i, res.StatusCode, res.Header.Get("Retry-After"), want+1)
		}
		s.at = s.at.Add(want * time.Second)
	}
	if res := s.give(you, rightPhrase, ""); res.StatusCode != 303 {
		t.Errorf("another device waits with it: %d", res.StatusCode)
	}
	s.at = s.at.Add(2 * time.Minute)
	if res := s.give(me, rightPhrase, ""); res.StatusCode != 303 {
		t.Errorf("after the wait: %d", res.StatusCode)
	}
	if res := s.give(me, "wrong", ""); res.StatusCode != 403 {
		t.Errorf("the count was not forgotten: %d", res.StatusCode)
	}
}

// TestSignInSpeaksTheBrowsersLanguage: whoever has no session has chosen nothing yet.
func TestSignInSpeaksTheBrowsersLanguage(t *testing.T) {
	for language, words := range loginWords {
		s := newSignIn()
		in := func(r *http.Request) { r.Header.Set("Accept-Language", language) }
		page := string(body(t, s.ask("GET", "/login", in)))
		for _, want := range []string{`<html lang="` + language + `">`, words.Title, words.Lead, words.Passphrase, words.Enter} {
			if !strings.Contains(page, want) {
				t.Errorf("%s: the page lacks %q", language, want)
			}
		}
		wrong := func(r *http.Request) {
			in(r)
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			r.Body = io.NopCloser(strings.NewReader("passphrase=no"))
		}
		for _, want := range []string{words.wrong, fmt.Sprintf(words.wait, 2)} {
			if page := string(body(t, s.ask("POST", "/login", wrong))); !strings.Contains(page, want) {
				t.Errorf("%s: the page lacks %q: %s", language, want, page)
			}
		}
	}
	if len(loginWords) != len(pageLanguages) {
		t.Errorf("%d languages, the page has %d", len(loginWords), len(pageLanguages))
	}
}

// TestManyCallersGuess lets many addresses guess as fast as they are let, for an
// hour.
func TestManyCallersGuess(t *testing.T) {
	s := newSignIn()
	guesses := 0
	for i := range 3600 * 2 {
		s.at = s.at.Add(time.Second / 2)
		if res := s.give("192.168."+strconv.Itoa(i/250%250)+"."+strconv.Itoa(i%250)+":1", "wrong", ""); res.StatusCode == 403 {
			guesses++
		}
	}
	// One each six seconds, beside those that may come at once.
	if most := 3600/6 + burst + 1; guesses > most || guesses < 400 {
		t.Errorf("%d guesses within an hour, want at most %d", guesses, most)
	}
	if len(s.tries.by) > maxCallers {
		t.Errorf("%d callers are remembered", len(s.tries.by))
	}
	// One device of IPv6 cannot pass for many.
	s = newSignIn()
	s.give("[fd00:1:2:3::1]:1", "wrong", "")
	if res := s.give("[fd00:1:2:3:ffff::9]:1", "wrong", ""); res.StatusCode != 429 {
		t.Errorf("another address of the same device: %d", res.StatusCode)
	}
}

func TestAttemptsAtOnce(t *testing.T) {
	s := newSignIn()
	enter, leave := make(chan bool), make(chan bool)
	s.check = func(context.Context, string) (bool, error) { enter <- true; <-leave; return false, nil }
	done := make(chan int)
	go func() { done <- s.give("192.168.1.33:1", "a", "").StatusCode }()
	<-enter
	if res := s.give("192.168.1.33:2", "b", ""); res.StatusCode != 429 {
		t.Errorf("a second attempt beside the first: %d", res.StatusCode)
	}
	close(leave)
	if code := <-done; code != 403 {
		t.Errorf("the first: %d", code)
	}
}

func TestHostileLogins(t *testing.T) {
	s := newSignIn()
	for _, to := range []string{"https://evil.example/", "//evil.example", `/\evil.example`, "/\t/evil", "javascript:alert(1)", "/x?y", "/x#y", "/login", "/%2f", "/" + strings.Repeat("a", 300), "x", `"><script>`} {
		res := s.give("192.168.1.33:1", rightPhrase, to)
		if got := res.Header.Get("Location"); res.StatusCode != 303 || got != "/" {
			t.Errorf("to %.40q leads to %q", to, got)
		}
		page := string(body(t, s.ask("GET", "/login?to="+url.QueryEscape(to), nil)))
		if !strings.Contains(page, `name="to" value="/"`) || strings.Contains(page, "evil") || strings.Contains(page, "<script") {
			t.Errorf("to %.40q makes the page %s", to, page)
		}
	}
	for _, form := range []string{"passphrase=" + strings.Repeat("x", 1<<20), "%zz", ""} {
		res := s.ask("POST", "/login", func(r *http.Request) {
			r.Body = io.NopCloser(strings.NewReader(form))
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			r.RemoteAddr = "10.0.0." + strconv.Itoa(len(form)%250) + ":1"
		})
		if res.StatusCode != 400 && res.StatusCode != 403 || len(res.Cookies()) > 0 {
			t.Errorf("%.20q: %d", form, res.StatusCode)
		}
	}
	// The passphrase in the address would stay in the browser's history.
	if res := s.ask("POST", "/login?passphrase="+url.QueryEscape(rightPhrase), func(r *http.Request) { r.RemoteAddr = "10.0.1.1:1" }); res.StatusCode != 403 {
		t.Errorf("a passphrase in the address: %d", res.StatusCode)
	}
	s.check = func(context.Context, string) (bool, error) { return true, errors.New("the records are in use") }
	if res := s.give("10.0.2.1:1", "x", ""); res.StatusCode != 500 || len(res.Cookies()) > 0 {
		t.Errorf("a check that failed: %d", res.StatusCode)
	}
}

func TestLoginPolicy(t *testing.T) {
	s := newSignIn()
	h := guard(s, nil)
	r := httptest.NewRequest("GET", "https://localhost/login", nil)
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	csp := w.Header().Get("Content-Security-Policy")
	if w.Code != 200 || csp != loginPolicy || strings.Contains(csp, "script") || strings.Contains(csp, "unsafe") || w.Header().Get("Cache-Control") != "no-store" {
		t.Errorf("%d, policy %q, %v", w.Code, csp, w.Header())
	}
	// Another site's page cannot sign a device in.
	r = httptest.NewRequest("POST", "https://localhost/login", strings.NewReader("passphrase="+url.QueryEscape(rightPhrase)))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Origin", "https://evil.example")
	w = httptest.NewRecorder()
	h.ServeHTTP(w, r)
	if w.Code != 403 || len(w.Result().Cookies()) > 0 {
		t.Errorf("another site's form: %d", w.Code)
	}
}

func TestNeighbours(t *testing.T) {
	own := []network{{Prefix: netip.MustParsePrefix("203.0.113.5/24")}, {Prefix: netip.MustParsePrefix("2001:db8:1:2::5/64")}, {Prefix: netip.MustParsePrefix("0.0.0.0/0")}}
	for addr, want := range map[string]bool{
		"127.0.0.1": true, "::1": true, "192.168.1.9": true, "10.1.2.3": true, "172.16.0.1": true, "fd00::1": true, "fe80::1%eth0": true, "169.254.1.1": true, "::ffff:192.168.1.9": true,
		"203.0.113.77": true, "2001:db8:1:2::99": true, "203.0.114.1": false, "8.8.8.8": false, "172.32.0.1": false, "2001:db8:1:3::1": false, "::ffff:8.8.8.8": false, "100.64.0.1": false,
	} {
		if got := isNeighbour(netip.MustParseAddr(addr), own); got != want {
			t.Errorf("%s is a neighbour: %v, want %v", addr, got, want)
		}
	}
}

func TestCertificate(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "lan")
	addrs := []netip.Addr{netip.MustParseAddr("192.168.1.20")}
	now := time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)
	get := func(addrs []netip.Addr, now time.Time) tls.Certificate {
		t.Helper()
		c, err := certificate(dir, addrs, []string{"studio", "studio.local"}, now)
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	first := get(addrs, now)
	if err := first.Leaf.VerifyHostname("192.168.1.20"); err != nil {
		t.Error(err)
	}
	if err := first.Leaf.VerifyHostname("studio.local"); err != nil {
		t.Error(err)
	}
	if d := first.Leaf.NotAfter.Sub(first.Leaf.NotBefore); d > 825*24*time.Hour || first.Leaf.IsCA {
		t.Errorf("good for %v, authority %v", d, first.Leaf.IsCA)
	}
	same := func(c tls.Certificate) bool { return bytes.Equal(c.Certificate[0], first.Certificate[0]) }
	if !same(get(addrs, now.AddDate(0, 6, 0))) {
		t.Error("a new certificate without need: devices would warn anew")
	}
	if same(get(append(addrs, netip.MustParseAddr("10.0.0.7")), now)) {
		t.Error("the certificate lacks an address")
	}
	first = get(append(addrs, netip.MustParseAddr("10.0.0.7")), now)
	if c := get(addrs, now.AddDate(0, 0, certDays)); same(c) || !c.Leaf.NotAfter.After(now.AddDate(0, 0, certDays)) {
		t.Error("a certificate that has run out is still used")
	}
	if runtime.GOOS != "windows" {
		for _, name := range []string{"key.pem", "certificate.pem"} {
			if i, err := os.Stat(filepath.Join(dir, name)); err != nil || i.Mode().Perm() != 0o600 {
				t.Errorf("%s: %v, %v", name, i.Mode(), err)
			}
		}
	}
	for _, name := range []string{"key.pem", "certificate.pem"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte("damaged"), 0o600); err != nil {
			t.Fatal(err)
		}
		get(addrs, now)
	}
	if got := fingerprint([]byte("abc")); !strings.HasPrefix(got, "BA:78:16:BF:") || len(got) != 95 { // FIPS 180-4's example
		t.Errorf("fingerprint %s", got)
	}
}

// TestCode reads the drawn code back, module by module.
func TestCode(t *testing.T) {
	const text = "https://192.168.1.20:8788/"
	want, err := qr.Encode(text, qr.M)
	if err != nil {
		t.Fatal(err)
	}
	svg, err := codeSVG(text)
	if err != nil {
		t.Fatal(err)
	}
	var drawn struct {
		ViewBox string `xml:"viewBox,attr"`
		Path    []struct {
			D string `xml:"d,attr"`
		} `xml:"path"`
	}
	if err := xml.Unmarshal(svg, &drawn); err != nil || len(drawn.Path) != 2 {
		t.Fatalf("%v: %s", err, svg)
	}
	if n := strconv.Itoa(want.Size + 8); drawn.ViewBox != "0 0 "+n+" "+n {
		t.Errorf("view %s", drawn.ViewBox)
	}
	black := map[[2]int]bool{}
	for _, run := range strings.Split(strings.TrimSuffix(drawn.Path[1].D, "z"), "z") {
		var x, y, w int
		at, rest, _ := strings.Cut(strings.TrimPrefix(run, "M"), "h")
		xs, ys, _ := strings.Cut(at, " ")
		ws, _, _ := strings.Cut(rest, "v")
		x, _ = strconv.Atoi(xs)
		y, _ = strconv.Atoi(ys)
		w, _ = strconv.Atoi(ws)
		for i := range w {
			black[[2]int{x + i - margin, y - margin}] = true
		}
	}
	for y := -margin; y < want.Size+margin; y++ {
		for x := -margin; x < want.Size+margin; x++ {
			if black[[2]int{x, y}] != want.Black(x, y) {
				t.Fatalf("module %d, %d is wrong", x, y)
			}
		}
	}
	line, err := CodeText(text)
	if err != nil || strings.Count(line, "\n") < 12 || strings.Count(line, "\x1b[0m\n") != strings.Count(line, "\n") {
		t.Errorf("%v\n%s", err, line)
	}
}

func TestOnlyLoopbackWithoutLAN(t *testing.T) {
	for _, host := range []string{"0.0.0.0", "::", ownAddr(t)} {
		err := New(someResults(), Options{Host: host, Log: quiet()}).Listen()
		if err == nil || !strings.Contains(err.Error(), "--lan") {
			t.Errorf("listening on %s: %v", host, err)
		}
	}
	s := New(someResults(), Options{Log: quiet()})
	if st := s.LAN(); st.On || len(st.URLs) > 0 || st.QR != nil {
		t.Errorf("without --lan: %+v", st)
	}
	res := ask(t, someResults(), "/api/lan", nil)
	if b := string(body(t, res)); b != `{"on":false,"urls":[],"qr":null}` {
		t.Errorf("GET /api/lan: %s", b)
	}
	if res := ask(t, someResults(), lanCode, nil); res.StatusCode != 404 {
		t.Errorf("a code that leads nowhere: %d", res.StatusCode)
	}
}

func ownAddr(t *testing.T) string {
	t.Helper()
	addrs := ownAddrs()
	if len(addrs) == 0 {
		t.Skip("this machine is in no network")
	}
	return addrs[0].String()
}

// TestLANDoor comes in as a tablet does: over the network's address, encrypted,
// by the passphrase.
func TestLANDoor(t *testing.T) {
	addr := ownAddr(t)
	s := New(someResults(), Options{Log: quiet(), LAN: &LAN{Dir: t.TempDir(), Check: checkPhrase}})
	if err := s.Listen(); err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- s.Run(ctx) }()
	defer func() {
		stop()
		if err := <-done; err != nil {
			t.Error(err)
		}
	}()
	status := s.LAN()
	base := status.URLs[0]
	if !status.On || !strings.HasPrefix(base, "https://"+net.JoinHostPort(addr, "")) {
		t.Fatalf("status %+v", status)
	}
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	seen := ""
	tablet := &http.Client{Jar: jar, Timeout: 5 * time.Minute, Transport: &http.Transport{TLSClientConfig: &tls.Config{
		InsecureSkipVerify: true, // as the person does who compares the fingerprint
		VerifyConnection: func(c tls.ConnectionState) error {
			seen = fingerprint(c.PeerCertificates[0].Raw)
			return c.PeerCertificates[0].VerifyHostname(addr)
		}}}}
	get := func(path string) (int, string, string) {
		t.Helper()
		res, err := tablet.Get(base + path)
		if err != nil {
			t.Fatal(err)
		}
		defer res.Body.Close()
		b, err := io.ReadAll(res.Body)
		if err != nil {
			t.Fatal(err)
		}
		return res.StatusCode, string(b), res.Request.URL.Path
	}
	if code, page, at := get("results/2026-11-25-ada"); code != 200 || at != "/login" || !strings.Contains(page, "Passphrase") {
		t.Errorf("a stranger got %d at %s", code, at)
	}
	if seen != status.Fingerprint {
		t.Errorf("the tablet sees %s, printed is %s", seen, status.Fingerprint)
	}
	if code, b, _ := get("api/results"); code != 401 || strings.Contains(b, "ada") {
		t.Errorf("a stranger's results: %d %s", code, b)
	}
	res, err := tablet.PostForm(base+"login", url.Values{"passphrase": {rightPhrase}, "to": {"/results/2026-11-25-ada"}})
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	if res.StatusCode != 200 || res.Request.URL.Path != "/results/2026-11-25-ada" {
		t.Errorf("signing in led to %d at %s", res.StatusCode, res.Request.URL)
	}
	if code, b, _ := get("api/results"); code != 200 || !strings.Contains(b, "ada") {
		t.Errorf("results: %d %s", code, b)
	}
	var said LANStatus
	if _, b, _ := get("api/lan"); json.Unmarshal([]byte(b), &said) != nil || !said.On || said.URLs[0] != base || said.QR == nil {
		t.Errorf("GET /api/lan: %s", b)
	}
	if code, b, _ := get("api/lan/qr.svg"); code != 200 || !strings.HasPrefix(b, "<svg") {
		t.Errorf("the code: %d %.40s", code, b)
	}
	// Under another name the door does not answer, not even with the cookie.
	req, _ := http.NewRequest("GET", base, nil)
	req.Host = "evil.example"
	if res, err := tablet.Do(req); err != nil || res.StatusCode != 421 {
		t.Errorf("under another name: %v, %v", res.StatusCode, err)
	}
	// Unencrypted there is nothing but the way to the encrypted address, its own, also
	// for a long request, under whatever name and path.
	stay := &http.Client{Timeout: 5 * time.Minute, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	for _, long := range []int{0, 3000} {
		req, _ := http.NewRequest("GET", strings.Replace(base, "https:", "http:", 1)+"api/results", nil)
		req.Host = "evil.example"
		req.Header.Set("Accept-Language", strings.Repeat("x", long))
		res, err := stay.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(res.Body)
		res.Body.Close()
		if err != nil || res.StatusCode != 307 || res.Header.Get("Location") != base || !strings.Contains(string(b), base) || strings.Contains(string(b), "ada") {
			t.Errorf("asked unencrypted the door says %d to %q, %v: %s", res.StatusCode, res.Header.Get("Location"), err, b)
		}
	}
	// Neither TLS nor HTTP: no answer of ours.
	if c, err := net.Dial("tcp", strings.Trim(strings.TrimPrefix(base, "https:"), "/")); err != nil {
		t.Error(err)
	} else {
		c.SetDeadline(time.Now().Add(10 * time.Second))
		c.Write([]byte("\x00\x01 nothing known\r\n\r\n"))
		if b, _ := io.ReadAll(c); bytes.Contains(b, []byte("Location")) {
			t.Errorf("to noise the door says %q", b)
		}
		c.Close()
	}
	// The machine's own door needs no passphrase.
	res, err = http.Get(s.URL() + "api/results")
	if err != nil || res.StatusCode != 200 {
		t.Errorf("this machine's own: %v", err)
	}
}
