package web

import (
	"context"
	"net/http"
	"time"

	"gaitwright/internal/app"
)

// Exams are the station Exam of a visit.
type Exams interface {
	ExamCatalogue() app.PageExamTests
	Exam(ctx context.Context, visit string) (app.PageExam, error)
	ChangeExam(ctx context.Context, who, visit string, p app.PageExam) (app.PageExam, error)
	AddExamTable(ctx context.Context, who, visit string, ask app.PageExamTable) (app.PageExam, error)
	ExamFilm(ctx context.Context, visit string, ask app.PageExamFilm) (app.PageExamFilmed, error)
}

// Trials are read from a film before it is answered: its landmarks are found in every
// frame, which takes minutes the first time.
const (
	examFilmRoute  = "POST /api/visits/{id}/exam/film"
	examFilmWithin = time.Hour
)

// examRoutes are the addresses of the exam, by the way in which those of a visit
// are handled.
func (a api) examRoutes(handle func(pattern string, work func(*http.Request, string) (any, error))) {
	src := a.src
	handle("GET /api/exam/tests", func(*http.Request, string) (any, error) { return src.ExamCatalogue(), nil })
	handle("GET /api/visits/{id}/exam", func(r *http.Request, id string) (any, error) { return src.Exam(r.Context(), id) })
	handle("PUT /api/visits/{id}/exam", func(r *http.Request, id string) (any, error) {
		var p app.PageExam
		if err := read(r, &p); err != nil {
			return nil, err
		}
		return src.ChangeExam(r.Context(), who(r), id, p)
	})
	handle("POST /api/visits/{id}/exam/table", func(r *http.Request, id string) (any, error) {
		var ask app.PageExamTable
		if err := read(r, &ask); err != nil {
			return nil, err
		}
		return src.AddExamTable(r.Context(), who(r), id, ask)
	})
	handle(examFilmRoute, func(r *http.Request, id string) (any, error) {
		var ask app.PageExamFilm
		if err := read(r, &ask); err != nil {
			return nil, err
		}
		return src.ExamFilm(r.Context(), id, ask)
	})
}
