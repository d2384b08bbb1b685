package web

import (
	"context"
	"crypto/rand"
	"io"
	"mime"
	"net/http"
	"net/url"
	"regexp"
	"sync"
	"time"

	"gaitwright/internal/app"
)

// Keeper keeps the studio's data and gives it up.
type Keeper interface {
	Keeping(ctx context.Context) (app.PageKeeping, error)
	ChangeKeeping(ctx context.Context, who string, years int) (app.PageKeeping, error)
	KeepOn(ctx context.Context, who, runner string) (app.PageKeeping, error)
	Backup(ctx context.Context, w io.Writer, passphrase string, progress app.Progress) (app.PageBackup, error)
	Restore(ctx context.Context, r io.Reader, passphrase string, progress app.Progress) (app.PageBackup, error)
	ErasePreview(ctx context.Context, runner string) (app.PageErase, error)
	EraseRunner(ctx context.Context, who, runner, name string) (app.PageErased, error)
	ExportRunner(ctx context.Context, w io.Writer, runner string) error
	Trail(ctx context.Context, runner string) ([]app.PageTrailLine, error)
	Saw(ctx context.Context, who, kind, id, part string) error
	Together(ctx context.Context) (app.PageTogether, error)
	ExportTogether(ctx context.Context, w io.Writer) (anonymity string, err error)
}

// backupType is what a backup is sent as. Another site's page cannot send it
// without being asked first.
const backupType = "application/age-encrypted"

// headerPassphrase carries the passphrase of a backup that is sent,
// percent-encoded.
const headerPassphrase = "Gaitwright-Passphrase"

// ticketLife is how long a backup that was asked for may wait to be fetched.
const ticketLife = time.Minute

// tickets are backups that were asked for: their passphrases, by a name that
// nobody can guess and that is good for one fetch. So the browser saves the file
// as it saves any, however large it is.
type tickets struct {
	mu    sync.Mutex
	waits map[string]ticket
}

type ticket struct {
	passphrase string
	until      time.Time
}

func (t *tickets) give(passphrase string) string {
	name := rand.Text()
	t.mu.Lock()
	defer t.mu.Unlock()
	for n, w := range t.waits {
		if time.Now().After(w.until) {
			delete(t.waits, n)
		}
	}
	if t.waits == nil {
		t.waits = map[string]ticket{}
	}
	t.waits[name] = ticket{passphrase, time.Now().Add(ticketLife)}
	return name
}

func (t *tickets) take(name string) (string, bool) {
	t.mu.Lock()
	defer t.mu.Unlock()
	w, ok := t.waits[name]
	delete(t.waits, name)
	return w.passphrase, ok && time.Now().Before(w.until)
}

// An erasure reads all films of the studio through before it is answered.
const (
	eraseRoute  = "POST /api/runners/{id}/erase"
	eraseWithin = time.Hour
)

func (a api) keepingRoutes(mux *http.ServeMux, handle func(pattern string, work func(*http.Request, string) (any, error))) {
	src := a.src
	handle("GET /api/keeping", func(r *http.Request, _ string) (any, error) { return src.Keeping(r.Context()) })
	handle("PUT /api/keeping", func(r *http.Request, _ string) (any, error) {
		var ask struct {
			RetentionYears int `json:"retention_years"`
		}
		if err := read(r, &ask); err != nil {
			return nil, err
		}
		return src.ChangeKeeping(r.Context(), who(r), ask.RetentionYears)
	})
	handle("POST /api/runners/{id}/keep", func(r *http.Request, id string) (any, error) { return src.KeepOn(r.Context(), who(r), id) })
	handle("GET /api/runners/{id}/erase", func(r *http.Request, id string) (any, error) { return src.ErasePreview(r.Context(), id) })
	handle(eraseRoute, func(r *http.Request, id string) (any, error) {
		var ask struct {
			Name string `json:"name"`
		}
		if err := read(r, &ask); err != nil {
			return nil, err
		}
		// Once begun it is carried to its end, whether the browser waits or not.
		return src.EraseRunner(context.WithoutCancel(r.Context()), who(r), id, ask.Name)
	})
	handle("GET /api/trail", func(r *http.Request, _ string) (any, error) { return src.Trail(r.Context(), "") })
	handle("GET /api/runners/{id}/trail", func(r *http.Request, id string) (any, error) { return src.Trail(r.Context(), id) })
	handle("GET /api/together", func(r *http.Request, _ string) (any, error) { return src.Together(r.Context()) })
	mux.HandleFunc("GET /api/together.zip", func(w http.ResponseWriter, r *http.Request) {
		a.stream(w, r, "application/zip", "gaitwright-measures-"+time.Now().Format("2006-01-02")+".zip", func(to io.Writer) error {
			_, err := a.src.ExportTogether(r.Context(), to)
			return err
		})
	})
	asked := &tickets{}
	handle("POST /api/backups", func(r *http.Request, _ string) (any, error) {
		var ask struct {
			Passphrase string `json:"passphrase"`
		}
		if err := read(r, &ask); err != nil {
			return nil, err
		}
		if err := app.GoodPassphrase(ask.Passphrase); err != nil {
			return nil, err
		}
		return map[string]string{"url": "/api/backups/" + asked.give(ask.Passphrase)}, nil
	})
	mux.HandleFunc("GET /api/backups/{ticket}", func(w http.ResponseWriter, r *http.Request) {
		words, ok := asked.take(r.PathValue("ticket"))
		if !ok {
			fail(w, http.StatusNotFound, "This backup was fetched already, or waited too long; ask for it again.")
			return
		}
		name := "gaitwright-" + time.Now().Format("2006-01-02") + app.BackupEnding
		a.stream(w, r, backupType, name, func(to io.Writer) error {
			_, err := a.src.Backup(r.Context(), to, words, app.NoProgress{})
			return err
		})
	})
	mux.HandleFunc("POST /api/backups/verify", func(w http.ResponseWriter, r *http.Request) {
		a.takeBackup(w, r, func(ctx context.Context, from io.Reader, words string) (app.PageBackup, error) {
			return app.VerifyBackup(ctx, from, words, app.NoProgress{})
		})
	})
	mux.HandleFunc("POST /api/backups/restore", func(w http.ResponseWriter, r *http.Request) {
		a.takeBackup(w, r, func(ctx context.Context, from io.Reader, words string) (app.PageBackup, error) {
			return a.src.Restore(ctx, from, words, app.NoProgress{})
		})
	})
	mux.HandleFunc("GET /api/runners/{id}/everything.zip", func(w http.ResponseWriter, r *http.Request) {
		id := r.PathValue("id")
		if !recordID.MatchString(id) {
			fail(w, http.StatusNotFound, "There is no such runner.")
			return
		}
		runner, err := a.src.Runner(r.Context(), id)
		if err != nil {
			a.deny(w, r, err)
			return
		}
		a.saw(r, "runners", id, "records")
		a.stream(w, r, "application/zip", app.ExportName(runner.Name, time.Now()), func(to io.Writer) error {
			return a.src.ExportRunner(r.Context(), to, id)
		})
	})
}

// stream sends a file as it is made. One that fails on the way is broken off, so
// that the browser does not take it for whole.
func (a api) stream(w http.ResponseWriter, r *http.Request, kind, name string, write func(io.Writer) error) {
	h := w.Header()
	h.Set("Content-Type", kind)
	h.Set("Cache-Control", "no-store")
	h.Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": name}))
	to := &patientWriter{to: w, control: http.NewResponseController(w)}
	err := write(to)
	switch {
	case err == nil:
	case !to.begun:
		for _, n := range []string{"Content-Type", "Content-Disposition"} {
			h.Del(n)
		}
		a.deny(w, r, err)
	default:
		if r.Context().Err() == nil {
			a.log.Warn("a file broke off", "file", name, "error", err)
		}
		panic(http.ErrAbortHandler)
	}
}

// patientWriter writes as slowly as it is taken, as long as it is taken.
type patientWriter struct {
	to      io.Writer
	control *http.ResponseController
	begun   bool
}

func (p *patientWriter) Write(b []byte) (int, error) {
	p.begun = true
	p.control.SetWriteDeadline(time.Now().Add(2 * stall))
	return p.to.Write(b)
}

// takeBackup reads a backup that the page sends.
func (a api) takeBackup(w http.ResponseWriter, r *http.Request, do func(context.Context, io.Reader, string) (app.PageBackup, error)) {
	if kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type")); err != nil || kind != backupType {
		fail(w, http.StatusUnsupportedMediaType, "A backup is sent as "+backupType+".")
		return
	}
	words, err := url.PathUnescape(r.Header.Get(headerPassphrase))
	if err != nil {
		fail(w, http.StatusBadRequest, "The passphrase cannot be read.")
		return
	}
	control := http.NewResponseController(w)
	from := &patientReader{from: r.Body, control: control}
	out, err := do(r.Context(), from, words)
	control.SetWriteDeadline(time.Now().Add(stall))
	if err != nil {
		a.deny(w, r, err)
		return
	}
	a.json(w, r, out)
}

// opened are the addresses at which records are looked at, and what of them.
var opened = regexp.MustCompile(`^/api/(runners|visits|results|clips)/([0-9A-Z]{26})(?:/(exam|findings|plan|handout|return|steprate|beside))?$`)

// noting notes who opened what.
func (a api) noting(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		next.ServeHTTP(w, r)
		if m := opened.FindStringSubmatch(r.URL.Path); m != nil && r.Method == http.MethodGet {
			a.saw(r, m[1], m[2], m[3])
		}
	})
}

func (a api) saw(r *http.Request, kind, id, part string) {
	err := a.src.Saw(context.WithoutCancel(r.Context()), who(r), kind, id, part)
	if k := app.KindOf(err); err != nil && k != app.KindNotFound && k != app.KindBusy {
		a.log.Warn("a look could not be noted", "error", err)
	}
}
