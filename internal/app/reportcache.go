package app

import (
	"slices"
	"sync"
)

// maxReports is how many drawn reports are held in memory.
const maxReports = 8

// reportCache holds the reports that were drawn last, the latest at the end.
// The zero value is empty and ready.
type reportCache struct {
	mu    sync.Mutex
	drawn []drawnReport
}

// drawnReport is a report of one session in one format and one kind of units. The session itself is
// the key: one that was read anew is drawn anew.
type drawnReport struct {
	session     *Session
	format      string
	units       string
	data        []byte
	contentType string
}

func (c *reportCache) get(s *Session, format, units string) (drawnReport, bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	i := slices.IndexFunc(c.drawn, func(d drawnReport) bool { return d.session == s && d.format == format && d.units == units })
	if i < 0 {
		return drawnReport{}, false
	}
	d := c.drawn[i]
	c.drawn = append(slices.Delete(c.drawn, i, i+1), d)
	return d, true
}

func (c *reportCache) put(d drawnReport) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if len(c.drawn) == maxReports {
		c.drawn = slices.Delete(c.drawn, 0, 1)
	}
	c.drawn = append(c.drawn, d)
}

func (c *reportCache) drop() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.drawn = nil
}
