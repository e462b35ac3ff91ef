// Package rig holds the plant as built: supply, boards, circuits, panels, data runs, processors and the outputs that can be levelled; and it says what is
// wrong with it. A rig is data: nothing in it changes while it is in use, and references between its parts are indexes into its slices.
package rig

import (
	"time"

	"lookgate/presets/cable"
	"lookgate/presets/units"
)

// Rig is one plant. A rig that [Rig.Problems] finds nothing wrong with may be read by any package, from any goroutine, and is never written again.
type Rig struct {
	Name       string
	Supply     Supply
	Cables     []Cable
	Boards     []Board // a board stands behind the board that feeds it
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
	Drop       DropLimits
	Credit     *Decision // who decided that a preset may state the mean of its picture and count on it; nil: full white always counts
}

// Decision names who decided something that the plain rules do not allow, and why.
type Decision struct{ Reason, By string }

// DropLimits are the largest parts of the supply's voltage that may be lost on the way: in a circuit, and from the supply to the last panel.
// 3 % and 5 % are the usual figures (NEC 210.19 and 215.2, informational notes; advice, no rule). Zero stands for them.
type DropLimits struct{ Circuit, Total units.Share }

// System is how a supply is wound.
type System uint8

// The supply systems.
const (
	NoSystem    System = iota
	SinglePhase        // one leg and a neutral
	SplitPhase         // two legs of opposite phase and a neutral (120/240 V)
	Wye                // three legs 120 degrees apart and a neutral (208Y/120, 230/400 V)
	Delta              // three legs 120 degrees apart and no neutral: loads stand between legs
)

// Legs gives the number of line conductors.
func (s System) Legs() int { return [...]int{0, 1, 2, 3, 3}[s] }

// HasNeutral reports whether a common return comes with the legs.
func (s System) HasNeutral() bool { return s != NoSystem && s != Delta }

// String gives the word of the site file.
func (s System) String() string {
	return [...]string{"none", "single-phase", "split-phase", "wye", "delta"}[s]
}

// Supply is the service or generator that feeds all boards. Voltages are the lowest that are expected under load.
type Supply struct {
	Name        string
	System      System
	LineNeutral units.Volts
	LineLine    units.Volts // two legs against each other; nothing for a single-phase supply
	Main        units.Amps  // rating of the legs' overcurrent device
	Neutral     units.Amps  // rating of the neutral; nothing on a delta
	Factor      units.Share // what part of the main a continuous load may use
	Origin      Origin
	Capacity    Capacity // of a transformer or generator
}

// Origin says what stands behind a supply.
type Origin uint8

// A transformer has a capacity; a generator has one too, and takes load only in steps and slowly.
const (
	Service Origin = iota // a service whose capacity is its main's
	Transformer
	Generator
)

// String gives the word of the site file.
func (o Origin) String() string { return [...]string{"service", "transformer", "generator"}[o] }

// Capacity is what a transformer or generator can give. The zero value says nothing of it, which is not assessed and never unlimited.
type Capacity struct {
	Power  units.VoltAmps // rated apparent power, all legs together
	Factor units.Share    // what part of it a continuous load may use
	Real   units.Watts    // of a generator: rated active power
	Step   units.Watts    // of a generator: the largest load that it takes at once
	Settle time.Duration  // of a generator: how long it needs after a step before the next one
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

// Board is a distribution board.
type Board struct {
	Name      string
	Numbering Numbering
	Poles     int // places for poles
	Main      units.Amps
	Neutral   units.Amps // nothing on a delta
	Factor    units.Share
	From      int        // the board that feeds this one, counted from 1; 0 for the supply
	Feeder    *Run       // the cable that feeds it; nil where the rig says nothing of it
	Carries   units.Amps // rating of the feeder's line conductors, all sets together; 0 where the rig says nothing of the feeder
	Residual  units.Amps // rated residual current of a device for the whole board; 0 for none
	Exception *Decision  // the main may be larger than what the feeder carries
}

// Run is a length of cable, one way.
type Run struct {
	Cable  int // into the rig's cables
	Length units.Metres
	Sets   int // cables in parallel, each conductor as often; 0 stands for 1
}

// Cable is a kind of cable: what its conductors are, and what each may carry as it is laid.
type Cable struct {
	Name      string
	Size      cable.Size
	Stranding cable.Stranding
	At        units.Celsius // temperature of the conductor under load, for its resistance
	Rating    units.Amps    // as its standard or maker has it, before the factors
	Ambient   units.Share   // factor for the temperature around it; 1 where it is that of the rating
	Grouping  units.Share   // factor for other loaded conductors beside it, the neutral counted where it is loaded; 1 where there are none
}

// Carries gives what the cable carries as it is laid.
func (c Cable) Carries() units.Amps {
	return units.Amps(float64(c.Rating) * float64(c.Ambient) * float64(c.Grouping))
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
	Red, Green, Blue  units.Watts // what full level of each primary alone adds to black; all zero where it is not known
	Inrush            Inrush
	PerBreaker        []PerBreaker // the maker's figures; the first that fits a breaker counts
	Leakage           units.Amps   // earth leakage in normal use; 0 where it is not known
}

// Inrush is the pulse that a panel's supply draws when it is switched on. A peak of 0 is not known.
type Inrush struct {
	Peak  units.Amps    // crest, not rms
	Width time.Duration // at half the peak
}

// Curve is how a breaker of IEC 60898-1 trips at once: B at 3 to 5 times its rating, C at 5 to 10, D at 10 to 20.
type Curve uint8

// NoCurve is a breaker whose rig does not say.
const (
	NoCurve Curve = iota
	CurveB
	CurveC
	CurveD
)

// String gives the letter that stands on the breaker.
func (c Curve) String() string { return [...]string{"none", "B", "C", "D"}[c] }

// PerBreaker is a maker's word on how many panels one breaker may switch on.
type PerBreaker struct {
	Curve   Curve // NoCurve: whatever its curve
	Breaker units.Amps
	Panels  int
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
	Exception *Decision  // the breaker may be larger than what hangs behind it
	Home      *Run       // the cable from the board to the first panel; nil where the rig says nothing of it
	Link      *Run       // the cable from each panel to the next
	Curve     Curve
	Residual  units.Amps       // rated residual current of a device of its own; 0 for none
	Above     *AboveContinuous // nil: the load never goes above the continuous limit
}

// AboveContinuous allows a circuit more than its continuous limit for a while, up to its breaker's rating and never above it. A continuous load is one of 3 h
// or more (NEC Article 100), so what stays on for less may use the rest of the breaker. It holds for the breaker alone: cables and connectors keep their ratings.
type AboveContinuous struct {
	For      time.Duration // longest time above the limit, under 3 h
	Rest     time.Duration // time at or below the limit before the next
	Decision Decision
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
