package web

import (
	"context"
	"net/http"

	"gaitwright/internal/app"
)

// Exams are the station Exam of a visit.
type Exams interface {
	ExamCatalogue() app.PageExamTests
	Exam(ctx context.Context, visit string) (app.PageExam, error)
	ChangeExam(ctx context.Context, who, visit string, p app.PageExam) (app.PageExam, error)
	AddExamTable(ctx context.Context, who, visit string, ask app.PageExamTable) (app.PageExam, error)
	ReadExamFilm(ctx context.Context, who, visit string, ask app.PageExamFilm) (app.PageJob, error)
	KeepExamFilmed(ctx context.Context, who, visit, filmed string) (app.PageExam, error)
	PutExamFilmedAside(ctx context.Context, who, visit, filmed string) (app.PageExam, error)
}

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
	handle("POST /api/visits/{id}/exam/film", func(r *http.Request, id string) (any, error) {
		var ask app.PageExamFilm
		if err := read(r, &ask); err != nil {
			return nil, err
		}
		return src.ReadExamFilm(r.Context(), who(r), id, ask)
	})
	handle("POST /api/visits/{id}/exam/film/{filmed}/keep", func(r *http.Request, id string) (any, error) {
		return src.KeepExamFilmed(r.Context(), who(r), id, r.PathValue("filmed"))
	})
	handle("DELETE /api/visits/{id}/exam/film/{filmed}", func(r *http.Request, id string) (any, error) {
		return src.PutExamFilmedAside(r.Context(), who(r), id, r.PathValue("filmed"))
	})
}
