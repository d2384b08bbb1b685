package web

import (
	"compress/gzip"
	"context"
	"encoding/json"
	"errors"
	"io/fs"
	"log/slog"
	"math"
	"net/http"
	"net/netip"
	"regexp"
	"strconv"
	"unicode/utf8"

	"gaitwright/internal/app"
)

// isResultID tells whether a text has the shape of a result's name: one path
// element that begins with a letter or digit, so that it can never climb out of the
// folder of results, of at most 200 signs.
func isResultID(text string) bool {
	return utf8.RuneCountInString(text) <= 200 && resultID.MatchString(text)
}

// The length is not in it: all letters there are, 200 times over, would be kept in
// memory.
var resultID = regexp.MustCompile(`^[\pL\pN][\pL\pN._-]*$`)

var reportFormat = regexp.MustCompile(`^[a-z0-9]{1,8}$`)

// packFrom is the size in bytes from which an answer is worth compressing.
const packFrom = 1024

// pages are the addresses at which the page itself is answered; what it shows
// there is its own affair.
var pages = []string{"/runners/{id}", "/visits/{id}", "/visits/{id}/{station}", "/visits/{id}/bench/{result}/{clip}",
	"/results", "/results/{id}", "/results/{id}/beside", "/results/{id}/bench/{clip}", "/reliability", "/settings", "/keeping", "/together", "/handbook", "/handbook/{name}"}

func routes(src Source, built page, log *slog.Logger, closing <-chan struct{}) http.Handler {
	a := api{src: src, log: log, closing: closing}
	mux := http.NewServeMux()
	index := func(w http.ResponseWriter, r *http.Request) { built.serve(w, r, "index.html") }
	for _, path := range pages {
		mux.HandleFunc("GET "+path, index)
	}
	mux.HandleFunc("GET /{$}", a.serveFirst(built))
	mux.HandleFunc("GET /assets/{file}", func(w http.ResponseWriter, r *http.Request) {
		built.serve(w, r, "assets/"+r.PathValue("file"))
	})
	mux.HandleFunc("GET /favicon.svg", func(w http.ResponseWriter, r *http.Request) { built.serve(w, r, "favicon.svg") })
	mux.HandleFunc("GET /api/results", a.results)
	mux.HandleFunc("GET /api/results/{id}", a.result)
	mux.HandleFunc("GET /api/results/{id}/clips/{clip}/track", a.track)
	mux.HandleFunc("GET /api/results/{id}/clips/{clip}/frames/{frame}", a.frame)
	mux.HandleFunc("GET /api/results/{id}/{report}", a.report)
	mux.HandleFunc("GET /api/measures", a.measures)
	mux.HandleFunc("GET /api/measures/{name}/figure", a.measureFigure)
	mux.HandleFunc("GET /api/words/{language}", func(w http.ResponseWriter, r *http.Request) { a.json(w, r, app.Words(r.PathValue("language"))) })
	mux.HandleFunc("POST /api/reliability", a.reliability)
	mux.HandleFunc("POST /api/reliability/adopt", a.adopt)
	a.visitRoutes(mux)
	a.benchRoutes(mux)
	a.besideRoutes(mux)
	a.handbookRoutes(mux)
	mux.HandleFunc("GET /", func(w http.ResponseWriter, r *http.Request) {
		fail(w, http.StatusNotFound, "There is no such page here; start again from the list of results.")
	})
	return a.noting(mux)
}

type api struct {
	src     Source
	log     *slog.Logger
	closing <-chan struct{} // closed when the server is told to stop
}

func (a api) results(w http.ResponseWriter, r *http.Request) {
	list, err := a.src.Results()
	if err != nil {
		a.refuse(w, r, err)
		return
	}
	if list == nil {
		list = []app.PageSummary{}
	}
	a.json(w, r, list)
}

func (a api) result(w http.ResponseWriter, r *http.Request) {
	if s, ok := a.session(w, r); ok {
		a.json(w, r, s)
	}
}

func (a api) track(w http.ResponseWriter, r *http.Request) {
	clip, ok := a.clip(w, r)
	if !ok {
		return
	}
	t, err := a.src.Track(r.PathValue("id"), clip.Index)
	if err != nil {
		a.refuse(w, r, err)
		return
	}
	a.json(w, r, shortened(t))
}

func (a api) frame(w http.ResponseWriter, r *http.Request) {
	clip, ok := a.clip(w, r)
	if !ok {
		return
	}
	k, ok := count(r.PathValue("frame"), clip.Frames)
	switch {
	case !clip.Video:
		fail(w, http.StatusNotFound, "This clip is a marker file and has no pictures.")
		return
	case !ok:
		fail(w, http.StatusNotFound, "The clip has no such frame; it has "+strconv.Itoa(clip.Frames)+", counted from 0.")
		return
	}
	jpeg, err := a.src.FrameJPEG(r.Context(), r.PathValue("id"), clip.Index, k)
	if err != nil {
		a.refuse(w, r, err)
		return
	}
	w.Header().Set("Cache-Control", "private, max-age=3600")
	send(w, r, "image/jpeg", jpeg, nil, tagOf(jpeg))
}

func (a api) report(w http.ResponseWriter, r *http.Request) {
	const lead = "report."
	name := r.PathValue("report")
	if len(name) <= len(lead) || name[:len(lead)] != lead || !reportFormat.MatchString(name[len(lead):]) {
		fail(w, http.StatusNotFound, "There is no such page here.")
		return
	}
	if err := chosen(r.URL.Query(), "units"); err != nil {
		a.deny(w, r, err)
		return
	}
	s, ok := a.session(w, r)
	if !ok {
		return
	}
	format := name[len(lead):]
	body, kind, err := a.src.Report(r.Context(), s.ID, format, r.URL.Query().Get("units"))
	if err != nil {
		a.refuse(w, r, err)
		return
	}
	w.Header().Set("Content-Security-Policy", reportPolicy)
	w.Header().Set("Cache-Control", "no-cache")
	w.Header().Set("Content-Disposition", `inline; filename="gaitwright-report.`+format+`"`)
	send(w, r, kind, body, nil, tagOf(body))
}

func (a api) measures(w http.ResponseWriter, r *http.Request) {
	list := a.src.Definitions()
	if list == nil {
		list = []app.PageDefinition{}
	}
	a.json(w, r, list)
}

func (a api) measureFigure(w http.ResponseWriter, r *http.Request) {
	figure, ok := a.src.MeasureFigure(r.PathValue("name"))
	if !ok {
		fail(w, http.StatusNotFound, "There is no such measure.")
		return
	}
	a.json(w, r, figure)
}

// session finds the result that the path names, or answers that there is none.
func (a api) session(w http.ResponseWriter, r *http.Request) (app.PageSession, bool) {
	id := r.PathValue("id")
	if !isResultID(id) {
		fail(w, http.StatusNotFound, "There is no result of that name.")
		return app.PageSession{}, false
	}
	s, err := a.src.Result(id)
	if err != nil {
		a.refuse(w, r, err)
		return app.PageSession{}, false
	}
	return s, true
}

// clip finds the clip that the path names, or answers that there is none.
func (a api) clip(w http.ResponseWriter, r *http.Request) (app.PageClip, bool) {
	s, ok := a.session(w, r)
	if !ok {
		return app.PageClip{}, false
	}
	n, ok := count(r.PathValue("clip"), len(s.Clips))
	if !ok {
		fail(w, http.StatusNotFound, "The result has no such clip; it has "+strconv.Itoa(len(s.Clips))+", counted from 0.")
		return app.PageClip{}, false
	}
	c := s.Clips[n]
	c.Index = n
	return c, true
}

// count reads a plain number from 0 to limit-1.
func count(text string, limit int) (int, bool) {
	n, err := strconv.ParseUint(text, 10, 31)
	if err != nil || int(n) >= limit || text != strconv.FormatUint(n, 10) {
		return 0, false
	}
	return int(n), true
}

func (a api) json(w http.ResponseWriter, r *http.Request, v any) {
	body, err := json.Marshal(v)
	if err != nil {
		a.refuse(w, r, err)
		return
	}
	var packed []byte
	if len(body) >= packFrom && takesGzip(r) && !sameMachine(r) {
		packed = pack(body, gzip.BestSpeed)
	}
	w.Header().Set("Cache-Control", "private, no-cache")
	send(w, r, "application/json", body, packed, tagOf(body))
}

// sameMachine tells whether the browser runs on this machine: what it gets from here
// is sooner there than it could be compressed.
func sameMachine(r *http.Request) bool {
	at, err := netip.ParseAddrPort(r.RemoteAddr)
	return err == nil && at.Addr().Unmap().IsLoopback()
}

// refuse answers with an error of the source.
func (a api) refuse(w http.ResponseWriter, r *http.Request, err error) {
	switch {
	case errors.Is(err, context.Canceled) && r.Context().Err() != nil:
		// The browser has moved on; nobody reads the answer.
		return
	case errors.Is(err, fs.ErrNotExist) || app.KindOf(err) == app.KindUsage:
		fail(w, http.StatusNotFound, app.InOneLine(err))
	case app.KindOf(err) == app.KindNoResult:
		fail(w, http.StatusUnprocessableEntity, app.InOneLine(err))
	case app.KindOf(err) == app.KindNotInstalled:
		fail(w, http.StatusServiceUnavailable, app.InOneLine(err))
	default:
		a.log.Warn("the page could not be answered", "path", r.URL.Path, "error", err)
		fail(w, http.StatusInternalServerError, app.InOneLine(err))
	}
}

// fail answers with a status and one sentence.
func fail(w http.ResponseWriter, status int, sentence string) {
	body, err := json.Marshal(map[string]string{"error": sentence})
	if err != nil {
		panic("web: " + err.Error())
	}
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	w.Write(body)
}

// shortened rounds a track to what a picture can show, which makes it a third
// of the size on the way to the browser: a hundredth of a pixel or a tenth of a
// millimetre, a thousandth of a degree, a microsecond.
func shortened(t app.PageTrack) app.PageTrack {
	place := 100.0
	if t.Unit == "m" {
		place = 1e4
	}
	t.X, t.Y, t.Z = roundedPaths(t.X, place), roundedPaths(t.Y, place), roundedPaths(t.Z, place)
	t.RawX, t.RawY = roundedPaths(t.RawX, place), roundedPaths(t.RawY, place)
	t.Conf = roundedPaths(t.Conf, 1e3)
	times := make([]float64, len(t.TimeS))
	for i, s := range t.TimeS {
		times[i] = round(s, 1e6)
	}
	t.TimeS = times
	series := make(map[string]app.PageAngle, len(t.Series))
	for name, s := range t.Series {
		s.Values = rounded(s.Values, 1e3)
		series[name] = s
	}
	t.Series = series
	return t
}

func roundedPaths(paths [][]*float64, place float64) [][]*float64 {
	if paths == nil {
		return nil
	}
	out := make([][]*float64, len(paths))
	for i, p := range paths {
		out[i] = rounded(p, place)
	}
	return out
}

func rounded(values []*float64, place float64) []*float64 {
	room := make([]float64, len(values))
	out := make([]*float64, len(values))
	for i, v := range values {
		if v != nil && !math.IsNaN(*v) && !math.IsInf(*v, 0) {
			room[i] = round(*v, place)
			out[i] = &room[i]
		}
	}
	return out
}

func round(v, place float64) float64 { return math.Round(v*place) / place }
