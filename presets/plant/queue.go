package plant

import (
	"container/heap"
	"time"
)

// happening says what an event does when its time comes.
type happening uint8

const (
	arrives  happening = iota // a packet reaches its device
	acts                      // a device acts on a packet that it took
	tells                     // a device makes a report
	delivers                  // a report reaches the daemon
	restarts                  // a device restarts by itself
	boots                     // a device hears again after a restart
	trips                     // a breaker opens by itself
	returns                   // a tripped breaker is closed again
	changes                   // another load takes another value
)

// event is one thing that will happen in the plant.
type event struct {
	at     time.Duration
	seq    uint64 // order of events that fall on the same instant: as they were made
	what   happening
	index  int // of the device, circuit or load
	life   int // which life of the device it belongs to: what it was about to do dies with a restart
	packet Packet
	report Report
}

// queue is a heap of events by time, then by the order in which they were made.
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

// plan puts an event into the queue.
func (p *Plant) plan(e event) {
	p.seq++
	e.seq = p.seq
	heap.Push(&p.queue, e)
}

// Next gives the time of the next event, if there is one.
func (p *Plant) Next() (time.Duration, bool) {
	if len(p.queue) == 0 {
		return 0, false
	}
	return p.queue[0].at, true
}

// Step lets the next event happen and gives the report that reached the daemon by it, if it was one. It may be called only where Next gave a time.
func (p *Plant) Step() (Arrival, bool) {
	e := heap.Pop(&p.queue).(event)
	p.now = max(p.now, e.at)
	switch e.what {
	case arrives:
		p.arrive(e.packet)
	case acts:
		p.act(e)
	case tells:
		p.tell(e)
	case delivers:
		return Arrival{p.now, e.report}, true
	case restarts:
		p.ownRestart(e.index)
	case boots:
		p.boot(e)
	case trips:
		p.tripAny()
	case returns:
		p.closeAgain(e.index)
	case changes:
		p.changeLoad(e.index)
	}
	return Arrival{}, false
}

// Advance lets everything up to that time happen, the time itself included, and gives the reports that reached the daemon, in order.
func (p *Plant) Advance(to time.Duration) []Arrival {
	var got []Arrival
	for next, ok := p.Next(); ok && next <= to; next, ok = p.Next() {
		if a, arrived := p.Step(); arrived {
			got = append(got, a)
		}
	}
	p.now = max(p.now, to)
	return got
}
