package sqlite

import (
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"

	"gaitwright/internal/store"
)

// pageSize is the length of a list where none is asked for, maxPage the longest.
const (
	pageSize = 50
	maxPage  = 1000
)

func (r *reader) Runners(q store.Query) ([]store.RunnerRow, error) {
	where, args := []string{`r.removed = 0`}, []any(nil)
	and := func(clause string, more ...any) {
		where = append(where, clause)
		args = append(args, more...)
	}
	if q.After != "" {
		at, id, ok := parseCursor(q.After)
		if !ok {
			return nil, fmt.Errorf("%.80q does not say where a list goes on; begin the list anew", q.After)
		}
		and(`(s.at, s.runner) < (?, ?)`, at, id)
	}
	for _, w := range store.QueryWords(q.Text) {
		// Words are sought by their beginnings, a range of the index.
		and(`s.runner IN (SELECT runner FROM word WHERE word >= ? AND word < ?)`, w, w+string(utf8.MaxRune))
	}
	if q.Tag != "" {
		and(`s.runner IN (SELECT runner FROM tag WHERE name = ?)`, q.Tag)
	}
	if !q.From.IsZero() || !q.To.IsZero() {
		from, to := "", "9999-12-31"
		if !q.From.IsZero() {
			from = q.From.Format("2006-01-02")
		}
		if !q.To.IsZero() {
			to = q.To.Format("2006-01-02")
		}
		and(`EXISTS (SELECT 1 FROM record v WHERE v.parent = s.runner AND v.kind = 'visit' AND v.removed = 0 AND v.day BETWEEN ? AND ?)`, from, to)
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
		WHERE `+strings.Join(where, ` AND `)+` ORDER BY s.at DESC, s.runner DESC LIMIT ?`, args...)
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
