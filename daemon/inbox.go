package daemon

import (
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"

	"lookgate/presets/engine"
	"lookgate/presets/finding"
	"lookgate/protocols"
)

// What may wait for the loop. A bundle of the largest size that a station may send fits in.
const (
	maxCommands = 2048 // commands of any kind
	darkReserve = 1024 // places beyond those that only blackouts take
	maxOwed     = 2048 // answers to commands that found no place
	maxReports  = 16   // of one device; more are lost as on a network, and the device is asked again
	maxWord     = 256  // bytes of a station's or a thing's name
)

// errand says what an entry wants of the loop.
type errand uint8

const (
	feed    errand = iota // hand the input to the engine
	apology               // answer a command that found no place
	reread                // read the site again
	site                  // the site was read: the input is a Reload without its command
)

// entry is one thing that waits for the loop, with the instant at which it came.
type entry struct {
	errand errand
	at     engine.Instant
	input  engine.Input
	tell   protocols.Tell
}

// inbox is everything that waits for the loop, in the order in which it came, each stamped as it came in: what a report proves depends on when it arrived, not on
// when there was time for it. What comes from outside is bounded; what comes from workers and disk is by what they can have under way.
type inbox struct {
	signal chan struct{} // holds one

	mu      sync.Mutex
	start   time.Time
	items   []entry
	live    int // commands among items
	owed    int // apologies among items
	reports []int
	lastID  uint64
	closed  bool
	weaker  int // no command before this place may be evicted for a blackout while any other is there
	oldest  int // no command before this place may be evicted at all
}

func newInbox(devices int) *inbox {
	return &inbox{signal: make(chan struct{}, 1), start: time.Now(), reports: make([]int, devices)}
}

// begin sets the instant 0 and the range of IDs of an incarnation: no two incarnations share one.
func (b *inbox) begin(epoch uint64) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.start, b.lastID = time.Now(), epoch<<32
}

// now gives the time since the start, by the monotonic clock: a clock that is set changes nothing.
func (b *inbox) now() engine.Instant { return time.Since(b.start) }

// post takes a result of a worker, of the disk or of the site's reader.
func (b *inbox) post(in engine.Input) { b.push(entry{input: in}) }

func (b *inbox) push(e entry) {
	b.mu.Lock()
	if !b.closed {
		e.at = b.now()
		b.items = append(b.items, e)
	}
	b.mu.Unlock()
	b.nudge()
}

// report takes what a device told.
func (b *inbox) report(device int, r engine.Report) {
	r.Device, r.Levels, r.Black = device, slices.Clone(r.Levels), slices.Clone(r.Black)
	b.mu.Lock()
	if !b.closed && b.reports[device] < maxReports {
		b.reports[device]++
		b.items = append(b.items, entry{at: b.now(), input: r})
	}
	b.mu.Unlock()
	b.nudge()
}

func (b *inbox) nudge() {
	select {
	case b.signal <- struct{}{}:
	default:
	}
}

// order takes commands that came together and gives them their IDs.
func (b *inbox) order(commands []engine.Command, tell protocols.Tell) []uint64 {
	ids := make([]uint64, len(commands))
	var late []entry
	b.mu.Lock()
	at, closed := b.now(), b.closed
	for i, c := range commands {
		c = clean(c)
		b.lastID++
		if c.Verb == engine.Prove { // the engine reads no clock, and people want to read when it was
			c.Clock = time.Now().Unix()
		}
		c.ID, ids[i] = b.lastID, b.lastID
		e := entry{errand: feed, at: at, input: c, tell: tell}
		if c.Verb == engine.ReloadSite {
			e.errand = reread
		}
		late = append(late, b.add(e)...)
	}
	b.mu.Unlock()
	b.nudge()
	runtime.Gosched() // the loop goes before whoever hands in goes back to its socket
	// Only where even the apologies have no room, or the daemon has ended: nothing may grow, and every command has its answer.
	for _, e := range late {
		e.tell(apologise(e.input.(engine.Command), closed), nil)
	}
	return ids
}

// add finds a place for a command, and gives back those that nobody has room to answer.
func (b *inbox) add(e entry) []entry {
	dark := isBlackout(e.input)
	switch {
	case b.closed:
		return []entry{e}
	case b.live < maxCommands || dark && b.live < maxCommands+darkReserve:
		b.live++
		b.items = append(b.items, e)
		return nil
	case dark:
		late := b.evict()
		b.items = append(b.items, e)
		return late
	default:
		return b.owe(e)
	}
}

// owe keeps a place for the answer that there is no place.
func (b *inbox) owe(e entry) []entry {
	if b.owed == maxOwed {
		return []entry{e}
	}
	b.owed++
	e.errand = apology
	b.items = append(b.items, e)
	return nil
}

// evict takes the oldest command that is no blackout of everything out of its place, so that a blackout always finds one. Where all are blackouts the oldest goes:
// another one stands behind it.
func (b *inbox) evict() []entry {
	from := &b.weaker
	for ; b.weaker < len(b.items) && (!b.items[b.weaker].waits() || b.items[b.weaker].darkens()); b.weaker++ {
	}
	if b.weaker == len(b.items) {
		for from = &b.oldest; !b.items[b.oldest].waits(); b.oldest++ {
		}
	}
	e := b.items[*from]
	if b.owed < maxOwed {
		b.owed++
		b.items[*from].errand = apology
		return nil
	}
	b.items = slices.Delete(b.items, *from, *from+1)
	b.weaker = min(b.weaker, len(b.items))
	return []entry{e}
}

// waits reports whether the entry is a command in its place.
func (e *entry) waits() bool {
	_, command := e.input.(engine.Command)
	return command && e.errand != apology
}

// darkens reports whether the entry is a blackout of everything.
func (e *entry) darkens() bool { return isBlackout(e.input) && e.input.(engine.Command).Target == "" }

func isBlackout(in engine.Input) bool {
	c, ok := in.(engine.Command)
	return ok && c.Verb == engine.Blackout && !c.Off
}

// take gives everything that waits, and the instant up to which that is everything. The caller gives a list back that it has done with.
func (b *inbox) take(spare []entry) ([]entry, engine.Instant) {
	b.mu.Lock()
	defer b.mu.Unlock()
	items := b.items
	clear(spare[:cap(spare)])
	b.items, b.live, b.owed, b.weaker, b.oldest = spare[:0], 0, 0, 0, 0
	clear(b.reports)
	return items, b.now()
}

// close ends the inbox and gives what still waits.
func (b *inbox) close() []entry {
	b.mu.Lock()
	defer b.mu.Unlock()
	items := b.items
	b.items, b.closed = nil, true
	return items
}

// clean makes a command fit for the record, whatever a station sent: words of bounded length, in UTF-8.
func clean(c engine.Command) engine.Command {
	c.Station, c.Target, c.Verb = word(c.Station), word(c.Target), engine.Verb(word(string(c.Verb)))
	c.Part, c.By, c.Clock = engine.Part(word(string(c.Part))), word(c.By), 0
	return c
}

func word(s string) string {
	if len(s) > maxWord {
		s = s[:maxWord]
	}
	return strings.ToValidUTF8(s, "\uFFFD")
}

// apologise gives the answer to a command that found no place, or came after the end.
func apologise(c engine.Command, ended bool) *engine.Answer {
	f := finding.New(finding.Busy, finding.Place{Kind: "command", Name: string(c.Verb)}, "more commands are waiting than can be kept")
	f.Remedies = []finding.Remedy{{When: finding.Later, Words: "send fewer at once; blackout always finds a place"}}
	if ended {
		f.Sentence, f.Remedies = "lookgate is stopping", nil
	}
	return &engine.Answer{ID: c.ID, Station: c.Station, Verb: c.Verb, Status: engine.Failed, Findings: []finding.Finding{f}}
}
