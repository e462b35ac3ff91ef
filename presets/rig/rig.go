// Package rig holds the plant as built: supply, boards, circuits, panels, data runs, processors and the outputs that can be levelled; and it says what is
// wrong with it. A rig is data: nothing in it changes while it is in use, and references between its parts are indexes into its slices.
package rig

import (
	"time"

	"lookgate/presets/units"
)

// Rig is one plant. A rig that [Rig.Problems] finds nothing wrong with may be read by any package, from any goroutine, and is never written again.
type Rig struct {
	Name       string
	Supply     Supply
	Boards     []Board
	PanelTypes []PanelType
	Walls      []Wall
	Panels     []Panel
	Circuits   []Circuit
	Loads      []OtherLoad
	Devices    []Device
	Outputs    []Output
	Zones      []Zone
	Processors []Processor
	DataRuns   []DataRun
	Sources    []Source
	Modes      []Mode
	Hold       time.Duration // how long a command's raises may wait before they are dropped
}

// System is how a supply is wound.
type System uint8

// The supply systems of this version. A delta comes with the feeder trees.
const (
	NoSystem    System = iota
	SinglePhase        // one leg and a neutral
	SplitPhase         // two legs of opposite phase and a neutral (120/240 V)
	Wye                // three legs 120 degrees apart and a neutral (208Y/120, 230/400 V)
)

// Legs gives the number of line conductors.
func (s System) Legs() int { return int(s) }

// String gives the word of the site file.
func (s System) String() string { return [...]string{"none", "single-phase", "split-phase", "wye"}[s] }

// Supply is the service or generator that feeds all boards. Voltages are the lowest that are expected under load.
type Supply struct {
	Name        string
	System      System
	LineNeutral units.Volts
	LineLine    units.Volts // two legs against each other; nothing for a single-phase supply
	Main        units.Amps  // rating of the legs' overcurrent device
	Neutral     units.Amps  // rating of the neutral
	Factor      units.Share // what part of the main a continuous load may use
}

// Numbering is how a board counts its poles.
type Numbering uint8

// OddEven is the North American panelboard: odd poles in the left column from the top, even ones in the right, and one leg a row.
// ByWays is the IEC board: poles in a row, and each way takes the next leg.
const (
	OddEven Numbering = iota
	ByWays
)

// String gives the word of the site file.
func (n Numbering) String() string { return [...]string{"odd-even", "ways"}[n] }

// Board is a distribution board fed by the supply.
type Board struct {
	Name      string
	Numbering Numbering
	Poles     int // places for poles
	Main      units.Amps
	Neutral   units.Amps
	Factor    units.Share
}

// LegOf gives the leg, from 0, that a pole of the board stands on. Legs go by row of the board: in an odd-even board the two poles of a row share a leg.
func (b Board) LegOf(pole int, s System) int {
	row := pole - 1
	if b.Numbering == OddEven {
		row = (pole - 1) / 2
	}
	return row % s.Legs()
}

// PanelType is one make of LED cabinet, by its maker's data or by measurement.
type PanelType struct {
	Name              string
	Width, Height     units.Millimetres
	PixelsX, PixelsY  int
	Peak              units.Nits  // calibrated, at level 1
	Black, White      units.Watts // at black and at full white, level 1
	PF                units.Share // true power factor
	Displacement      units.Degrees
	DisplacementKnown bool        // where it is not known it may be anything within plus or minus arccos(PF)
	Third             units.Share // third harmonic, as a share of the computed current
	FeedThrough       units.Amps  // rating of the panel's own power in and out
}

// Watts gives what a panel draws at a level with full white up: the widest picture that level allows.
func (t PanelType) Watts(l units.Level) units.Watts {
	return t.Black + units.Watts(float64(l))*(t.White-t.Black)
}

// Wall is a grid of panels. Columns count from 1 at the left seen from the front, rows from 1 at the bottom.
type Wall struct {
	Name             string
	Columns, Rows    int
	Type             int // of the regular panel
	PixelsX, PixelsY int // of the raster: columns and rows times the panel's
}

// Panel is one cabinet in its place.
type Panel struct {
	Wall        int
	Column, Row int
	Type        int
}

// Exception names who decided that a breaker may be larger than what hangs behind it, and why.
type Exception struct{ Reason, By string }

// Circuit is a breaker, its poles, the home run and the chain of panels in feeding order.
type Circuit struct {
	Name      string
	Board     int
	Poles     []int      // one pole: line to neutral; two: line to line
	Breaker   units.Amps // rating
	Factor    units.Share
	HomeRun   units.Amps // rating of the cable from the board and of its connectors
	Jumper    units.Amps // rating of the cables from panel to panel
	Panels    []int      // in feeding order, each once
	Exception *Exception
}

// OtherLoad is something else on a board: lights, machines. It counts at its connected maximum, and may be off at any moment.
type OtherLoad struct {
	Name              string
	Board             int
	Legs              []int // one: line to neutral; two: line to line; three: balanced on all legs
	Current           units.Amps
	Displacement      units.Degrees
	DisplacementKnown bool
	PF                units.Share
	Third             units.Share
}

// Class is how a device tells what it did; the guard's release rule follows from it.
type Class uint8

// Numbered devices keep the highest command number through a restart, drop older packets and echo the number in reports. Reporting devices tell their
// values and know no numbers. Silent devices tell nothing: what they hold is assumed, and stands outside the promise.
const (
	NoClass Class = iota
	Numbered
	Reporting
	Silent
)

// String gives the word of the site file.
func (c Class) String() string { return [...]string{"none", "numbered", "reporting", "silent"}[c] }

// Device is one thing that lookgate drives.
type Device struct {
	Name       string
	Class      Class
	Steps      int           // number of equal steps from 0 to 1 that a level can stand on
	Restart    units.Level   // level of each output after the device restarts by itself, and on loss of signal
	PacketLife time.Duration // longest time from the return of a write to the packet's arrival
	Settling   time.Duration // longest time from a packet's arrival to its effect in a report
	Repeats    int           // how often a silent device is told the same thing
	Retry      time.Duration // wait for a report before the same thing is sent again
}

// Output is one brightness value that one device holds, with the panels that it drives: the unit of the guard.
type Output struct {
	Name    string
	Device  int
	Address string
	Panels  []int
}

// Zone is a named set of whole outputs that people level together.
type Zone struct {
	Name    string
	Outputs []int
}

// Processor drives data runs from inputs. It is the picture side of the device of the same name.
type Processor struct {
	Name     string
	Device   int
	Inputs   []int // sources that it can take
	Port     units.BitsPerSecond
	Usable   units.Share
	Bounding bool // the port carries the bounding rectangle of its panels, gaps included
	Wire     []WireDepth
}

// WireDepth says how many bits a pixel takes on the wire at a bit depth. A depth without a row takes three times the depth.
type WireDepth struct{ Depth, Bits int }

// WireBits gives the bits that one pixel takes on the wire at a bit depth per channel.
func (p Processor) WireBits(depth int) int {
	for _, w := range p.Wire {
		if w.Depth == depth {
			return w.Bits
		}
	}
	return 3 * depth
}

// DataRun is one cable from a processor port through a chain of panels.
type DataRun struct {
	Name      string
	Processor int
	Port      int
	Panels    []int
}

// Source is a picture.
type Source struct {
	Name          string
	Width, Height int // pixels
	Rate          units.Rate
}

// Mode is a frame-rate mode.
type Mode struct {
	Name     string
	WallRate units.Rate
	BitDepth int // per channel
}
