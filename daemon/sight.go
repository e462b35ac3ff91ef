package daemon

import (
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"lookgate/presets/engine"
)

const (
	viewGap   = 20 * time.Millisecond  // between two views
	viewPulse = 500 * time.Millisecond // the longest that a view stands, so that watchers see that the daemon lives
	viewShare = 4                      // a view may take up to one part in so many of the loop's time
)

// sight is what others see: the newest view, and whom to nudge. The loop alone makes views.
type sight struct {
	view atomic.Pointer[engine.View]

	mu       sync.Mutex // of whoever adds or takes out a watcher; the loop reads the list without it
	watchers atomic.Pointer[[]chan struct{}]

	dirty bool           // the engine has stepped since the last view
	made  engine.Instant // when the last view was made
	shown engine.Instant // when the last one was shown, made or not
	cost  engine.Instant // what making it took
}

// look makes a new view when one is due; soon is for what somebody waits for. A view that takes long is made less often, so that it never takes the loop's time away.
func (s *sight) look(e *engine.Engine, now engine.Instant, soon bool) {
	switch {
	case s.dirty && (now >= s.due() || soon && now >= s.made+2*s.cost):
		began := time.Now()
		v := e.View()
		s.cost, s.made, s.dirty = time.Since(began), now, false
		s.show(v, now)
	case now >= s.shown+viewPulse:
		v := *s.view.Load()
		v.At = now
		s.show(&v, now)
	}
}

func (s *sight) due() engine.Instant { return s.made + max(viewGap, viewShare*s.cost) }

// next gives when to look again.
func (s *sight) next() engine.Instant {
	if s.dirty {
		return s.due()
	}
	return s.shown + viewPulse
}

func (s *sight) show(v *engine.View, now engine.Instant) {
	s.view.Store(v)
	s.shown = now
	list := s.watchers.Load()
	if list == nil {
		return
	}
	for _, c := range *list {
		select {
		case c <- struct{}{}:
		default: // it has a nudge that it has not taken yet
		}
	}
}

func (s *sight) watch() (changed <-chan struct{}, stop func()) {
	c := make(chan struct{}, 1)
	s.change(func(list []chan struct{}) []chan struct{} { return append(list, c) })
	return c, func() {
		s.change(func(list []chan struct{}) []chan struct{} {
			return slices.DeleteFunc(list, func(one chan struct{}) bool { return one == c })
		})
	}
}

// change gives the loop another list; the one that it may be reading stays as it is.
func (s *sight) change(f func([]chan struct{}) []chan struct{}) {
	s.mu.Lock()
	defer s.mu.Unlock()
	var list []chan struct{}
	if old := s.watchers.Load(); old != nil {
		list = slices.Clone(*old)
	}
	list = f(list)
	s.watchers.Store(&list)
}
