package app

import (
	"encoding/json"
	"sync"
)

// hubRoom is how many events an open page may be behind before it is let go; it
// then asks anew.
const hubRoom = 64

// hub passes what happens on to the pages that are open.
type hub struct {
	mu      sync.Mutex
	members map[chan PageEvent]bool
}

// join returns a channel of events and a function that ends it. The channel is
// closed where its reader is too slow.
func (h *hub) join() (<-chan PageEvent, func()) {
	ch := make(chan PageEvent, hubRoom)
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.members == nil {
		h.members = map[chan PageEvent]bool{}
	}
	h.members[ch] = true
	return ch, func() {
		h.mu.Lock()
		defer h.mu.Unlock()
		h.drop(ch)
	}
}

func (h *hub) drop(ch chan PageEvent) {
	if h.members[ch] {
		delete(h.members, ch)
		close(ch)
	}
}

func (h *hub) tell(e PageEvent) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for ch := range h.members {
		select {
		case ch <- e:
		default:
			h.drop(ch)
		}
	}
}

// Events returns what happens from now on, and a function that ends it. The
// channel is closed where its reader falls too far behind; it must then read
// anew what it shows.
func (st *Studio) Events() (<-chan PageEvent, func()) { return st.hub.join() }

// tell passes an event on.
func (st *Studio) tell(name string, data any) {
	b, err := json.Marshal(data)
	if err != nil {
		panic("app: " + err.Error())
	}
	st.hub.tell(PageEvent{Name: name, Data: b})
}

func (st *Studio) tellVisit(id, who string) {
	st.tell("visit", PageTouched{ID: id, Who: clean(who, maxWho)})
}
