// Package presets holds what a look is and whether it may be on: presets, the book that holds them, and Check, which gives each its verdict.
package presets

import (
	"time"

	"lookgate/presets/finding"
	"lookgate/presets/picture"
	"lookgate/presets/units"
)

// Preset is a named, numbered, stored setting. An output in none of its zones is dark while the preset is on.
type Preset struct {
	Number   int
	Name     string
	Zones    []ZoneLevel
	Mode     int // into the rig's modes
	Windows  []picture.Window
	FadeUp   time.Duration
	FadeDown time.Duration
	Above    time.Duration // how long it may take circuits above their continuous limits, where the rig allows it; 0 for never
	NoDip    bool          // refused while the switch to it would have to lower something first that it then raises

	Outputs []OutputLevel // levelled one by one, after the zones; the book's presets have none
}

// OutputLevel is one output's part of a look that lights outputs and not zones; it is its own cap.
type OutputLevel struct {
	Output int
	Level  units.Level
}

// ZoneLevel is one zone's part of a preset.
type ZoneLevel struct {
	Zone  int
	Level units.Level
	Auto  bool        // take the highest level that passes; Level is then the most that is wanted
	Cap   units.Level // highest level that may be set while the preset is on; not below Level

	Content *Content // of its picture, where the rig lets that count; nil for full white
}

// Content is the linear-light mean of a picture, of each primary, as the highest over any one circuit's panels: a bright window on two columns is full white for
// their circuit, whatever the wall's mean. 1 is full white.
type Content struct{ Red, Green, Blue units.Share }

// Book is all presets, in order of their numbers.
type Book struct {
	Presets   []Preset
	Worklight int // number of the preset that the worklight command recalls; 0 where there is none
}

// ByNumber gives the preset with that number, or nil.
func (b *Book) ByNumber(n int) *Preset {
	for i := range b.Presets {
		if b.Presets[i].Number == n {
			return &b.Presets[i]
		}
	}
	return nil
}

// ByName gives the preset with that name, or nil.
func (b *Book) ByName(name string) *Preset {
	for i := range b.Presets {
		if b.Presets[i].Name == name {
			return &b.Presets[i]
		}
	}
	return nil
}

// Conditions are what a check takes as given besides the plan.
type Conditions struct {
	LockedOff []bool      // per circuit: the breaker is open and cannot close; nil for none
	Above     []Allowance // per circuit: what it has left above its continuous limit; nil where all are rested
	Scale     units.Level // on the preset's levels and caps; 0 stands for 1
}

// ConductorLoad is one conductor's worst current under a look.
type ConductorLoad struct {
	Conductor int // into the power model's conductors
	Worst     units.Amps
	Limit     units.Amps
	Void      bool
	For       time.Duration // how long it may carry more than its continuous limit, up to this one; 0 where the limit holds for any time
}

// Verdict is what Check says of one preset: admitted, or refused, with all findings.
type Verdict struct {
	Preset     int // number
	Name       string
	Admitted   bool
	Findings   []finding.Finding
	Above      []int         // circuits that it takes above their continuous limits, ascending
	Levels     []units.Level // per output, in the device's steps
	Caps       []units.Level // per output: the box that must be admissible as a whole
	Conductors []ConductorLoad
	Cap        units.Share // highest scale of the preset's ratios that passes, rounded down; may be above 1, 0 where none passes
	Binding    int         // the conductor that binds Cap, -1 where none does below level 1
	BySupply   bool        // what stands behind the supply binds Cap, and no conductor
	Credit     *Credit     // what it owes to the stated mean of its picture; nil where full white counts
	Drop       *Drop       // where the most voltage is lost; nil where no way is described, and from Admit
}
