package ws

import (
	"sync"

	"lookgate/presets/engine"
)

// exchange is one message of a client on its way: its reply is due when every call in it has its answer, and outcomes follow the reply, never lead it.
type exchange struct {
	batch bool
	calls []*call
	say   func(any)   // hands something to the client's writer; does not block
	done  func(*call) // counts a command as answered

	mu      sync.Mutex
	open    int               // commands without an answer
	byID    map[uint64]*call  // commands that the desk has given their IDs
	early   []told            // what came before the desk had returned the IDs
	waiting []*engine.Outcome // outcomes that came before the reply went
	replied bool
}

type told struct {
	answer  *engine.Answer
	outcome *engine.Outcome
}

// reply is a message's calls, all answered, for the writer to compose: the daemon's goroutine, which brings the last answer, has no time for it.
type reply struct {
	calls []*call
	batch bool
}

// tell takes an answer or an outcome from the desk; it is the [protocols.Tell] of the exchange's commands.
func (e *exchange) tell(a *engine.Answer, o *engine.Outcome) {
	e.mu.Lock()
	defer e.mu.Unlock()
	if e.knows(a, o) {
		e.settle(told{a, o})
		return
	}
	e.early = append(e.early, told{a, o})
}

func (e *exchange) knows(a *engine.Answer, o *engine.Outcome) bool {
	_, answer := e.byID[idOf(a, o)]
	return answer
}

func idOf(a *engine.Answer, o *engine.Outcome) uint64 {
	if a != nil {
		return a.ID
	}
	return o.ID
}

// add counts one more command that the reply waits for.
func (e *exchange) add() {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.open++
}

// ready says that every call has been put to the desk; until then one count is held, so that no reply goes out half.
func (e *exchange) ready() {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.open--
	e.finish()
}

// named takes the IDs that the desk gave to commands, in order, and settles what came for them meanwhile.
func (e *exchange) named(ids []uint64, calls []*call) {
	e.mu.Lock()
	defer e.mu.Unlock()
	for i, id := range ids {
		e.byID[id] = calls[i]
	}
	early := e.early
	e.early = nil
	for _, t := range early {
		if e.knows(t.answer, t.outcome) {
			e.settle(t)
		} else {
			e.early = append(e.early, t)
		}
	}
}

// settle writes down one answer or passes one outcome on.
func (e *exchange) settle(t told) {
	switch {
	case t.answer != nil:
		c := e.byID[t.answer.ID]
		if c.result != nil {
			return // a second answer would be a fault of the desk; the client still gets one
		}
		c.result = t.answer
		e.open--
		e.done(c)
		e.finish()
	case e.byID[t.outcome.ID].notification: // silent, as it asked to be
	case e.replied:
		e.say(notice{version, "outcome", t.outcome})
	default:
		e.waiting = append(e.waiting, t.outcome)
	}
}

// finish sends the reply once nothing is open.
func (e *exchange) finish() {
	if e.open > 0 || e.replied {
		return
	}
	e.replied = true
	e.say(reply{e.calls, e.batch})
	for _, o := range e.waiting {
		e.say(notice{version, "outcome", o})
	}
	e.waiting = nil
}
