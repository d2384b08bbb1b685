package app

import (
	"context"
	"fmt"
	"strconv"
	"sync"
	"time"

	"gaitwright/internal/store"
)

// How long records are kept after the last visit before the studio is reminded to
// decide. No rule is built in: what a studio may and must keep is said by the law
// where it is. The default is our own, a round figure.
const (
	settingRetention = "retention_years"
	defaultRetention = 3
	maxRetention     = 100
	// settingKeep, with a runner's ID, is the day until which that runner is kept
	// on without a reminder.
	settingKeep = "keep/"
)

// maxDue bounds the list of runners to decide on.
const maxDue = 200

// PageKeeping is how the studio keeps its data: GET and PUT /api/keeping.
type PageKeeping struct {
	Folder         string    `json:"folder"`
	LastBackup     *string   `json:"last_backup"` // RFC 3339
	BackupText     string    `json:"backup_text"`
	RetentionYears int       `json:"retention_years"` // 0: no reminder
	RetentionText  string    `json:"retention_text"`
	Due            []PageDue `json:"due"`
	// Empty says that there are no records yet, so that a backup can be put back.
	Empty bool `json:"empty"`
}

// PageDue is a runner whose records have been kept for long.
type PageDue struct {
	ID        string  `json:"id"`
	Name      string  `json:"name"`
	LastVisit *string `json:"last_visit"`
	Years     float64 `json:"years"` // since
}

// RetentionText says whose rules decide.
const RetentionText = "How long records may and must be kept is decided by the law and the agreements where you work, not by this program. It only reminds you to decide."

// Keeping tells how the studio keeps its data.
func (st *Studio) Keeping(ctx context.Context) (PageKeeping, error) {
	out := PageKeeping{Folder: st.dir, Due: []PageDue{}, RetentionText: RetentionText, RetentionYears: defaultRetention}
	now := st.now()
	err := st.readRecords(ctx, func(r store.Reader) error {
		made, err := r.Setting(settingBackup)
		if err != nil {
			return err
		}
		out.BackupText = "No backup was made yet. A disk that fails or is stolen takes everything with it."
		if at, err := time.Parse(time.RFC3339, made); err == nil {
			out.LastBackup = &made
			out.BackupText = "Last backup: " + ago(now.Sub(at)) + "."
		}
		years, err := r.Setting(settingRetention)
		if err != nil {
			return err
		}
		if n, err := strconv.Atoi(years); err == nil {
			out.RetentionYears = n
		}
		rows, err := r.Runners(store.Query{Limit: 1})
		if err != nil {
			return err
		}
		results, err := r.Results(1)
		if err != nil {
			return err
		}
		out.Empty = len(rows)+len(results) == 0
		if out.RetentionYears == 0 {
			return nil
		}
		return dueRunners(r, now, out.RetentionYears, &out.Due)
	})
	return out, err
}

// dueRunners lists the runners last seen so many years ago, longest first.
func dueRunners(r store.Reader, now time.Time, years int, due *[]PageDue) error {
	q := store.Query{SeenBefore: now.AddDate(-years, 0, 0), Limit: maxDue}
	for {
		rows, err := r.Runners(q)
		if err != nil {
			return err
		}
		for _, row := range rows {
			last := row.LastVisit
			if last.IsZero() {
				last = row.Created
			}
			until, err := r.Setting(settingKeep + row.ID)
			if err != nil {
				return err
			}
			if until > now.Format(dayForm) {
				continue
			}
			*due = append(*due, PageDue{ID: row.ID, Name: row.Name, LastVisit: dayOrNil(row.LastVisit), Years: float64(int(now.Sub(last).Hours()/24/365.25*10)) / 10})
			if len(*due) == maxDue {
				return nil
			}
		}
		if len(rows) < q.Limit {
			return nil
		}
		q.After = rows[len(rows)-1].Cursor
	}
}

// ago says a time that has passed in words.
func ago(d time.Duration) string {
	switch days := int(d.Hours() / 24); {
	case d < time.Minute:
		return "just now"
	case d < time.Hour:
		return plural(int(d.Minutes()), "minute", "minutes") + " ago"
	case days < 1:
		return plural(int(d.Hours()), "hour", "hours") + " ago"
	default:
		return plural(days, "day", "days") + " ago"
	}
}

// ChangeKeeping sets the years after which the studio is reminded; 0 for never.
func (st *Studio) ChangeKeeping(ctx context.Context, who string, years int) (PageKeeping, error) {
	if years < 0 || years > maxRetention {
		return PageKeeping{}, &Problem{Kind: KindUsage, Field: "retention_years", What: fmt.Sprintf("a reminder after %d years cannot be set", years), Mend: fmt.Sprintf("Choose 1 to %d years, or 0 for no reminder.", maxRetention)}
	}
	err := st.change(ctx, who, "Set after how many years the studio is reminded of old records", "", func(w store.Writer) error {
		return w.PutSetting(settingRetention, strconv.Itoa(years))
	})
	if err != nil {
		return PageKeeping{}, err
	}
	return st.Keeping(ctx)
}

// KeepOn keeps a runner for another year without a reminder.
func (st *Studio) KeepOn(ctx context.Context, who, id string) (PageKeeping, error) {
	until := st.now().AddDate(1, 0, 0).Format(dayForm)
	err := st.change(ctx, who, "Kept a runner on until "+until, "", func(w store.Writer) error {
		r, err := w.Runner(id)
		if err != nil {
			return missingRecord(err, "runner")
		}
		if err := w.PutSetting(settingKeep+id, until); err != nil {
			return err
		}
		return w.PutRunner(&r) // so that the decision stands in the runner's trail
	})
	if err != nil {
		return PageKeeping{}, err
	}
	return st.Keeping(ctx)
}

// PageTrailLine is a line of the trail of who saw and changed what.
type PageTrailLine struct {
	At       string  `json:"at"` // RFC 3339
	Who      string  `json:"who"`
	What     string  `json:"what"`
	Saw      bool    `json:"saw"`
	RunnerID string  `json:"runner_id"`
	UndoneAt *string `json:"undone_at"`
	UndoneBy string  `json:"undone_by"`
}

// maxTrail bounds a list of the trail.
const maxTrail = 2000

// Trail lists who saw and changed what of a runner, or of all for an empty id,
// newest first.
func (st *Studio) Trail(ctx context.Context, runner string) ([]PageTrailLine, error) {
	out := []PageTrailLine{}
	kept, err := st.records()
	if err != nil {
		return out, err
	}
	lines, err := kept.Trail(ctx, runner, maxTrail)
	for _, l := range lines {
		p := PageTrailLine{At: l.At.Local().Format(time.RFC3339), Who: l.Who, What: l.What, Saw: l.Saw, RunnerID: l.RunnerID, UndoneBy: l.UndoneBy}
		if !l.UndoneAt.IsZero() {
			at := l.UndoneAt.Local().Format(time.RFC3339)
			p.UndoneAt = &at
		}
		out = append(out, p)
	}
	return out, recordProblem(err, "")
}

// looks remembers what was noted lately, so that a page that is read again and
// again asks the records nothing.
type looks struct {
	mu    sync.Mutex
	noted map[string]time.Time
}

// fresh tells whether a look is to be noted now.
func (l *looks) fresh(key string, now time.Time) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	if at, ok := l.noted[key]; ok && now.Sub(at) < store.LookAgain {
		return false
	}
	if l.noted == nil || len(l.noted) > 10_000 {
		l.noted = map[string]time.Time{}
	}
	l.noted[key] = now
	return true
}

// Saw notes that someone opened a record: kind is "runners", "visits", "results" or
// "clips", part what of it, such as "exam", or empty. What belongs to no runner is
// not noted.
func (st *Studio) Saw(ctx context.Context, who, kind, id, part string) error {
	who = clean(who, maxWho)
	if !store.ValidID(id) || !st.looks.fresh(who+"\n"+kind+"\n"+id+"\n"+part, st.now()) {
		return nil
	}
	kept, err := st.records()
	if err != nil {
		return err
	}
	look := store.Look{Who: who}
	err = kept.Read(ctx, func(r store.Reader) error {
		visit := id
		switch kind {
		case "runners":
			look.RunnerID, look.What = id, "Opened the runner's page"
			if part != "" {
				look.What = "Took away the runner's " + clean(part, maxLine)
			}
			return nil
		case "results":
			one, err := r.Result(id)
			if err != nil || one.VisitID == "" {
				return err
			}
			visit, look.What = one.VisitID, "Opened a result"
		case "clips":
			one, err := r.Clip(id)
			if err != nil {
				return err
			}
			visit, look.What = one.VisitID, "Opened the clip "+one.Name
		}
		v, err := r.Visit(visit)
		if err != nil {
			return err
		}
		look.RunnerID = v.RunnerID
		of := " of the visit of " + v.Date.Format("2 January 2006")
		switch {
		case look.What != "":
			look.What += of
		case part != "":
			look.What = "Opened the " + clean(part, maxLine) + of
		default:
			look.What = "Opened the visit of " + v.Date.Format("2 January 2006")
		}
		return nil
	})
	if err != nil || look.RunnerID == "" {
		return recordProblem(err, "")
	}
	return recordProblem(kept.Look(ctx, look), "")
}
