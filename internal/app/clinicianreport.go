package app

import (
	"context"
	"errors"

	"gaitwright/internal/render"
)

func (st *Studio) clinicianReport(ctx context.Context, f *reasoned, ask ReportAsk, head render.Letterhead) (*render.Document, error) {
	return nil, errors.New("the clinician's report is not here yet")
}
