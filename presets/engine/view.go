package engine

import (
	"lookgate/presets/finding"
	"lookgate/presets/units"
)

// View is everything that a station may see, at one moment. It is made whole by the engine and never changed, so any number of watchers may hold it.
type View struct {
	At         Instant         `json:"at"`
	Epoch      uint64          `json:"epoch"`
	Site       string          `json:"site"`
	Watch      bool            `json:"watch"`
	DiskSick   string          `json:"diskSick,omitempty"` // why raising has stopped; empty when it has not
	Look       LookView        `json:"look"`
	Armed      int             `json:"armed"`         // preset number, 0 for none
	Dip        *DipView        `json:"dip,omitempty"` // of the switch to the armed preset
	Running    *RunningView    `json:"running,omitempty"`
	Outputs    []OutputView    `json:"outputs"`
	Zones      []ZoneView      `json:"zones"`
	Conductors []ConductorView `json:"conductors"`
	Circuits   []CircuitView   `json:"circuits"`
	Presets    []PresetView    `json:"presets"`
	Alarms     []Event         `json:"alarms"`
	Promise    []string        `json:"promise"`          // where the promise does not hold, one sentence each
	Reload     []string        `json:"reload,omitempty"` // problems of the last reload that failed
}

// LookView is the look that is wanted, and whether it is on.
type LookView struct {
	Preset   int         `json:"preset"` // 0 for none
	Name     string      `json:"name"`
	Scale    units.Level `json:"scale"`
	State    string      `json:"state"` // "none", "pending", "on", "short": short is a look that is not certainly on: its command was dropped, or a restart has left what no device can tell
	Assumed  bool        `json:"assumed"`
	Blackout bool        `json:"blackout"` // everything is wanted dark
	Previous int         `json:"previous"`
	Worst    string      `json:"worst"` // conductor that binds first as the wall gets brighter
	Above    *LookAbove  `json:"above,omitempty"`
	Credit   bool        `json:"credit,omitempty"`   // it counts on its picture being no brighter than its preset says
	Identify string      `json:"identify,omitempty"` // the part that it lights, where it is no preset
}

// LookAbove is a look that may be above the continuous limits of some circuits for a while.
type LookAbove struct {
	For      Instant  `json:"for"`  // as its preset states it
	Left     Instant  `json:"left"` // until it is brought down, should it stay above
	Runs     bool     `json:"runs"` // its time runs: it may be above now
	Circuits []string `json:"circuits"`
}

// DipView says what a switch will look like.
type DipView struct {
	Depth units.Stops `json:"depth"` // of the deepest output
	Zones []string    `json:"zones"`
	About Instant     `json:"about"` // length, as the devices' times have it
}

// RunningView is the command whose outcome is still open.
type RunningView struct {
	ID       uint64  `json:"id"`
	Verb     Verb    `json:"verb"`
	Since    Instant `json:"since"`
	Deadline Instant `json:"deadline"`
	Waiting  string  `json:"waiting"` // what for, in words
}

// OutputView is one output: what is wanted, and what may be.
type OutputView struct {
	Name      string      `json:"name"`
	Device    string      `json:"device"`
	Wanted    units.Level `json:"wanted"`
	Black     bool        `json:"black"` // wanted
	Low       units.Level `json:"low"`   // lowest and highest light level that it may stand at, blackout counted
	High      units.Level `json:"high"`
	Cap       units.Level `json:"cap"`
	State     string      `json:"state"` // "confirmed", "pending", "assumed", "unknown", "attested"
	Confirmed bool        `json:"confirmed"`
}

// ZoneView is one zone: the level wanted of its outputs where they agree.
type ZoneView struct {
	Name    string      `json:"name"`
	Outputs []int       `json:"outputs"`
	Wanted  units.Level `json:"wanted"` // the highest of its outputs
	Cap     units.Level `json:"cap"`    // the lowest of its outputs
	Black   bool        `json:"black"`  // all of its outputs are wanted dark
}

// ConductorView is one conductor's worst current now.
type ConductorView struct {
	Kind     string      `json:"kind"`
	Name     string      `json:"name"`
	Worst    units.Amps  `json:"worst"` // over everything that may be
	Limit    units.Amps  `json:"limit"`
	By       string      `json:"by"`
	Headroom units.Amps  `json:"headroom"`
	Stops    units.Stops `json:"stops"`           // of light, all outputs together, until it binds; large where nothing binds
	Void     bool        `json:"void"`            // no promise is made here
	While    bool        `json:"while,omitempty"` // the limit holds for a while only: it is above the continuous one
}

// CircuitView is one circuit's state as people told it.
type CircuitView struct {
	Name    string        `json:"name"`
	Service string        `json:"service"`
	Proved  *ProofView    `json:"proved"`          // null where nobody proved that it feeds the panels that the rig says
	Above   *CircuitAbove `json:"above,omitempty"` // where the rig allows it more than its continuous limit for a while
}

// CircuitAbove is a circuit's time above its continuous limit, over all looks, as the view's moment has it.
type CircuitAbove struct {
	Limit  units.Amps `json:"limit"`  // the continuous one
	For    Instant    `json:"for"`    // the longest time above it
	Rest   Instant    `json:"rest"`   // that it needs at or below it, without a break
	Used   Instant    `json:"used"`   // since it last rested
	Left   Instant    `json:"left"`   // what may still be used
	Rested Instant    `json:"rested"` // until it has rested, if it stays at or below from now on; 0 where it has
	Now    bool       `json:"now"`    // it may be above now
}

// PresetView is one preset with its verdict under the circuits' present states.
type PresetView struct {
	Number   int               `json:"number"`
	Name     string            `json:"name"`
	Admitted bool              `json:"admitted"`
	Findings []finding.Finding `json:"findings,omitempty"`
	Cap      units.Share       `json:"cap"`
	Binding  string            `json:"binding,omitempty"`
	Above    Instant           `json:"above,omitempty"` // how long it would be above continuous limits; 0 where it is not
}
