package plant

import (
	"fmt"
	"time"
)

// What says what a log entry tells.
type What uint8

// What can happen in a plant.
const (
	Applied     What = iota // a device acted on a packet
	Stale                   // a numbered device dropped a packet whose number was not higher than its own
	Deaf                    // a packet reached a device that was restarting
	Unheard                 // a device took a packet and restarted before acting on it
	Lost                    // the network lost a packet to a device
	Told                    // a device made a report
	ReportLost              // the network lost a report
	Restarted               // a device restarted by itself
	Booted                  // a device hears again
	Tripped                 // a breaker opened by itself
	Closed                  // a breaker was closed
	Opened                  // a person opened a breaker
	LoadChanged             // another load took another value
	Handed                  // another hand set an output
)

// String gives the word for it.
func (w What) String() string {
	return [...]string{"applied", "stale", "deaf", "unheard", "lost", "told", "report lost", "restarted", "booted", "tripped", "closed", "opened", "load changed",
		"handed"}[w]
}

// Entry is one thing that happened, as a plain value that can be compared, hashed and printed.
type Entry struct {
	At     time.Duration
	What   What
	Index  int    // of the device, circuit or load
	Packet Packet // where it was one; of Told only its number
}

// String prints the entry: "1.204s applied device 0: level output 3 to 42 %".
func (e Entry) String() string {
	switch e.What {
	case Tripped, Closed, Opened:
		return fmt.Sprintf("%v %v circuit %d", e.At, e.What, e.Index)
	case LoadChanged:
		return fmt.Sprintf("%v %v %d", e.At, e.What, e.Index)
	case Applied, Stale, Deaf, Unheard, Lost, Handed:
		return fmt.Sprintf("%v %v device %d: %v", e.At, e.What, e.Index, e.Packet)
	}
	return fmt.Sprintf("%v %v device %d", e.At, e.What, e.Index)
}

// note adds an entry to the log.
func (p *Plant) note(w What, index int, packet Packet) {
	p.log = append(p.log, Entry{p.now, w, index, packet})
}

// TakeLog gives what happened since it was last called, and forgets it, so that a plant that runs for days does not grow.
func (p *Plant) TakeLog() []Entry {
	taken := p.log
	p.log = nil
	return taken
}
