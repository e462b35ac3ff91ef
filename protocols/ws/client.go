package ws

import (
	"context"
	"errors"
	"net"
	"sync"
	"sync/atomic"
	"time"
	"unicode/utf8"

	"github.com/gorilla/websocket"

	"lookgate/presets/engine"
	"lookgate/protocols"
)

// client is one connection. Its reader is the goroutine of the handshake, its writer is one of its own; nothing else touches the socket but pongs and
// the close frame, which the socket takes from anywhere.
type client struct {
	server  *Server
	socket  *websocket.Conn
	station protocols.Station
	out     chan any     // replies and notices for the writer; full means that the client does not read
	flight  atomic.Int64 // commands without an answer
	gone    chan struct{}
	leave   sync.Once
}

// drop ends the connection with a close frame, from any goroutine, without waiting. Everything that the client still had to come is forgotten.
func (c *client) drop(code int, why string) {
	c.leave.Do(func() {
		close(c.gone)
		go func() { // a client that does not read would hold the close frame up
			_ = c.socket.WriteControl(websocket.CloseMessage, websocket.FormatCloseMessage(code, why), time.Now().Add(c.server.limits.goodbye))
			_ = c.socket.Close()
		}()
	})
}

// say hands something to the writer, or drops a client that has let the most collect that may.
func (c *client) say(v any) {
	select {
	case c.out <- v:
	case <-c.gone:
	default:
		c.drop(websocket.ClosePolicyViolation, "too much waits to be read")
	}
}

// read takes messages until the connection ends. Silence ends it too: a living client answers pings.
func (c *client) read(ctx context.Context) {
	stop := context.AfterFunc(ctx, func() { c.drop(websocket.CloseGoingAway, "lookgate stops") })
	defer stop()
	awake := func() { _ = c.socket.SetReadDeadline(time.Now().Add(c.server.limits.silence)) }
	c.socket.SetReadLimit(c.server.limits.message)
	c.socket.SetPongHandler(func(string) error { awake(); return nil })
	awake()
	for {
		kind, message, err := c.socket.ReadMessage()
		switch {
		case err != nil:
			c.drop(c.closing(err), "")
			return
		case kind != websocket.TextMessage:
			c.drop(websocket.CloseUnsupportedData, "messages are text")
			return
		case !utf8.Valid(message): // RFC 6455, 8.1; the library leaves it to its caller
			c.drop(websocket.CloseInvalidFramePayloadData, "text is UTF-8")
			return
		}
		awake()
		select {
		case <-c.gone: // dropped, and perhaps still sending
			return
		default:
			c.take(message)
		}
	}
}

// closing gives the code to answer an end with. The library has said its own where the client broke the protocol; a second close frame then does nothing.
func (c *client) closing(err error) int {
	var timeout net.Error
	if errors.As(err, &timeout) && timeout.Timeout() {
		return websocket.ClosePolicyViolation
	}
	return websocket.CloseNormalClosure
}

// take puts one message's calls to the desk and sees to their reply.
func (c *client) take(message []byte) {
	calls, batch := request(message, c.server.limits.batch)
	e := &exchange{batch: batch, calls: calls, say: c.sayReply, done: c.answered, byID: map[uint64]*call{}, open: 1}
	var commands []engine.Command
	var asked []*call
	flush := func() {
		if len(commands) > 0 {
			e.named(c.server.desk.Order(commands, e.tell), asked)
		}
		commands, asked = nil, nil
	}
	for _, one := range calls {
		t := c.judge(one)
		switch {
		case one.fault != nil:
		case t.reload:
			flush()
			e.add()
			e.named([]uint64{c.server.desk.Reload(c.station.Name, c.station.Engineer, e.tell)}, []*call{one})
		case t.command != nil:
			e.add()
			t.command.Station, t.command.Engineer = c.station.Name, c.station.Engineer
			commands, asked = append(commands, *t.command), append(asked, one)
		default:
			one.result = t.result
		}
	}
	flush()
	e.ready()
}

// judge reads one call and keeps commands within what may be unanswered at once. A blackout has room of its own, since it must not be refused
// because something else is slow.
func (c *client) judge(one *call) turn {
	if one.fault != nil {
		return turn{}
	}
	t := c.server.methods.look(one)
	if one.fault != nil || t.command == nil && !t.reload {
		return t
	}
	most := c.server.limits.flight
	if t.command != nil && t.command.Verb == engine.Blackout {
		most *= 2
	}
	if c.flight.Add(1) > most {
		c.flight.Add(-1)
		one.fault = &fault{tooMany, "too many commands of this connection have no answer yet"}
	}
	return t
}

func (c *client) answered(*call) { c.flight.Add(-1) }

// sayReply leaves out replies to messages that held nothing but notifications.
func (c *client) sayReply(v any) {
	if r, ok := v.(reply); ok && r.silent() {
		return
	}
	c.say(v)
}

func (r reply) silent() bool {
	for _, c := range r.calls {
		if !c.notification {
			return false
		}
	}
	return true
}

// write sends what waits: replies and notices in order, the newest state at most so often, a sign of life between. It ends with the connection.
func (c *client) write() {
	changed, stop := c.server.desk.Watch()
	defer stop()
	l := c.server.limits
	ping, alive, pace := time.NewTicker(l.ping), time.NewTicker(l.alive), time.NewTimer(0)
	defer ping.Stop()
	defer alive.Stop()
	defer pace.Stop()
	w := watcher{server: c.server, stale: true}
	for {
		var err error
		select {
		case <-c.gone:
			return
		case v := <-c.out:
			err = c.sendOne(v)
		case <-ping.C:
			err = c.socket.WriteControl(websocket.PingMessage, nil, time.Now().Add(l.send))
		case <-alive.C:
			err = w.alive(c)
		case <-changed:
			w.stale = true
			err = w.state(c, pace)
		case <-pace.C:
			w.paced = true
			err = w.state(c, pace)
		}
		if err != nil {
			c.drop(websocket.ClosePolicyViolation, "the connection takes nothing more")
			return
		}
	}
}

func (c *client) sendOne(v any) error {
	var text []byte
	var err error
	switch v := v.(type) {
	case reply:
		text = compose(v.calls, v.batch)
	default:
		text, err = encode(v)
	}
	if err != nil {
		c.server.log.Printf("a notice to %s cannot be written as JSON: %v", c.station.Name, err)
		return nil
	}
	return c.send(text)
}

func (c *client) send(text []byte) error {
	_ = c.socket.SetWriteDeadline(time.Now().Add(c.server.limits.send))
	return c.socket.WriteMessage(websocket.TextMessage, text)
}
