package finding

// Code names a kind of finding, in kebab-case. Stations and scripts may depend on codes; sentences may change.
type Code string

// The codes. Each has its row in [Codes].
const (
	CircuitOver     Code = "circuit-over"
	CableOver       Code = "cable-over"
	LegOver         Code = "leg-over"
	NeutralOver     Code = "neutral-over"
	DropOver        Code = "drop-over"
	DropTotal       Code = "drop-total"
	Collapse        Code = "voltage-collapse"
	OnCredit        Code = "on-credit"
	BreakerOverRun  Code = "breaker-over-cable"
	RestartOver     Code = "restart-over"
	RestartLoad     Code = "restart-load"
	Unassessed      Code = "not-assessed"
	AutoDark        Code = "auto-dark"
	WindowOutside   Code = "window-outside"
	SourceNotThere  Code = "source-not-on-processor"
	DataRunOver     Code = "data-run-over"
	UnknownPreset   Code = "unknown-preset"
	UnknownZone     Code = "unknown-zone"
	UnknownCircuit  Code = "unknown-circuit"
	UnknownOutput   Code = "unknown-output"
	UnknownRun      Code = "unknown-data-run"
	UnknownPanel    Code = "unknown-panel"
	LookThere       Code = "look-there"
	BadLevel        Code = "bad-level"
	BadArguments    Code = "bad-arguments"
	AboveCap        Code = "above-cap"
	NothingArmed    Code = "nothing-armed"
	NothingBefore   Code = "nothing-before"
	NoLook          Code = "no-look"
	EngineerOnly    Code = "engineer-only"
	NotLockedOff    Code = "not-locked-off"
	LitPanelsMove   Code = "lit-panels-move"
	SiteBroken      Code = "site-broken"
	NotSupportedYet Code = "not-supported"
	NoWorklight     Code = "no-worklight"
	DiskFailed      Code = "disk-failed"
	Busy            Code = "busy"
	WouldDip        Code = "would-dip"
	CapacityOver    Code = "capacity-over"
	StepOver        Code = "step-over"
	StepSudden      Code = "step-sudden"
	LegsUnbalanced  Code = "legs-unbalanced"
	LostNeutral     Code = "lost-neutral"
	LeakageOver     Code = "leakage-over"
	InrushOver      Code = "inrush-over"
	AboveTime       Code = "above-time-over"
)

// Row describes one code: what it means, and the severity that it carries.
type Row struct {
	Code     Code
	Severity Severity
	Meaning  string
}

// Codes is the one table of codes, in the order in which the documentation lists them.
var Codes = []Row{
	{CircuitOver, Refuse, "the worst current of a circuit is above its breaker times the continuous factor"},
	{CableOver, Refuse, "the worst current in a feeder, home run, jumper, connector or feed-through is above its rating"},
	{AboveTime, Refuse, "a preset would take a circuit above its continuous limit for longer than the rig allows, or than is left until the circuit has rested"},
	{LegOver, Refuse, "the worst current of a leg of a board or supply is above its main times the continuous factor"},
	{NeutralOver, Refuse, "the worst current of a neutral of a board or supply is above its rating"},
	{DropOver, Warn, "a circuit loses more of its board's voltage up to its last panel than the rig's limit, 3 % where it says nothing"},
	{DropTotal, Warn, "more of the supply's voltage is lost on the way to a panel than the rig's limit, 5 % where it says nothing"},
	{Collapse, Refuse, "a circuit's cables cannot bring its panels the power that is asked of them"},
	{CapacityOver, Refuse, "a preset asks a transformer or generator for more than what a continuous load may use of its rated power"},
	{StepOver, Refuse, "a preset takes a generator from black to its levels with more load at once than it takes, or faster than it settles"},
	{StepSudden, Warn, "a preset's fade spares the generator, and what comes without it, a blackout that ends or a level that jumps, does not"},
	{InrushOver, Warn, "a circuit's own breaker may trip when it is closed on its panels"},
	{LeakageOver, Warn, "more leaks to earth behind a residual-current device, in normal use, than lets it hold for certain"},
	{LegsUnbalanced, Note, "two circuits in each other's places would even out the legs of a board or supply"},
	{LostNeutral, Note, "loads from line to neutral would see over-voltage if the neutral that they share were lost"},
	{OnCredit, Warn, "the preset counts on the mean that it states of its picture: with a brighter one nothing that was computed holds"},
	{BreakerOverRun, Refuse, "a breaker is larger than the rating of a cable, connector or feed-through behind it, and the rig names no exception"},
	{RestartOver, Warn, "with every output at the level that it takes after a restart, a conductor is over: no promise is made for it"},
	{RestartLoad, Refuse, "the preset passes by itself, and does not once the outputs that restart brighter than it count at their restart levels"},
	{Unassessed, Note, "a figure that a check needs is not known: the worst is taken, or the check is not made"},
	{AutoDark, Refuse, "what the preset fixes leaves no level for its automatic zones"},
	{WindowOutside, Refuse, "a window reaches outside the wall's raster"},
	{SourceNotThere, Refuse, "a processor shows part of a window and has no input that carries its source"},
	{DataRunOver, Refuse, "a data run would have to carry more bits than its port can, at the mode's wall rate and bit depth"},
	{UnknownPreset, Refuse, "no preset has that number or name"},
	{UnknownZone, Refuse, "no zone has that name"},
	{UnknownCircuit, Refuse, "no circuit has that name"},
	{UnknownOutput, Refuse, "no output has that name"},
	{UnknownRun, Refuse, "no data run has that name"},
	{UnknownPanel, Refuse, "no panel has that place"},
	{LookThere, Note, "what was asked for is lit: the panels to look at, and what lights with them"},
	{BadLevel, Refuse, "a level is not a number from 0 to 1, or a step is not a number"},
	{BadArguments, Refuse, "a command has the wrong arguments"},
	{AboveCap, Warn, "a level was asked above its cap and stops there"},
	{NothingArmed, Refuse, "go without an armed preset"},
	{NothingBefore, Refuse, "back without a look before this one"},
	{NoLook, Refuse, "a level for a look when no look is on"},
	{EngineerOnly, Refuse, "the command needs an engineer"},
	{NotLockedOff, Refuse, "the circuit is not in the state that the command needs"},
	{LitPanelsMove, Refuse, "an edited site moves panels that may be lit between outputs, circuits or devices"},
	{SiteBroken, Refuse, "the site's files have problems"},
	{NotSupportedYet, Refuse, "the message is understood and this version does not do it"},
	{NoWorklight, Refuse, "the book names no worklight"},
	{DiskFailed, Refuse, "the record cannot be written, so nothing that raises may go"},
	{WouldDip, Refuse, "a preset allows no dip, and the switch to it would have one"},
	{Busy, Refuse, "more commands are waiting than can be kept"},
}

// Of gives a code's row, and whether the table has it.
func Of(c Code) (Row, bool) {
	for _, r := range Codes {
		if r.Code == c {
			return r, true
		}
	}
	return Row{}, false
}

// New makes a finding of that code with the severity of its row.
func New(c Code, place Place, sentence string) Finding {
	row, _ := Of(c)
	return Finding{Code: c, Severity: row.Severity, Place: place, Sentence: sentence}
}
