package engine

import (
	"time"

	"lookgate/presets"
	"lookgate/presets/finding"
	"lookgate/presets/units"
)

// Instant is a time as the engine knows it: since the start of this incarnation, never a wall clock, so that a clock that is set changes nothing.
type Instant = time.Duration

// Input is anything that can make the engine act: one of [Command], [Report], [Written], [Dropped], [Committed], [CommitFailed], [Reload], [Tick].
type Input interface{ input() }

// Verb is what a station asks for.
type Verb string

// The verbs.
const (
	Recall     Verb = "recall"
	Arm        Verb = "arm"
	Go         Verb = "go"
	Back       Verb = "back"
	Level      Verb = "level"      // scale of the look, 0 to 1, on its ratios
	ZoneLevel  Verb = "zone-level" // absolute
	StepBy     Verb = "step"       // stops
	Blackout   Verb = "blackout"
	Worklight  Verb = "worklight"
	CircuitOut Verb = "circuit-out"
	CircuitIn  Verb = "circuit-in"
	LockedOff  Verb = "circuit-locked-off"
	Attest     Verb = "attest" // an output is dark, says a person
	Identify   Verb = "identify"
	Prove      Verb = "prove" // a circuit feeds the panels that the rig says, says a person
	Query      Verb = "query"
	ReloadSite Verb = "reload"
)

// Verbs lists every verb, in the order of the documentation.
var Verbs = []Verb{Recall, Arm, Go, Back, Level, ZoneLevel, StepBy, Blackout, Worklight, CircuitOut, CircuitIn, LockedOff, Attest, Identify, Prove, Query, ReloadSite}

// Command is one order of one station. Who hands it in gives it an ID that no other command of this site ever has; the answer and the outcome carry it.
type Command struct {
	ID       uint64      `json:"id"`
	Station  string      `json:"station"`
	Engineer bool        `json:"engineer,omitempty"`
	Verb     Verb        `json:"verb"`
	Preset   int         `json:"preset,omitempty"` // recall, arm: by number; 0: by Target's name
	Target   string      `json:"target,omitempty"` // preset, zone, circuit, output, data run or panel by name; blackout: a zone, or empty for all
	Level    units.Level `json:"level,omitempty"`  // level, zone-level; recall, arm: a scale, where HasLevel
	HasLevel bool        `json:"hasLevel,omitempty"`
	Stops    units.Stops `json:"stops,omitempty"` // step
	Off      bool        `json:"off,omitempty"`   // blackout: let go, back to the look at its levels; prove: taken back
	Part     Part        `json:"part,omitempty"`  // identify: the kind of thing that Target names
	By       string      `json:"by,omitempty"`    // prove: who opened the breaker; may be left out
	Clock    int64       `json:"clock,omitempty"` // prove: when it was said, in seconds since 1970 UTC, as whoever hands it in knows it
}

// Report is what a device told of itself. Levels and Black have one entry for each output of the device, in the rig's order.
type Report struct {
	Device  int           `json:"device"`
	Number  uint64        `json:"number,omitempty"` // highest command number that the device has acted on; numbered devices only
	Levels  []units.Level `json:"levels"`
	Black   []bool        `json:"black"`
	Picture Picture       `json:"picture"`
}

// Picture is what a device shows: the layout and the mode of a preset, by its number. The guard treats them as one value that the device holds.
type Picture struct {
	Layout int `json:"layout"` // preset number whose windows are up; 0 for none known
	Mode   int `json:"mode"`   // mode, counted from 1; 0 for none known
}

// WriteID names one packet to one device. It never repeats within an incarnation.
type WriteID uint64

// Written says that the worker's write of a packet returned: its life starts now.
type Written struct {
	Write WriteID `json:"write"`
}

// Dropped says that a packet was never written, and never will be.
type Dropped struct {
	Write WriteID `json:"write"`
}

// Committed says that the batch is on disk.
type Committed struct {
	Batch uint64 `json:"batch"`
}

// CommitFailed says that the batch is not on disk, and why.
type CommitFailed struct {
	Batch uint64 `json:"batch"`
	Cause string `json:"cause"`
}

// Reload is the reload command after the files were read: the new plan, or the problems that stand against it.
type Reload struct {
	Command  Command       `json:"command"`
	Plan     *presets.Plan `json:"-"`
	Problems []string      `json:"problems,omitempty"`
	Settings Settings      `json:"-"`
}

// Tick says that time has passed: the deadline that Step gave was reached.
type Tick struct{}

func (Command) input()      {}
func (Report) input()       {}
func (Written) input()      {}
func (Dropped) input()      {}
func (Committed) input()    {}
func (CommitFailed) input() {}
func (Reload) input()       {}
func (Tick) input()         {}

// Result is everything that one step asks for and says, each list in order.
type Result struct {
	Answers  []Answer
	Outcomes []Outcome
	Actions  []Action
	Events   []Event
	Next     Instant // when to step again if nothing else happens
	HasNext  bool
}

// Status is how a command was answered.
type Status string

// The answers: exactly one for each command, at once (for what raises, once it is on disk).
const (
	Accepted Status = "accepted"
	Refused  Status = "refused"
	Failed   Status = "failed"
)

// Answer is the one answer to a command.
type Answer struct {
	ID       uint64            `json:"id"`
	Station  string            `json:"station"`
	Verb     Verb              `json:"verb"`
	Status   Status            `json:"status"`
	Findings []finding.Finding `json:"findings,omitempty"`
}

// End is how a command ended.
type End string

// The outcomes: exactly one for each accepted command.
const (
	On         End = "on"         // reached everywhere, confirmed where the device can confirm
	Superseded End = "superseded" // a later command took its place
	DroppedEnd End = "dropped"    // the hold time ran out; what was reached is now what is wanted
	Noted      End = "noted"      // watch mode: told and recorded, nothing was sent
)

// Reach says where one output stood when a command ended.
type Reach struct {
	Output string      `json:"output"`
	Wanted units.Level `json:"wanted"`
	Low    units.Level `json:"low"`  // lowest level that it may stand at
	High   units.Level `json:"high"` // highest
}

// Outcome is the one outcome of an accepted command. Short lists the outputs that are not certainly where the command wanted them; Assumed those
// that cannot tell.
type Outcome struct {
	ID      uint64   `json:"id"`
	Station string   `json:"station"`
	Verb    Verb     `json:"verb"`
	End     End      `json:"end"`
	Took    Instant  `json:"took"`
	Short   []Reach  `json:"short,omitempty"`
	Assumed []string `json:"assumed,omitempty"`
	Resumed bool     `json:"resumed,omitempty"` // lookgate ended while the command ran, and was started again: Took counts from the start
}

// ActionKind says what a worker or the disk is to do.
type ActionKind uint8

// The actions.
const (
	SendLevel   ActionKind = iota // set one output's level
	SendBlack                     // set or lift one output's blackout
	SendPicture                   // set a device's layout and mode
	Ask                           // ask a device for a report
	Commit                        // write Kept and the batch's rows in one transaction, then say Committed or CommitFailed
)

// String gives the word that scenarios and logs use.
func (k ActionKind) String() string {
	return [...]string{"level", "black", "picture", "ask", "commit"}[k]
}

// Action is one thing to do. The fields that its kind does not name are zero.
type Action struct {
	Kind     ActionKind
	Write    WriteID // of every packet; the worker answers with Written or Dropped
	Device   int
	Output   int // into the rig's outputs
	Level    units.Level
	Black    bool
	Picture  Picture
	Number   uint64 // command number, for numbered devices
	Lowering bool   // goes before everything that is not
	Batch    uint64 // of a commit
	Kept     *Kept
}

// Kept is what a restart needs, and what one commit holds whole: what is wanted, the highest level each output may be at under every packet so far and
// every one that this commit permits, and the circuits' states.
type Kept struct {
	Epoch    uint64        `json:"epoch"`
	Command  uint64        `json:"command"` // the command that it was written for
	Wanted   Wanted        `json:"wanted"`
	Envelope []units.Level `json:"envelope"`       // per output
	Circuits []Service     `json:"circuits"`       // per circuit
	Accounts []Account     `json:"accounts"`       // per circuit
	At       Instant       `json:"at"`             // when it was handed out
	Gone     Instant       `json:"gone,omitempty"` // how long ago that was at this start, to a second, as whoever starts knows it; 0 where nobody knows
	Outputs  []string      `json:"outputs"`        // names, so that an edited rig cannot take one output's bound for another's
	Names    []string      `json:"names"`          // of the circuits
	Open     []Open        `json:"open,omitempty"`
	Proofs   []Proof       `json:"proofs,omitempty"`
}

// Account is what a circuit has used of its time above its continuous limit, over all looks.
type Account struct {
	Used   Instant `json:"used"`             // above the limit since it last rested
	Rest   Instant `json:"rest"`             // at or below it without a break
	Begun  Instant `json:"begun"`            // Used when the look was recalled
	Coming bool    `json:"coming,omitempty"` // a look that was allowed above is over, and has not come down yet
}

// Open is a command whose outcome is still to come when the commit is on disk: should lookgate end before it was given, the next start gives it.
type Open struct {
	ID      uint64   `json:"id"`
	Station string   `json:"station"`
	Verb    Verb     `json:"verb"`
	End     End      `json:"end,omitempty"`     // as it will be; empty for the one that runs, whose devices have to tell
	Outputs []string `json:"outputs,omitempty"` // of the one that runs
	Picture bool     `json:"picture,omitempty"`
}

// Wanted is the look that the stations asked for.
type Wanted struct {
	Preset   int           `json:"preset"` // number; 0 where no look is on
	Scale    units.Level   `json:"scale"`
	Levels   []units.Level `json:"levels"`          // per output
	Black    []bool        `json:"black"`           // per output
	Caps     []units.Level `json:"caps"`            // per output
	Above    []bool        `json:"above,omitempty"` // per circuit: it may be above its continuous limit for a while; nil for none
	For      Instant       `json:"for,omitempty"`   // for how long, at most
	Picture  Picture       `json:"picture"`
	Previous int           `json:"previous"` // preset number that back goes to
	Armed    int           `json:"armed"`
	Identify string        `json:"identify,omitempty"` // the part that the look lights, where it is no preset
}

// Service says whether a circuit is fed.
type Service uint8

// A circuit is in, or its breaker is open, or it is open and locked so that nobody can close it. Only the last one's load is not counted upstream.
const (
	In Service = iota
	Out
	Locked
)

// String gives the word for the state.
func (s Service) String() string { return [...]string{"in", "out", "locked-off"}[s] }

// Event is something that the record and the stations should know, and that no command asked for: an alarm raised or cleared, a device found elsewhere.
type Event struct {
	Kind     string        `json:"kind"` // "alarm", "clear", "note"
	Key      string        `json:"key"`  // of an alarm: the same key clears it
	Place    finding.Place `json:"place"`
	Sentence string        `json:"sentence"`
	Do       string        `json:"do,omitempty"` // what a person should do
}

// Settings are what the engine takes besides the plan.
type Settings struct {
	Watch    bool    // compute, tell and record; send nothing and refuse nothing
	FadeStep Instant // time between two levels of a fade
	Fault    Fault   // a planted mistake, for the trial alone
}
