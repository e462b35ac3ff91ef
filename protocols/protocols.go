// Package protocols holds the contracts between the daemon and everything at its edges: what a station's protocol may ask of the daemon, and what a
// device's protocol must do for it. Adapters live in the folders below; each knows this package and presets, and none knows another.
package protocols

import (
	"context"
	"time"

	"lookgate/presets/engine"
	"lookgate/presets/rig"
)

// Desk is what a station's protocol needs of the daemon. Every method returns at once.
type Desk interface {
	// Order hands in commands that arrived together: nothing comes between them. The desk gives them their IDs, in order, and returns those. Each command
	// gets one answer and, if accepted, one outcome; both go to tell, which must not block. Where the desk is full it answers Failed with the code busy, but
	// never for a blackout.
	Order(commands []engine.Command, tell Tell) []uint64
	// Reload reads the site again and puts it to the engine; the answer names every problem.
	Reload(station string, engineer bool, tell Tell) uint64
	// View gives the newest state. It is never nil and never changes.
	View() *engine.View
	// Watch gives a channel that is nudged after every change of the view; nudges that nobody took are lost. Stop must be called once.
	Watch() (changed <-chan struct{}, stop func())
	// Record gives the newest lines of the record, oldest first.
	Record(n int) []Line
	// Plan gives the rig that runs now.
	Rig() *rig.Rig
}

// Tell takes an answer or an outcome; one of them is nil. It is called from the daemon's own goroutine and must return at once.
type Tell func(*engine.Answer, *engine.Outcome)

// Line is one line of the record, as a person reads it.
type Line struct {
	Seq     uint64    `json:"seq"`
	At      time.Time `json:"at"`
	Kind    string    `json:"kind"` // "command", "answer", "outcome", "alarm", "clear", "note", "gap"
	Station string    `json:"station,omitempty"`
	ID      uint64    `json:"id,omitempty"`
	Text    string    `json:"text"`
}

// Surface is one way for stations to come in. Open binds and fails early; Serve runs until the context ends; Addr is known after Open.
type Surface interface {
	Name() string
	Open() error
	Addr() string
	Serve(ctx context.Context) error
	Close() error
}

// Device is the wire to one device. One worker of the daemon owns it: Open, Write and Close are never called at the same time.
type Device interface {
	Name() string
	// Open makes the wire ready. Reports go to report, from any goroutine, until Close has returned; report must not block.
	Open(report func(engine.Report)) error
	// Write puts one packet on the wire and returns when it has left this machine's hands; an error means that it certainly did not and never will.
	Write(ctx context.Context, a engine.Action) error
	Close() error
}

// Station is who may command, and how, as stations.yaml has it.
type Station struct {
	Name      string
	Engineer  bool
	From      string // source address of OSC packets that belong to this station; empty for any
	ReplyPort int    // UDP port that answers go to; 0: the sender's own
}
