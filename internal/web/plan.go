package web

import (
	"context"
	"net/http"
	"regexp"
	"strings"

	"gaitwright/internal/app"
)

// Plans are the stations Findings and Plan of a visit.
type Plans interface {
	Findings(ctx context.Context, visit string) (app.PageFindings, error)
	ChangeFindings(ctx context.Context, who, visit string, p app.PageFindingsKept) (app.PageFindings, error)
	ShowsJPEG(ctx context.Context, result string, clip, frame int) ([]byte, error)
	Plan(ctx context.Context, visit string) (app.PagePlan, error)
	ChangePlan(ctx context.Context, who, visit string, c app.PagePlanChange) (app.PagePlan, error)
	PlanCalendar(ctx context.Context, visit, language, units string) (data []byte, name string, err error)
	ExerciseSVG(name, pose, side, look string) ([]byte, error)
}

// exerciseName is the shape of an exercise's name.
var exerciseName = regexp.MustCompile(`^[a-z][a-z0-9_]{0,60}$`)

// planRoutes are the addresses of findings and plan.
func (a api) planRoutes(mux *http.ServeMux, handle func(pattern string, work func(*http.Request, string) (any, error))) {
	src := a.src
	handle("GET /api/visits/{id}/findings", func(r *http.Request, id string) (any, error) { return src.Findings(r.Context(), id) })
	handle("PUT /api/visits/{id}/findings", func(r *http.Request, id string) (any, error) {
		var p app.PageFindingsKept
		if err := read(r, &p); err != nil {
			return nil, err
		}
		return src.ChangeFindings(r.Context(), who(r), id, p)
	})
	handle("GET /api/visits/{id}/plan", func(r *http.Request, id string) (any, error) { return src.Plan(r.Context(), id) })
	handle("PUT /api/visits/{id}/plan", func(r *http.Request, id string) (any, error) {
		var c app.PagePlanChange
		if err := read(r, &c); err != nil {
			return nil, err
		}
		return src.ChangePlan(r.Context(), who(r), id, c)
	})
	mux.HandleFunc("GET /api/visits/{id}/plan.ics", a.planCalendar)
	mux.HandleFunc("GET /api/results/{id}/clips/{clip}/shows/{frame}", a.shows)
	mux.HandleFunc("GET /api/exercises/{name}/{pose}", a.exercise)
}

func (a api) planCalendar(w http.ResponseWriter, r *http.Request) {
	id := r.PathValue("id")
	if !recordID.MatchString(id) {
		fail(w, http.StatusNotFound, "There is no such visit.")
		return
	}
	if err := chosen(r.URL.Query(), "lang", "units"); err != nil {
		a.deny(w, r, err)
		return
	}
	language := r.URL.Query().Get("lang")
	if language == "" {
		language = "en"
	}
	data, name, err := a.src.PlanCalendar(r.Context(), id, language, r.URL.Query().Get("units"))
	if err != nil {
		a.deny(w, r, err)
		return
	}
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Set("Content-Disposition", `attachment; filename="`+name+`"`)
	send(w, r, "text/calendar; charset=utf-8", data, nil, tagOf(data))
}

func (a api) shows(w http.ResponseWriter, r *http.Request) {
	n, ok := count(r.PathValue("clip"), 1<<16)
	frame, also := count(r.PathValue("frame"), 1<<30)
	if !ok || !also || !recordID.MatchString(r.PathValue("id")) {
		fail(w, http.StatusNotFound, "There is no such frame.")
		return
	}
	jpeg, err := a.src.ShowsJPEG(r.Context(), r.PathValue("id"), n, frame)
	if err != nil {
		a.deny(w, r, err)
		return
	}
	// The landmarks may be corrected, so it is asked for anew and answered by its tag.
	w.Header().Set("Cache-Control", "private, no-cache")
	send(w, r, "image/jpeg", jpeg, nil, tagOf(jpeg))
}

func (a api) exercise(w http.ResponseWriter, r *http.Request) {
	name, pose := r.PathValue("name"), strings.TrimSuffix(r.PathValue("pose"), ".svg")
	if !exerciseName.MatchString(name) {
		fail(w, http.StatusNotFound, "There is no such exercise.")
		return
	}
	if err := chosen(r.URL.Query(), "side", "look"); err != nil {
		a.deny(w, r, err)
		return
	}
	svg, err := a.src.ExerciseSVG(name, pose, r.URL.Query().Get("side"), r.URL.Query().Get("look"))
	if err != nil {
		a.deny(w, r, err)
		return
	}
	w.Header().Set("Cache-Control", "private, no-cache")
	send(w, r, "image/svg+xml", svg, nil, tagOf(svg))
}
