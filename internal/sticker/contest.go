package sticker

import "math"

// Several points are often followed at once, and their stickers look alike. Which
// follower a mark belongs to is then settled for all of them together, in each
// frame: of all ways to give every follower one mark or none, the likeliest stands.

// mark is something seen in a frame.
type mark struct {
	x, y, diameter float64
	owner          int // the claim that a person's click gave it to; -1 for none
}

// sameMark is how near two places are, in diameters, that are one mark.
const sameMark = 0.5

func (m mark) at(x, y float64) bool { return math.Hypot(m.x-x, m.y-y) < sameMark*m.diameter }

func isTaken(marks []mark, x, y float64) bool {
	for _, m := range marks {
		if m.at(x, y) {
			return true
		}
	}
	return false
}

// noMark is the cost of a follower that is given none, as half the square of
// standard deviations of its forecast and twice the logarithm of that deviation
// over the least one.
const noMark = 12.0

// contest gives each mark to one follower at most. Claims that nobody contests
// stay as they are.
func contest(claims []claim) error {
	var marks []mark
	add := func(x, y, diameter float64, owner int) {
		for k := range marks {
			if marks[k].at(x, y) {
				if owner >= 0 {
					marks[k].owner = owner
				}
				return
			}
		}
		marks = append(marks, mark{x, y, diameter, owner})
	}
	for k := range claims {
		c := &claims[k]
		switch {
		case c.fixed:
			add(c.click.XPX, c.click.YPX, c.diameter(), k)
		case !c.fixed && c.ok:
			add(c.got.x, c.got.y, c.diameter(), -1)
		}
	}
	if len(claims) < 2 || !contested(claims, marks) {
		return nil
	}
	// Of two that claim one mark, one may have another to choose.
	for k := range claims {
		if c := &claims[k]; c.ok && !c.fixed && shared(claims, marks, k) {
			_, _, got, ok, err := c.search(c.p, marks)
			if err != nil {
				return err
			}
			if ok {
				add(got.x, got.y, c.diameter(), -1)
			}
		}
	}
	for k := range claims {
		if c := &claims[k]; clickedByOthers(marks, c) {
			c.ok = false
			c.forget()
		}
	}
	cost := make([][]float64, 0, len(claims))
	options := make([][]found, 0, len(claims))
	var who []int
	for k := range claims {
		c := &claims[k]
		if c.fixed || c.follower.anchor == nil {
			continue
		}
		row, opts := make([]float64, len(marks)), make([]found, len(marks))
		for m := range marks {
			row[m] = math.Inf(1)
			if marks[m].owner >= 0 {
				continue
			}
			switch got, ok := c.option(marks[m]); {
			case ok:
				row[m], opts[m] = c.cost(got), got
			}
		}
		cost, options, who = append(cost, row), append(options, opts), append(who, k)
	}
	for i, m := range assign(cost, noMark) {
		c := &claims[who[i]]
		if c.ok = m >= 0; c.ok {
			c.got = options[i][m]
		}
	}
	return nil
}

// clickedByOthers tells whether what a follower is on was shown to be another point.
func clickedByOthers(marks []mark, c *claim) bool {
	for _, m := range marks {
		if m.owner >= 0 && !c.fixed && c.ok && m.at(c.got.x, c.got.y) {
			return true
		}
	}
	return false
}

// diameter is about how large the point is; before its first click that is only
// guessed.
func (w *follower) diameter() float64 {
	switch {
	case w.anchor == nil:
		return max(w.pt.DiameterPX, 4*minRadius)
	case w.shape == Round:
		return 2 * w.last.rings.radius()
	}
	return float64(w.anchor.patch.half)
}

// contested tells whether a mark is claimed twice, or lies where another follower
// might have been.
func contested(claims []claim, marks []mark) bool {
	for k := range claims {
		if wanted(claims, marks, k) {
			return true
		}
	}
	return false
}

// shared tells whether what a follower claims is claimed by another too.
func shared(claims []claim, marks []mark, k int) bool {
	c := &claims[k]
	if clickedByOthers(marks, c) {
		return true
	}
	for j := range claims {
		if o := &claims[j]; j != k && !o.fixed && o.ok && math.Hypot(o.got.x-c.got.x, o.got.y-c.got.y) < sameMark*max(o.diameter(), c.diameter()) {
			return true
		}
	}
	return false
}

// wanted tells whether what a follower claims might be another's.
func wanted(claims []claim, marks []mark, k int) bool {
	c := &claims[k]
	if c.fixed || !c.ok {
		return false
	}
	if shared(claims, marks, k) {
		return true
	}
	for j := range claims {
		o := &claims[j]
		if j == k || o.fixed || o.follower.anchor == nil {
			continue
		}
		if math.Hypot(o.aim.x-c.got.x, o.aim.y-c.got.y) < 4*o.sd+sameMark*o.diameter() {
			return true
		}
	}
	return false
}

// option is a mark as this follower sees it.
func (c *claim) option(m mark) (found, bool) {
	if c.ok && m.at(c.got.x, c.got.y) {
		return c.got, true
	}
	reach := 5*c.sd + c.diameter()
	if math.Hypot(m.x-c.aim.x, m.y-c.aim.y) > reach || !c.p.covers(around(m.x, m.y, 2.5*c.size()+8)) {
		return found{}, false
	}
	got, ok := c.fit(c.p, m.x, m.y)
	return got, ok && m.at(got.x, got.y)
}

// cost is how unlikely a mark is, as half a chi-square.
func (c *claim) cost(got found) float64 {
	d := math.Hypot(got.x-c.aim.x, got.y-c.aim.y) / c.sd
	cost := d*d/2 + 2*math.Log(c.sd/leastSDPX)
	if c.shape == Round && !got.partly {
		size := math.Log(got.rings.radius()/c.last.rings.radius()) / sizeSteadiness
		cost += size * size / 2
	}
	return cost
}

// assign gives each row one column at most, no column twice, so that the sum of
// the costs is least, none of a cost counted as that of going without. It returns
// the column of each row, -1 for none: shortest augmenting paths (the Hungarian
// method as in Jonker & Volgenant 1987, Computing 38:325; from memory).
func assign(cost [][]float64, without float64) []int {
	rows := len(cost)
	if rows == 0 {
		return nil
	}
	real := len(cost[0])
	cols := real + rows // one column a row for going without
	at := func(i, j int) float64 {
		switch {
		case j < real:
			return min(cost[i][j], 1e6)
		case j == real+i:
			return without
		}
		return 1e6
	}
	u, v := make([]float64, rows+1), make([]float64, cols+1)
	row := make([]int, cols+1) // of each column, from 1; 0 for none
	way := make([]int, cols+1)
	for i := 1; i <= rows; i++ {
		row[0] = i
		j0 := 0
		least := make([]float64, cols+1)
		used := make([]bool, cols+1)
		for j := range least {
			least[j] = math.Inf(1)
		}
		for row[j0] != 0 {
			used[j0] = true
			i0, j1, delta := row[j0], 0, math.Inf(1)
			for j := 1; j <= cols; j++ {
				if used[j] {
					continue
				}
				if c := at(i0-1, j-1) - u[i0] - v[j]; c < least[j] {
					least[j], way[j] = c, j0
				}
				if least[j] < delta {
					delta, j1 = least[j], j
				}
			}
			for j := 0; j <= cols; j++ {
				if used[j] {
					u[row[j]] += delta
					v[j] -= delta
				} else {
					least[j] -= delta
				}
			}
			j0 = j1
		}
		for j0 != 0 {
			row[j0] = row[way[j0]]
			j0 = way[j0]
		}
	}
	out := make([]int, rows)
	for i := range out {
		out[i] = -1
	}
	for j := 1; j <= real; j++ {
		if i := row[j]; i > 0 && cost[i-1][j-1] < 1e6 {
			out[i-1] = j - 1
		}
	}
	return out
}
