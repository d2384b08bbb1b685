package web

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"strconv"
	"sync"
	"time"

	"gaitwright/internal/app"
	"gaitwright/ui"
)

// DefaultPort is the port the page has where it is free.
const DefaultPort = 8787

// shutdownGrace is how long answers under way may take once the server was told
// to stop.
const shutdownGrace = 5 * time.Second

// Source is what the page shows and changes; app.Studio is one. Its methods may
// be called from several goroutines at once.
type Source interface {
	Results
	Visits
	// Rest gives up what is held ready in memory; it is read anew when it is asked for.
	Rest()
}

// Results are what was measured. An error that wraps fs.ErrNotExist, or is an
// app.Problem of usage, is answered as "not found"; any other as a failure. Its
// text is shown to the analyst.
type Results interface {
	// Results lists what is kept, in any order.
	Results() ([]app.PageSummary, error)
	// Result gives one result without its tracks.
	Result(id string) (app.PageSession, error)
	// Track gives the landmarks of the clip-th clip, from 0.
	Track(id string, clip int) (app.PageTrack, error)
	// FrameJPEG gives the picture that belongs to sample frame of the clip's
	// track, from 0, upright.
	FrameJPEG(ctx context.Context, id string, clip, frame int) ([]byte, error)
	// Report gives the report in a format such as "pdf", in metric or us units, with its
	// content type.
	Report(ctx context.Context, id, format, units string) (data []byte, contentType string, err error)
	// Definitions explains every measure.
	Definitions() []app.PageDefinition
	// MeasureFigure draws what a measure measures.
	MeasureFigure(name string) (app.PageFigure, bool)
	// Reliability works out how well readings agree, and keeps nothing.
	Reliability(ask app.PageReadings) (app.PageReliability, error)
	// Adopt makes the errors of the readings those of the studio.
	Adopt(ask app.PageReadings) ([]app.PageOwnError, error)
}

var _ Source = (*app.Studio)(nil)

// Options say where the server listens. The zero value listens on the loopback
// address at a free port.
type Options struct {
	// Host is the address to listen on; empty means 127.0.0.1. Anything but a
	// loopback address lets other machines see the films.
	Host string
	// Port is the port wanted; where it is taken, a free one is used. 0 means
	// any free port.
	Port int
	// Names are further host names under which the page may be asked for, such
	// as "studio.local". Host names are otherwise refused, save localhost.
	Names []string
	// LAN lets other devices of the studio's network in; nil keeps them out.
	LAN *LAN
	// InventedDir is the folder of the invented studio; empty for the usual one.
	InventedDir string
	// Log receives failures; nil means slog.Default().
	Log *slog.Logger
}

// Server serves the page. Make one with New.
type Server struct {
	src     Source
	opts    Options
	calm    calm
	pages   http.Handler // without the guard
	handler http.Handler
	closing chan struct{} // closed when the server is told to stop
	around  *around       // the invented studio

	mu       sync.Mutex
	listener net.Listener
	door     *door // for other devices, or nil
}

// New makes a server that shows what src has. It panics where the embedded page
// is damaged.
func New(src Source, opts Options) *Server {
	if opts.Host == "" {
		opts.Host = "127.0.0.1"
	}
	if opts.Log == nil {
		opts.Log = slog.Default()
	}
	s := &Server{src: src, opts: opts, closing: make(chan struct{}), around: &around{dir: opts.InventedDir}}
	mux := http.NewServeMux()
	lanRoutes(mux, s.LAN)
	s.lookRoutes(mux, src)
	mux.Handle("/", routes(src, loadPage(ui.Dist()), opts.Log, s.closing))
	s.pages = s.calm.watch(mux)
	s.handler = guard(s.pages, opts.Names)
	return s
}

// Listen takes the ports, so that Addr, URL and LAN are known before Run.
// Calling it again does nothing.
func (s *Server) Listen() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.listener != nil {
		return nil
	}
	if s.opts.Port < 0 || s.opts.Port > 65535 {
		return fmt.Errorf("port %d is not a port: choose 1 to 65535, or 0 for any that is free", s.opts.Port)
	}
	l, err := net.Listen("tcp", net.JoinHostPort(s.opts.Host, strconv.Itoa(s.opts.Port)))
	if err != nil && s.opts.Port != 0 {
		l, err = net.Listen("tcp", net.JoinHostPort(s.opts.Host, "0"))
	}
	if err != nil {
		return fmt.Errorf("the page cannot be served on %s: %w; leave the address out to use this machine alone", s.opts.Host, err)
	}
	if a, ok := l.Addr().(*net.TCPAddr); !ok || !a.IP.IsLoopback() {
		l.Close()
		return fmt.Errorf("%s is an address that other machines reach, and nothing would keep them out; leave the address out, and use --lan to let the studio's other devices in by a passphrase", s.opts.Host)
	}
	if s.opts.LAN != nil {
		if s.door, err = openDoor(s.opts.LAN, time.Now()); err != nil {
			l.Close()
			return err
		}
	}
	s.listener = l
	return nil
}

// LAN tells how other devices come in; it is off before Listen.
func (s *Server) LAN() LANStatus {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.door == nil {
		return LANStatus{URLs: []string{}}
	}
	return s.door.status
}

// Addr returns the address as host:port, or "" before Listen.
func (s *Server) Addr() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.listener == nil {
		return ""
	}
	return s.listener.Addr().String()
}

// URL returns the address of the page to type into a browser, or "" before
// Listen.
func (s *Server) URL() string {
	host, port, err := net.SplitHostPort(s.Addr())
	if err != nil {
		return ""
	}
	if ip := net.ParseIP(host); ip != nil && ip.IsUnspecified() {
		host = "localhost"
	}
	return "http://" + net.JoinHostPort(host, port) + "/"
}

// Handler returns the whole server as a handler.
func (s *Server) Handler() http.Handler { return s.handler }

// Run serves until ctx ends, then lets answers under way finish. It returns nil
// after such an orderly end. A server runs once.
func (s *Server) Run(ctx context.Context) error {
	if err := s.Listen(); err != nil {
		return err
	}
	go s.calm.keep(s.closing, func() {
		s.src.Rest()
		app.GiveBack()
	})
	own := s.server(s.handler)
	servers := []*http.Server{own}
	failed := make(chan error, 2)
	go func() { failed <- own.Serve(s.listener) }()
	if d := s.door; d != nil {
		other := s.server(guard(newLogin(s.pages, s.opts.LAN.Check, s.opts.Log), append(d.names, s.opts.Names...)))
		other.TLSConfig = d.tls
		// A browser that does not know the certificate yet breaks off: no failure.
		other.ErrorLog = slog.NewLogLogger(s.opts.Log.Handler(), slog.LevelDebug)
		servers = append(servers, other)
		go func() { failed <- other.ServeTLS(plain{d}, "", "") }()
	}
	var fault error
	select {
	case err := <-failed:
		fault = fmt.Errorf("the page stopped: %w", err)
	case <-ctx.Done():
	}
	close(s.closing)
	s.around.close()
	grace, cancel := context.WithTimeout(context.WithoutCancel(ctx), shutdownGrace)
	defer cancel()
	for _, srv := range servers {
		if err := srv.Shutdown(grace); errors.Is(err, context.DeadlineExceeded) {
			fault = errors.Join(fault, srv.Close())
		} else if err != nil {
			fault = errors.Join(fault, fmt.Errorf("the page did not stop cleanly: %w", err))
		}
	}
	return fault
}

// server makes what serves one door.
func (s *Server) server(h http.Handler) *http.Server {
	return &http.Server{
		Handler:           h,
		ReadHeaderTimeout: 5 * time.Second,
		ReadTimeout:       30 * time.Second,
		WriteTimeout:      2 * time.Minute,
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    32 << 10,
		ErrorLog:          slog.NewLogLogger(s.opts.Log.Handler(), slog.LevelWarn),
	}
}
