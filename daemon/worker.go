package daemon

import (
	"context"
	"log/slog"
	"slices"
	"sync"
	"time"

	"lookgate/presets/engine"
	"lookgate/presets/rig"
	"lookgate/protocols"
)

const (
	writeWithin = time.Second      // for one packet, and twice that at most
	patience    = 16               // packets that may overtake a question
	logEvery    = 10 * time.Second // about one device's failing writes
)

// workers are the one way to the devices.
type workers struct {
	watch bool
	inbox *inbox
	list  []*worker
}

func newWorkers(r *rig.Rig, devices []protocols.Device, watch bool, b *inbox, log *slog.Logger) *workers {
	ws := &workers{watch: watch, inbox: b}
	for i, dev := range devices {
		ws.list = append(ws.list, newWorker(r.Devices[i].Name, dev, b, log))
	}
	return ws
}

// put hands a packet to its device's worker. It never waits. In watch mode nothing goes, whatever the engine says: packets are dropped here.
func (ws *workers) put(a engine.Action) {
	if ws.watch {
		ws.inbox.post(engine.Dropped{Write: a.Write})
		return
	}
	if old, replaced := ws.list[a.Device].put(a); replaced {
		ws.inbox.post(engine.Dropped{Write: old})
	}
}

func (ws *workers) start() {
	if ws.watch {
		return
	}
	for _, w := range ws.list {
		go w.run()
	}
}

// stop ends all workers; a packet that is being written is given up as far as its device's Write allows it, and what waits is not written.
func (ws *workers) stop() {
	if ws.watch {
		return
	}
	for _, w := range ws.list {
		w.cancel()
	}
	for _, w := range ws.list {
		<-w.ended
	}
}

// worker writes to one device, one packet at a time. What waits for it stands in slots, one for each value that the device holds, so that the list has an end: a newer
// packet for the same value takes the older one's place.
type worker struct {
	name   string
	device protocols.Device
	inbox  *inbox
	log    *slog.Logger
	ctx    context.Context
	cancel context.CancelFunc
	ended  chan struct{}
	signal chan struct{} // holds one

	mu       sync.Mutex
	waiting  []engine.Action
	overtook int // packets written while a question waited

	// What follows belongs to the worker's goroutine.
	within   context.Context // of the packets until about now, with its end and how to let go of it
	until    time.Time
	spent    context.CancelFunc
	silent   time.Time // nothing is logged before
	unlogged int
}

func newWorker(name string, dev protocols.Device, b *inbox, log *slog.Logger) *worker {
	ctx, cancel := context.WithCancel(context.Background())
	return &worker{name: name, device: dev, inbox: b, log: log, ctx: ctx, cancel: cancel, ended: make(chan struct{}), signal: make(chan struct{}, 1)}
}

// put fills the packet's slot and gives the packet that stood there. The slot keeps its place in the row, so that a value that changes often is not put off for ever.
func (w *worker) put(a engine.Action) (old engine.WriteID, replaced bool) {
	w.mu.Lock()
	i := slices.IndexFunc(w.waiting, func(b engine.Action) bool { return b.Kind == a.Kind && b.Output == a.Output })
	if i >= 0 {
		old, replaced = w.waiting[i].Write, true
		w.waiting[i] = a
	} else {
		w.waiting = append(w.waiting, a)
	}
	w.mu.Unlock()
	select {
	case w.signal <- struct{}{}:
	default:
	}
	return old, replaced
}

// next takes out what goes next: what lowers, then pictures, then what raises, then questions. A question that many packets have overtaken goes before what raises,
// since without answers nothing is confirmed.
func (w *worker) next() (engine.Action, bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	best, asks := -1, false
	for i, a := range w.waiting {
		asks = asks || a.Kind == engine.Ask
		if best < 0 || w.rank(a) < w.rank(w.waiting[best]) {
			best = i
		}
	}
	if best < 0 {
		return engine.Action{}, false
	}
	a := w.waiting[best]
	w.waiting = slices.Delete(w.waiting, best, best+1)
	w.overtook++
	if a.Kind == engine.Ask || !asks {
		w.overtook = 0
	}
	return a, true
}

func (w *worker) rank(a engine.Action) int {
	switch {
	case a.Lowering:
		return 0
	case a.Kind == engine.Ask && w.overtook >= patience:
		return 1
	case a.Kind == engine.SendPicture:
		return 2
	case a.Kind != engine.Ask:
		return 3
	default:
		return 4
	}
}

func (w *worker) run() {
	defer close(w.ended)
	defer w.cancel() // what deadline made ends with it
	for {
		select {
		case <-w.ctx.Done():
			return
		case <-w.signal:
		}
		for w.ctx.Err() == nil {
			a, ok := w.next()
			if !ok {
				break
			}
			w.write(a)
		}
	}
}

// write puts one packet on the wire and tells how that went.
func (w *worker) write(a engine.Action) {
	if err := w.device.Write(w.deadline(), a); err != nil {
		w.inbox.post(engine.Dropped{Write: a.Write})
		w.complain(a, err)
		return
	}
	w.inbox.post(engine.Written{Write: a.Write})
}

// deadline gives the time that a packet may take. One serves all packets of about a second: to make and set one took longer than to hand a packet to the kernel.
func (w *worker) deadline() context.Context {
	now := time.Now()
	if w.within == nil || now.Add(writeWithin).After(w.until) {
		if w.within != nil {
			w.spent()
		}
		w.until = now.Add(2 * writeWithin)
		w.within, w.spent = context.WithDeadline(w.ctx, w.until)
	}
	return w.within
}

// complain logs a failed write, not more often than people can read.
func (w *worker) complain(a engine.Action, err error) {
	if w.ctx.Err() != nil {
		return
	}
	now := time.Now()
	if now.Before(w.silent) {
		w.unlogged++
		return
	}
	w.log.Warn("a packet was not sent", "device", w.name, "packet", a.Kind.String(), "cause", err, "not logged", w.unlogged)
	w.silent, w.unlogged = now.Add(logEvery), 0
}
