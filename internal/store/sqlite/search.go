package sqlite

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"gaitwright/internal/store"
)

// pageSize is the length of a list where none is asked for, maxPage the longest.
const (
	pageSize = 50
	maxPage  = 1000
)

// few is the number of finds up to which they are gathered first; beyond it the
// list is walked and each runner tried, which ends after a page. Between them any
// search stays quick: what is rare is gathered, what is common is soon met.
const few = 400

// maxTags is how many findings and complaints one word of a search may mean.
const maxTags = 200

// narrow is one condition of a search, in the two ways to try it. finds selects
// the runners that meet it, tried whether s.runner does.
type narrow struct {
	finds, tried string
	args         []any
}

// narrowed has the conditions of a search; tags are all findings and complaints there are.
func narrowed(q store.Query, tags []string) []narrow {
	var out []narrow
	for _, w := range store.QueryWords(q.Text) {
		// Words are sought by their beginnings, a range of the index; those of the few
		// findings and complaints one by one.
		n := narrow{`SELECT runner FROM word WHERE word >= ? AND word < ?`,
			`SELECT 1 FROM word WHERE word >= ? AND word < ? AND runner = s.runner`, []any{w, w + string(utf8.MaxRune)}}
		with := 0
		for _, name := range tags {
			said := name
			if q.Said != nil {
				said += " " + q.Said(name)
			}
			if slices.ContainsFunc(store.Words(said), func(x string) bool { return strings.HasPrefix(x, w) }) && with < maxTags {
				n.args = append(n.args, name)
				with++
			}
		}
		if with > 0 {
			names := ` FROM tag WHERE name IN (?` + strings.Repeat(`, ?`, with-1) + `)`
			n.finds += ` UNION ALL SELECT runner` + names
			n.tried += ` UNION ALL SELECT 1` + names + ` AND runner = s.runner`
		}
		out = append(out, n)
	}
	if q.Tag != "" {
		out = append(out, narrow{`SELECT runner FROM tag WHERE name = ?`, `SELECT 1 FROM tag WHERE name = ? AND runner = s.runner`, []any{q.Tag}})
	}
	if !q.From.IsZero() || !q.To.IsZero() {
		from, to := "", "9999-12-31"
		if !q.From.IsZero() {
			from = q.From.Format(time.DateOnly)
		}
		if !q.To.IsZero() {
			to = q.To.Format(time.DateOnly)
		}
		const visits = ` FROM record WHERE kind = 'visit' AND removed = 0 AND day BETWEEN ? AND ?`
		out = append(out, narrow{`SELECT parent` + visits, `SELECT 1` + visits + ` AND parent = s.runner`, []any{from, to}})
	}
	return out
}

func (r *reader) Runners(q store.Query) ([]store.RunnerRow, error) {
	where, args := `TRUE`, []any(nil)
	beyond, order := `<`, `DESC`
	if !q.SeenBefore.IsZero() {
		beyond, order = `>`, `ASC`
		where, args = `s.at < ?`, []any{q.SeenBefore.UnixMicro()}
	}
	if q.After != "" {
		at, id, ok := parseCursor(q.After)
		if !ok {
			return nil, fmt.Errorf("%w: %.80q; begin the list anew", store.ErrCursor, q.After)
		}
		where, args = where+` AND (s.at, s.runner) `+beyond+` (?, ?)`, append(args, at, id)
	}
	var tags []string
	if strings.TrimSpace(q.Text) != "" {
		var err error
		if tags, err = r.Tags(); err != nil {
			return nil, err
		}
	}
	for _, n := range narrowed(q, tags) {
		var found int
		err := r.tx.QueryRowContext(r.ctx, `SELECT count(*) FROM (`+n.finds+` LIMIT ?)`, append(slices.Clone(n.args), few)...).Scan(&found)
		if err != nil {
			return nil, err
		}
		if found < few {
			where += ` AND s.runner IN (` + n.finds + `)`
		} else {
			where += ` AND EXISTS (` + n.tried + `)`
		}
		args = append(args, n.args...)
	}
	limit := q.Limit
	if limit <= 0 {
		limit = pageSize
	}
	args = append(args, min(limit, maxPage))

	var out []store.RunnerRow
	at := map[string]int{}
	err := r.each(func(scan func(...any) error) error {
		var x row
		var v store.RunnerRow
		var seen int64
		var last string
		err := scan(&x.id, &x.version, &x.created, &x.changed, &x.body, &seen, &v.Visits, &last, &v.LastID)
		if err != nil {
			return err
		}
		if v.Runner, err = runnerOf(&x); err != nil {
			return err
		}
		if v.LastVisit, err = parseTime(last); err != nil {
			return err
		}
		v.Cursor = strconv.FormatInt(seen, 10) + "." + x.id
		at[x.id] = len(out)
		out = append(out, v)
		return nil
	}, `SELECT r.id, r.version, r.created, r.changed, r.body, s.at, s.visits, s.last, s.last_id
		FROM seen s CROSS JOIN record r ON r.id = s.runner
		WHERE `+where+` ORDER BY s.at `+order+`, s.runner `+order+` LIMIT ?`, args...)
	if err != nil || len(out) == 0 {
		return nil, err
	}
	ids := make([]any, len(out))
	for i := range out {
		ids[i] = out[i].ID
	}
	err = r.each(func(scan func(...any) error) error {
		var id, name string
		if err := scan(&id, &name); err != nil {
			return err
		}
		out[at[id]].Tags = append(out[at[id]].Tags, name)
		return nil
	}, `SELECT runner, name FROM tag WHERE runner IN (?`+strings.Repeat(`, ?`, len(ids)-1)+`) ORDER BY visits DESC, name`, ids...)
	return out, err
}

// parseCursor takes a cursor apart.
func parseCursor(s string) (at int64, id string, ok bool) {
	number, id, ok := strings.Cut(s, ".")
	at, err := strconv.ParseInt(number, 10, 64)
	return at, id, ok && err == nil && store.ValidID(id)
}

func (r *reader) Tags() ([]string, error) {
	var out []string
	err := r.each(func(scan func(...any) error) error {
		var name string
		err := scan(&name)
		out = append(out, name)
		return err
	}, `SELECT DISTINCT name FROM tag ORDER BY name`)
	return out, err
}
