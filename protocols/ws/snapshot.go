package ws

import (
	"sync"
	"time"

	"github.com/gorilla/websocket"

	"lookgate/presets/engine"
	"lookgate/presets/rig"
)

// snapshots writes each view and each plant as JSON once for all clients.
type snapshots struct {
	mu    sync.Mutex
	view  *engine.View
	state *websocket.PreparedMessage
	rig   *rig.Rig
	plant *websocket.PreparedMessage
}

func (s *snapshots) ofView(v *engine.View) (*websocket.PreparedMessage, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.view == v {
		return s.state, nil
	}
	m, err := prepare("state", v)
	if err == nil {
		s.view, s.state = v, m
	}
	return m, err
}

func (s *snapshots) ofPlant(r *rig.Rig, plant func() any) (*websocket.PreparedMessage, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.rig == r {
		return s.plant, nil
	}
	m, err := prepare("plant", plant())
	if err == nil {
		s.rig, s.plant = r, m
	}
	return m, err
}

func prepare(method string, v any) (*websocket.PreparedMessage, error) {
	text, err := encode(notice{version, method, v})
	if err != nil {
		return nil, err
	}
	return websocket.NewPreparedMessage(websocket.TextMessage, text)
}

// watcher is what one client has been shown, and what it may be shown next.
type watcher struct {
	server *Server
	rig    *rig.Rig
	view   *engine.View
	stale  bool // there is something newer than what was shown
	paced  bool // enough time has passed since the last state
	failed bool // the state cannot be written: say nothing at all, so that the client sees that it is blind
}

// state shows the newest view, and the plant before it where that changed, unless the last one is too short ago: then the pace timer comes back to it.
func (w *watcher) state(c *client, pace *time.Timer) error {
	if !w.stale || !w.paced {
		return nil
	}
	w.stale, w.paced = false, false
	pace.Reset(w.server.limits.pace)
	if err := w.plant(c); err != nil {
		return err
	}
	v := w.server.desk.View()
	if v == w.view {
		return nil
	}
	m, err := w.server.snapshots.ofView(v)
	if w.failed = err != nil; w.failed {
		w.server.log.Printf("the state cannot be written as JSON: %v", err)
		return nil
	}
	w.view = v
	return c.sendPrepared(m)
}

func (w *watcher) plant(c *client) error {
	r := w.server.desk.Rig()
	if w.server.options.Plant == nil || r == w.rig {
		return nil
	}
	m, err := w.server.snapshots.ofPlant(r, func() any { return w.server.options.Plant(r) })
	if err != nil {
		w.server.log.Printf("the plant cannot be written as JSON: %v", err)
		return nil
	}
	w.rig = r
	return c.sendPrepared(m)
}

// life is what a sign of life says.
type life struct {
	Age *float64 `json:"age,omitempty"` // seconds since the daemon last did anything, where it can tell
}

// alive gives a sign of life while nothing changes. A client that hears nothing, or of a daemon that does nothing, knows that what it shows is old.
func (w *watcher) alive(c *client) error {
	if w.failed {
		return nil
	}
	var l life
	if age := w.server.options.Age; age != nil {
		s := age().Seconds()
		l.Age = &s
	}
	text, err := encode(notice{version, "alive", l})
	if err != nil {
		return nil
	}
	return c.send(text)
}

func (c *client) sendPrepared(m *websocket.PreparedMessage) error {
	_ = c.socket.SetWriteDeadline(time.Now().Add(c.server.limits.send))
	return c.socket.WritePreparedMessage(m)
}
