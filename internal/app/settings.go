package app

import (
	"context"

	"gaitwright/internal/store"
)

const settingStudio = "studio"

// PageSettings is what holds for the whole studio: GET and PUT /api/settings.
type PageSettings struct {
	Studio string `json:"studio"` // its name, for reports
	// Invented tells that nobody in this studio is real. It cannot be changed.
	Invented bool `json:"invented"`
}

// Settings gives what holds for the whole studio.
func (st *Studio) Settings(ctx context.Context) (PageSettings, error) {
	var p PageSettings
	err := st.readRecords(ctx, func(r store.Reader) (err error) {
		if p.Studio, err = r.Setting(settingStudio); err != nil {
			return err
		}
		word, err := r.Setting(settingInvented)
		p.Invented = word != ""
		return err
	})
	return p, err
}

// ChangeSettings writes what holds for the whole studio.
func (st *Studio) ChangeSettings(ctx context.Context, who string, p PageSettings) (PageSettings, error) {
	var e entries
	e.prose("studio", "the studio's name", &p.Studio, maxName)
	p.Studio = clean(p.Studio, maxName)
	if e.err != nil {
		return p, e.err
	}
	if err := st.change(ctx, who, "Named the studio", "", func(w store.Writer) error { return w.PutSetting(settingStudio, p.Studio) }); err != nil {
		return p, err
	}
	return st.Settings(ctx)
}
