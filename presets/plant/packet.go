package plant

import (
	"fmt"
	"time"

	"lookgate/presets/units"
)

// Kind says what a packet asks of a device.
type Kind uint8

// The kinds of packet.
const (
	SetLevel   Kind = iota // one output's level
	SetBlack               // one output's blackout, on or off
	SetPicture             // a device's layout and mode
	Ask                    // tell what you hold
)

// String gives the word that logs and scenarios use.
func (k Kind) String() string { return [...]string{"level", "black", "picture", "ask"}[k] }

// Picture is what a device shows: layout and mode, each 0 where nothing was ever set.
type Picture struct{ Layout, Mode int }

// Packet is one message to one device. The fields that its kind does not name are zero.
type Packet struct {
	Kind    Kind
	Device  int // into the rig's devices
	Output  int // into the rig's outputs
	Level   units.Level
	Black   bool
	Picture Picture
	Number  uint64 // command number, for numbered devices
}

// String prints the packet for a log: "level output 3 to 42 % number 17".
func (p Packet) String() string {
	s := p.Kind.String()
	switch p.Kind {
	case SetLevel:
		s += fmt.Sprintf(" output %d to %v", p.Output, p.Level)
	case SetBlack:
		s += fmt.Sprintf(" output %d to %v", p.Output, p.Black)
	case SetPicture:
		s += fmt.Sprintf(" to layout %d mode %d", p.Picture.Layout, p.Picture.Mode)
	}
	if p.Number != 0 {
		s += fmt.Sprintf(" number %d", p.Number)
	}
	return s
}

// Report is what a device tells of itself: one entry for each of its outputs, in the rig's order.
type Report struct {
	Device  int
	Number  uint64 // highest command number acted on; 0 from a device without numbers
	Levels  []units.Level
	Black   []bool
	Picture Picture
}

// Arrival is a report that reached the daemon.
type Arrival struct {
	At     time.Duration
	Report Report
}
