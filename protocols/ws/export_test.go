package ws

import (
	"encoding/json"
	"time"

	"lookgate/protocols"
)

// Limits are the limits of a server under test.
type Limits struct {
	Clients, Flight int64
	Queue           int
	Send, Silence   time.Duration
	Ping, Alive     time.Duration
	Pace            time.Duration
}

// Limit puts other limits in, before the first client comes; zeros leave what stands.
func (s *Server) Limit(l Limits) {
	put(&s.limits.clients, l.Clients)
	put(&s.limits.flight, l.Flight)
	put(&s.limits.queue, l.Queue)
	put(&s.limits.send, l.Send)
	put(&s.limits.silence, l.Silence)
	put(&s.limits.ping, l.Ping)
	put(&s.limits.alive, l.Alive)
	put(&s.limits.pace, l.Pace)
}

func put[T comparable](at *T, v T) {
	var zero T
	if v != zero {
		*at = v
	}
}

// Clients gives how many clients are connected.
func (s *Server) Clients() int64 { return s.clients.Load() }

// Args are a method's arguments as a test's own methods see them.
type Args struct {
	List  []json.RawMessage
	Named map[string]json.RawMessage
	Bind  func(names ...string) (map[string]json.RawMessage, error)
}

// Play answers one message with a test's own methods, by the code that reads requests and composes replies.
func Play(own map[string]func(Args) (any, error), message []byte) []byte {
	ms := methods{}
	for name, f := range own {
		ms[name] = func(p params) turn {
			bind := func(names ...string) (map[string]json.RawMessage, error) { return p.bind(names...) }
			v, err := f(Args{p.list, p.named, bind})
			return turn{result: v, err: err}
		}
	}
	calls, batch := request(message, 64)
	for _, c := range calls {
		if c.fault == nil {
			c.result = ms.look(c).result
		}
	}
	return compose(calls, batch)
}

// Answers puts one message of a client without a socket to the desk and gives everything that would be written, in order, once every answer and outcome
// that the desk gives at once has come. Settle is called to wait for that.
func Answers(desk protocols.Desk, message []byte, settle func()) [][]byte {
	s := New(desk, Options{})
	c := &client{server: s, station: protocols.Station{Name: Panel}, out: make(chan any, 1024), gone: make(chan struct{})}
	c.leave.Do(func() {}) // nothing to close
	c.take(message)
	settle()
	var texts [][]byte
	for {
		select {
		case v := <-c.out:
			texts = append(texts, written(v))
		default:
			return texts
		}
	}
}

func written(v any) []byte {
	if r, ok := v.(reply); ok {
		return compose(r.calls, r.batch)
	}
	text, err := encode(v)
	if err != nil {
		return []byte(err.Error())
	}
	return text
}
