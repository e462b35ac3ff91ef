package trial

import (
	"container/heap"
	"math/rand/v2"
	"time"

	"lookgate/presets/engine"
	"lookgate/presets/units"
)

// happening says what an event of the daemon's side does.
type happening uint8

const (
	commands  happening = iota // a person gives a command, or several
	gives                      // one command of a stream arrives
	attends                    // a person at the board does what a command allowed
	tells                      // one part of the daemon tells the engine something
	returns                    // a worker's write returns
	flushes                    // a commit is on disk
	deadlines                  // the time that the engine asked for
	crashes                    // the daemon dies
	rises                      // the daemon starts again
)

// event is one thing that will happen on the daemon's side.
type event struct {
	at     time.Duration
	seq    uint64
	what   happening
	life   int // the incarnation that it belongs to, of what dies with it
	index  int // device or circuit
	input  engine.Input
	action engine.Action
	state  engine.Service
}

// queue is a heap by time and then by the order of making.
type queue []event

func (q queue) Len() int { return len(q) }

func (q queue) Less(i, j int) bool {
	if q[i].at != q[j].at {
		return q[i].at < q[j].at
	}
	return q[i].seq < q[j].seq
}

func (q queue) Swap(i, j int) { q[i], q[j] = q[j], q[i] }

// Push is for package heap alone.
func (q *queue) Push(x any) { *q = append(*q, x.(event)) }

// Pop is for package heap alone.
func (q *queue) Pop() any {
	old := *q
	last := old[len(old)-1]
	*q = old[:len(old)-1]
	return last
}

func (q queue) next() (time.Duration, bool) {
	if len(q) == 0 {
		return 0, false
	}
	return q[0].at, true
}

// planAfter puts an event into the queue and gives its number.
func (r *run) planAfter(d time.Duration, e event) uint64 {
	r.seq++
	e.at, e.seq, e.life = r.now+d, r.seq, r.life
	heap.Push(&r.queue, e)
	return e.seq
}

// happen lets the next event of the daemon's side happen.
func (r *run) happen() {
	e := heap.Pop(&r.queue).(event)
	r.pause(e.at)
	r.stats.Events++
	switch e.what {
	case commands:
		r.peopleAct()
		return
	case attends:
		r.attend(e)
		return
	case crashes:
		r.crashByHabit()
		return
	case rises:
		r.boot()
		return
	}
	if r.ctl == nil || e.life != r.life {
		return
	}
	switch e.what {
	case gives:
		r.give(e.input.(engine.Command))
	case tells:
		r.step(e.input)
	case returns:
		r.wrote(e)
	case flushes:
		r.flush(e)
	case deadlines:
		if e.seq == r.tick {
			r.step(engine.Tick{})
		}
	}
}

// upTo draws a time from 0 to d.
func upTo(rng *rand.Rand, d time.Duration) time.Duration {
	if d <= 0 {
		return 0
	}
	return time.Duration(rng.Int64N(int64(d) + 1))
}

// around draws the wait for something that happens once in mean on average.
func around(rng *rand.Rand, mean time.Duration) time.Duration {
	return time.Duration(rng.ExpFloat64() * float64(mean))
}

// chance says whether something that happens to that share of cases happens now.
func chance(rng *rand.Rand, s units.Share) bool { return s > 0 && rng.Float64() < float64(s) }
