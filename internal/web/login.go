package web

import (
	"bytes"
	"context"
	"crypto/rand"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"strconv"
	"strings"
	"sync"
	"time"
)

// The page on which a device signs in; it has no script.
//
//go:embed login.html
var loginText string

//go:embed login.css
var loginCSS []byte

var loginPage = template.Must(template.New("login").Parse(loginText))

// loginWords are what that page says, in each of pageLanguages.
var loginWords = map[string]struct {
	Title, Lead, Passphrase, Enter string
	unread, wrong, unchecked, wait/* %d */ string
}{
	"en": {
		Title:      "This studio’s records are behind a passphrase",
		Lead:       "It was chosen on the computer that shows the code you came by. This device stays signed in until it has been left alone for twelve hours.",
		Passphrase: "Passphrase",
		Enter:      "Sign in",
		unread:     "That could not be read; type the passphrase again.",
		wrong:      "That is not the passphrase. Capitals and spaces count.",
		unchecked:  "The passphrase could not be checked; look at the machine on which gaitwright runs.",
		wait:       "Too many attempts. Wait %d seconds, then try again.",
	},
	"de": {
		Title:      "Die Aufzeichnungen dieses Studios liegen hinter einem Kennwort",
		Lead:       "Es wurde am Rechner gewählt, der den Code zeigt, mit dem Sie hierher kamen. Dieses Gerät bleibt angemeldet, bis es zwölf Stunden nicht benutzt wurde.",
		Passphrase: "Kennwort",
		Enter:      "Anmelden",
		unread:     "Das war nicht zu lesen; bitte das Kennwort noch einmal tippen.",
		wrong:      "Das ist nicht das Kennwort. Großbuchstaben und Leerzeichen zählen.",
		unchecked:  "Das Kennwort konnte nicht geprüft werden; bitte am Rechner nachsehen, auf dem gaitwright läuft.",
		wait:       "Zu viele Versuche. Bitte %d Sekunden warten und es dann noch einmal versuchen.",
	},
}

// The policy of that page: its own style and picture, and one form.
const loginPolicy = "default-src 'none'; style-src 'self'; img-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"

// A session ends when nobody has used it for idleFor, and in any case after
// wholeFor.
const (
	idleFor  = 12 * time.Hour
	wholeFor = 7 * 24 * time.Hour
)

// maxSessions bounds how many devices are signed in; a new one ends the session
// longest unused.
const maxSessions = 100

// sessionCookie is tied by its prefix to this host, an encrypted connection and
// no other path (RFC 6265bis, from memory).
const sessionCookie = "__Host-gaitwright"

// login lets signed-in devices through to next and the others to the page on
// which they sign in.
type login struct {
	next  http.Handler
	check func(ctx context.Context, passphrase string) (bool, error)
	log   *slog.Logger
	now   func() time.Time

	tries tries

	mu       sync.Mutex
	sessions map[[sha256.Size]byte]*session // by the hash of the cookie
}

// session is a device's time inside. Its times are guarded by the login's lock.
type session struct {
	began, used time.Time
	ended       chan struct{} // closed when it is ended before its time
}

func newLogin(next http.Handler, check func(context.Context, string) (bool, error), log *slog.Logger) *login {
	l := &login{next: next, check: check, log: log, now: time.Now, sessions: map[[sha256.Size]byte]*session{}}
	l.tries.now = func() time.Time { return l.now() }
	return l
}

func (l *login) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	w.Header().Add("Vary", "Cookie")
	mine := l.known(r)
	switch {
	case r.URL.Path == "/login.css":
		w.Header().Set("Cache-Control", "no-cache")
		send(w, r, "text/css; charset=utf-8", loginCSS, nil, tagOf(loginCSS))
	case r.URL.Path == "/favicon.svg":
		l.next.ServeHTTP(w, r)
	case r.URL.Path == "/login" && r.Method == http.MethodPost:
		l.enter(w, r)
	case r.URL.Path == "/login" && mine != nil:
		http.Redirect(w, r, target(r.FormValue("to")), http.StatusSeeOther)
	case r.URL.Path == "/login":
		l.show(w, r, http.StatusOK, target(r.FormValue("to")), "")
	case mine == nil && strings.HasPrefix(r.URL.Path, "/api/"), mine == nil && r.Method != http.MethodGet && r.Method != http.MethodHead:
		fail(w, http.StatusUnauthorized, "This device is not signed in, or was left alone for too long. Sign in again in another tab and go on here; nothing typed here is lost.")
	case mine == nil:
		w.Header().Set("Cache-Control", "no-store")
		http.Redirect(w, r, "/login?to="+template.URLQueryEscaper(target(r.URL.Path)), http.StatusSeeOther)
	case r.URL.Path == "/logout" && r.Method == http.MethodPost:
		l.leave(w, r)
	case r.URL.Path == eventsPath:
		l.listen(w, r, mine)
	default:
		l.next.ServeHTTP(w, r)
	}
}

// target keeps a wish where to go within this server: a path of plain signs.
func target(path string) string {
	for i, c := range []byte(path) {
		plain := 'a' <= c|0x20 && c|0x20 <= 'z' || '0' <= c && c <= '9' || strings.IndexByte("/-_.", c) >= 0
		if !plain || i == 1 && c == '/' {
			return "/"
		}
	}
	if !strings.HasPrefix(path, "/") || len(path) > 200 || strings.HasPrefix(path, "/login") || strings.HasPrefix(path, "/assets/") {
		return "/"
	}
	return path
}

// show answers with the page to sign in on.
func (l *login) show(w http.ResponseWriter, r *http.Request, status int, to, problem string) {
	var b bytes.Buffer
	language := languageOf(r)
	if err := loginPage.Execute(&b, map[string]any{"To": to, "Problem": problem, "Lang": language, "Words": loginWords[language]}); err != nil {
		panic("web: " + err.Error())
	}
	h := w.Header()
	h.Set("Content-Security-Policy", loginPolicy)
	h.Set("Content-Type", "text/html; charset=utf-8")
	h.Set("Cache-Control", "no-store")
	h.Add("Vary", "Accept-Language")
	w.WriteHeader(status)
	if r.Method != http.MethodHead {
		w.Write(b.Bytes())
	}
}

// maxForm bounds what is sent to sign in.
const maxForm = 8 << 10

// enter signs a device in.
func (l *login) enter(w http.ResponseWriter, r *http.Request) {
	words := loginWords[languageOf(r)]
	r.Body = http.MaxBytesReader(w, r.Body, maxForm)
	if err := r.ParseForm(); err != nil {
		l.show(w, r, http.StatusBadRequest, "/", words.unread)
		return
	}
	to := target(r.PostForm.Get("to"))
	who := caller(r)
	if wait := l.tries.begin(who); wait > 0 {
		seconds := int(wait/time.Second) + 1
		w.Header().Set("Retry-After", strconv.Itoa(seconds))
		l.show(w, r, http.StatusTooManyRequests, to, fmt.Sprintf(words.wait, seconds))
		return
	}
	ok, err := l.check(r.Context(), r.PostForm.Get("passphrase"))
	l.tries.end(who, ok && err == nil)
	switch {
	case err != nil:
		l.log.Error("a passphrase could not be checked", "error", err)
		l.show(w, r, http.StatusInternalServerError, to, words.unchecked)
	case !ok:
		l.log.Warn("a wrong passphrase", "from", who)
		l.show(w, r, http.StatusForbidden, to, words.wrong)
	default:
		http.SetCookie(w, &http.Cookie{Name: sessionCookie, Value: l.open(), Path: "/", MaxAge: int(wholeFor / time.Second), Secure: true, HttpOnly: true, SameSite: http.SameSiteStrictMode})
		w.Header().Set("Cache-Control", "no-store")
		http.Redirect(w, r, to, http.StatusSeeOther)
	}
}

// open begins a session and returns its secret.
func (l *login) open() string {
	secret := make([]byte, 32)
	rand.Read(secret) // never fails
	text := base64.RawURLEncoding.EncodeToString(secret)
	l.mu.Lock()
	defer l.mu.Unlock()
	now := l.now()
	var stalest [sha256.Size]byte
	least := now
	for k, s := range l.sessions {
		if s.over(now) {
			l.end(k)
		} else if s.used.Before(least) {
			stalest, least = k, s.used
		}
	}
	if len(l.sessions) >= maxSessions {
		l.end(stalest)
	}
	l.sessions[sha256.Sum256([]byte(text))] = &session{began: now, used: now, ended: make(chan struct{})}
	return text
}

// end ends a session, where there is one by that hash, and what listens in it. The
// lock is held.
func (l *login) end(k [sha256.Size]byte) {
	if s := l.sessions[k]; s != nil {
		delete(l.sessions, k)
		close(s.ended)
	}
}

// left is how long the session still lasts where nobody uses it; it is over below 0.
func (s *session) left(now time.Time) time.Duration {
	return min(idleFor-now.Sub(s.used), wholeFor-now.Sub(s.began))
}

func (s *session) over(now time.Time) bool { return s.left(now) < 0 }

// listen answers a page that listens for as long as its session lasts.
func (l *login) listen(w http.ResponseWriter, r *http.Request, s *session) {
	ctx, end := context.WithCancel(r.Context())
	defer end()
	go func() {
		defer end()
		for {
			l.mu.Lock()
			left := s.left(l.now())
			l.mu.Unlock()
			if left < 0 {
				return
			}
			select {
			case <-ctx.Done():
				return
			case <-s.ended:
				return
			case <-time.After(left + 1): // it was used since, or is over
			}
		}
	}()
	l.next.ServeHTTP(w, r.WithContext(ctx))
}

// known is the session of the device that a request comes from, or nil where it is
// not signed in. A page that asks to listen again, as it does by itself, uses nothing.
func (l *login) known(r *http.Request) *session {
	c, err := r.Cookie(sessionCookie)
	if err != nil {
		return nil
	}
	k := sha256.Sum256([]byte(c.Value))
	l.mu.Lock()
	defer l.mu.Unlock()
	s, now := l.sessions[k], l.now()
	if s == nil {
		return nil
	}
	if s.over(now) {
		l.end(k)
		return nil
	}
	if r.URL.Path != eventsPath {
		s.used = now
	}
	return s
}

// leave signs a device out.
func (l *login) leave(w http.ResponseWriter, r *http.Request) {
	if c, err := r.Cookie(sessionCookie); err == nil {
		l.mu.Lock()
		l.end(sha256.Sum256([]byte(c.Value)))
		l.mu.Unlock()
	}
	http.SetCookie(w, &http.Cookie{Name: sessionCookie, Path: "/", MaxAge: -1, Secure: true, HttpOnly: true, SameSite: http.SameSiteStrictMode})
	http.Redirect(w, r, "/login", http.StatusSeeOther)
}

// caller is whose attempts are counted together: an address, or the part of one
// of IPv6 that a single device may change at will.
func caller(r *http.Request) string {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		host = r.RemoteAddr
	}
	a, err := netip.ParseAddr(host)
	if err != nil {
		return host
	}
	if a = a.Unmap().WithZone(""); a.Is6() {
		if p, err := a.Prefix(64); err == nil {
			return p.String()
		}
	}
	return a.String()
}

// Guessing is slowed in two ways: after each wrong passphrase a caller waits
// twice as long as before, up to longestWait; and all callers together have
// burst attempts at once and then one every refill.
const (
	firstWait   = time.Second
	longestWait = 2 * time.Minute
	burst       = 20
	refill      = 6 * time.Second
	// forgive is how long after the last attempt its wait is forgotten.
	forgive = time.Hour
	// maxCallers bounds the table of callers; beyond it all wait alike.
	maxCallers = 1000
)

// tries counts attempts to sign in. Its methods may be called from several
// goroutines at once.
type tries struct {
	now func() time.Time

	mu    sync.Mutex
	by    map[string]*caution
	spent int       // of burst
	since time.Time // when the last of it was given back
}

type caution struct {
	busy  bool
	wrong int
	last  time.Time
	until time.Time
}

// begin asks for an attempt; it returns how long to wait before one is allowed,
// or 0, after which end must follow.
func (t *tries) begin(who string) time.Duration {
	t.mu.Lock()
	defer t.mu.Unlock()
	now := t.now()
	if back := int(now.Sub(t.since) / refill); back > 0 {
		t.spent = max(0, t.spent-back)
		t.since = now
	}
	c := t.by[who]
	switch {
	case c != nil && c.busy:
		return firstWait
	case c != nil && now.Before(c.until):
		return c.until.Sub(now)
	case t.spent >= burst:
		return refill
	}
	if c == nil {
		for k, o := range t.by {
			if !o.busy && now.Sub(o.last) > forgive {
				delete(t.by, k)
			}
		}
		if len(t.by) >= maxCallers {
			return longestWait
		}
		if t.by == nil {
			t.by = map[string]*caution{}
		}
		c = &caution{}
		t.by[who] = c
	}
	if now.Sub(c.last) > forgive {
		c.wrong = 0
	}
	c.busy = true
	t.spent++
	return 0
}

// end tells how an attempt went.
func (t *tries) end(who string, right bool) {
	t.mu.Lock()
	defer t.mu.Unlock()
	c := t.by[who]
	if c == nil {
		return
	}
	if right {
		delete(t.by, who)
		t.spent = max(0, t.spent-1)
		return
	}
	c.busy = false
	c.last = t.now()
	wait := longestWait
	if c.wrong < 7 {
		wait = min(wait, firstWait<<c.wrong)
	}
	c.wrong++
	c.until = c.last.Add(wait)
}
