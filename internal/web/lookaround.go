package web

import (
	"context"
	"net"
	"net/http"
	"sync"

	"gaitwright/internal/app"
)

// LookAround is the invented studio as the page sees it: GET POST /api/invented.
type LookAround struct {
	// State is none, filling, open or failed; "here" where this studio itself is
	// invented, and empty where it is not offered.
	State string `json:"state"`
	Done  int    `json:"done"` // runners that are there, of Total
	Total int    `json:"total"`
	URL   string `json:"url"`   // of its page once it is open; empty else
	Fault string `json:"fault"` // why it failed
}

// around keeps the invented studio beside the studio that is served: another folder
// and another port of this machine.
type around struct {
	dir  string // empty for the usual one
	mu   sync.Mutex
	now  LookAround
	stop context.CancelFunc
	done chan struct{}
}

// Stage begins anew with so many runners to come.
func (a *around) Stage(_, _ string, units int) {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.now.Done, a.now.Total = 0, units
}

// Advance counts runners.
func (a *around) Advance(n int) {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.now.Done += n
}

// Done does nothing.
func (a *around) Done() {}

func (a *around) state() LookAround {
	a.mu.Lock()
	defer a.mu.Unlock()
	return a.now
}

// begin opens the invented studio, or does nothing where it is open or on its way.
func (a *around) begin(opts Options) LookAround {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.now.State == "filling" || a.now.State == "open" {
		return a.now
	}
	ctx, stop := context.WithCancel(context.Background())
	a.now, a.stop, a.done = LookAround{State: "filling"}, stop, make(chan struct{})
	go a.run(ctx, opts)
	return a.now
}

func (a *around) run(ctx context.Context, opts Options) {
	defer close(a.done)
	failed := func(err error) {
		a.mu.Lock()
		defer a.mu.Unlock()
		a.now = LookAround{State: "failed", Fault: err.Error()}
	}
	st, err := app.OpenInventedAside(ctx, a.dir, a)
	if err != nil {
		failed(err)
		return
	}
	defer st.Close()
	server := New(st, Options{Log: opts.Log})
	if err := server.Listen(); err != nil {
		failed(err)
		return
	}
	st.StartWork(ctx)
	a.mu.Lock()
	a.now.State, a.now.URL = "open", server.URL()
	a.mu.Unlock()
	if err := server.Run(ctx); err != nil {
		failed(err)
	}
}

// close ends it and waits until it has ended.
func (a *around) close() {
	a.mu.Lock()
	stop, done := a.stop, a.done
	a.mu.Unlock()
	if stop != nil {
		stop()
		<-done
	}
}

// lookRoutes answers for the invented studio. It is opened on this machine alone, so
// that only who sits at it is offered one.
func (s *Server) lookRoutes(mux *http.ServeMux, src Source) {
	here := func(r *http.Request) bool {
		host, _, err := net.SplitHostPort(r.RemoteAddr)
		ip := net.ParseIP(host)
		return err == nil && ip != nil && ip.IsLoopback()
	}
	a := api{log: s.opts.Log}
	mux.HandleFunc("GET /api/invented", func(w http.ResponseWriter, r *http.Request) {
		p, err := src.Settings(r.Context())
		if err != nil {
			a.refuse(w, r, err)
			return
		}
		now := s.around.state()
		switch {
		case p.Invented:
			now = LookAround{State: "here"}
		case !here(r):
			now = LookAround{}
		case now.State == "":
			now.State = "none"
		}
		a.json(w, r, now)
	})
	mux.HandleFunc("POST /api/invented", func(w http.ResponseWriter, r *http.Request) {
		if p, err := src.Settings(r.Context()); err != nil || p.Invented || !here(r) {
			fail(w, http.StatusForbidden, "The invented studio is opened from one's own, on the machine that the program runs on.")
			return
		}
		a.json(w, r, s.around.begin(s.opts))
	})
}
