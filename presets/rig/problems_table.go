package rig

// Templates is the one table of what [Rig.Problems] can say, in the order in which the checks run. Every row has a broken site in testdata/bad that
// shows its exact text, or, where no file can bring it about, a test in this package.
var Templates = []Template{
	{Code: "reference-broken", Sentence: "{1} refers to {2} {3}, and there are {4}", Hint: "whoever made this rig must number its parts from 0", CodeOnly: true},
	{Code: "panel-misplaced", Sentence: "a panel stands at {1}, outside its wall or where another one is", Hint: "whoever made this rig must give each panel its own place on its wall", CodeOnly: true},

	{Code: "name-bad", Sentence: "the name {1} cannot stand in an OSC address", Hint: "use 1 to 32 printable ASCII characters, none of them a space or one of # * , / ? [ ] { }"},
	{Code: "name-twice", Sentence: "the name {1} is taken by another of the {2}", Hint: "give each of the {2} a name of its own"},

	{Code: "no-system", Sentence: "the supply has no system", Hint: "give system: wye, delta, split-phase or single-phase"},
	{Code: "figure-not-positive", Sentence: "{1} is {2}, and must be above zero", Hint: "give the true figure; a missing limit never counts as unlimited"},
	{Code: "figure-negative", Sentence: "{1} is {2}, and cannot be below zero", Hint: "give the true figure"},
	{Code: "factor-range", Sentence: "the continuous factor of {1} is {2}", Hint: "a factor is above 0% and at most 100%, or a fraction: 80% or 0.8 is North American practice for continuous loads"},
	{Code: "voltages-disagree", Sentence: "line_neutral_v {1} and line_line_v {2} do not fit a {3} supply", Hint: "line to line is {4} times line to neutral in such a supply; give both under load"},
	{Code: "line-line-unused", Sentence: "a single-phase supply has no second leg, so no line_line_v", Hint: "leave line_line_v out, or name the system: split-phase, wye or delta"},
	{Code: "neutral-below-main", Sentence: "the neutral of {1} is rated {2}, below its main of {3}", Hint: "make sure that it is so as built; third harmonics and unequal legs can load a neutral above a leg", Warning: true},
	{Code: "delta-neutral", Sentence: "a delta supply has no neutral, so no {1}", Hint: "leave {1} out: loads on a delta stand between two legs, and line_line_v is their voltage"},
	{Code: "capacity-unused", Sentence: "{1} is given, and a {2} has none", Hint: "take it out, or say what stands behind the supply, from: transformer or from: generator; only a generator has kw, step_kw and settle"},
	{Code: "figure-alone", Sentence: "{1} is given without {2}", Hint: "one says nothing without the other: give both, or neither"},
	{Code: "kw-above-kva", Sentence: "the supply's rated active power is {1}, more than its apparent power of {2}", Hint: "give kva and kw as the plate has them: their ratio is the rated power factor, at most 1"},
	{Code: "step-above-rating", Sentence: "the supply takes a step of {1}, more than all of its {2}", Hint: "give step_kw as its maker has it for the drop in voltage that the wall stands"},
	{Code: "drop-range", Sentence: "the limit of voltage drop {1} is {2}", Hint: "give what part of the voltage may be lost, above 0% and at most {3}: 3% in a circuit and 5% in all are usual"},

	{Code: "cable-factor", Sentence: "{1} of cable {2} is {3}", Hint: "give what part of its rating the cable carries, above 0% and at most {4}, or as a fraction"},
	{Code: "conductor-temperature", Sentence: "the conductors of cable {1} are at {2}", Hint: "give the temperature of the copper under load, from {3} to {4}; that of its terminals is often 60 or 75"},
	{Code: "cable-no-size", Sentence: "cable {1} has no size", Hint: "whoever made this rig must give each cable its conductors' size", CodeOnly: true},
	{Code: "resistance-unknown", Sentence: "cable {1}: the tables have no {2} that is {3}", Hint: "American gauges are solid, stranded or coated, square millimetres are class-2 or class-5; take the next smaller size that the tables have, which loses more"},

	{Code: "board-poles", Sentence: "board {1} has {2} poles", Hint: "give the places for poles that the board has, from 1 to {3}"},

	{Code: "rating-above-cable", Sentence: "{1} of {2} is {3}, more than its cable {4} carries as it is laid, {5}", Hint: "leave {1} out, or correct the cable's rating and factors; what the weakest part carries counts"},
	{Code: "main-above-feeder", Sentence: "the main of board {1}, {2}, is above the {3} that its feeder carries", Hint: "a main protects the cable behind it: give a larger feeder or a smaller main, or larger_main with reason and by, who decided it"},
	{Code: "board-ring", Sentence: "board {1} is fed by board {2}, and so in the end by itself", Hint: "name what truly feeds it, or leave fed_by out where the supply does"},
	{Code: "board-order", Sentence: "board {1} stands before board {2}, which feeds it", Hint: "whoever made this rig must put each board behind the one that feeds it", CodeOnly: true},

	{Code: "pf-range", Sentence: "the power factor of {1} is {2}", Hint: "a power factor is above 0 and at most 1"},
	{Code: "displacement-beyond-pf", Sentence: "the displacement of {1} is {2}, more than its power factor of {3} allows", Hint: "the cosine of the displacement is never below the power factor: at most {4} either way"},
	{Code: "third-range", Sentence: "the third harmonic of {1} is {2}", Hint: "give it as a share of the current, from 0% to 100%; without the per cent sign it is a fraction from 0 to 1"},
	{Code: "white-below-black", Sentence: "panel type {1} draws {2} at full white, less than its {3} at black", Hint: "give black_w and white_w as the maker has them or as measured"},
	{Code: "primaries-part", Sentence: "panel type {1} has figures for some of its primaries and no {2}", Hint: "give red_w, green_w and blue_w, what full level of each alone adds to black, or none of them"},
	{Code: "primaries-sum", Sentence: "black and the three primaries of panel type {1} make {2}, and its full white is {3}", Hint: "make sure that red_w, green_w and blue_w are what each alone adds to black; full white is less than their sum where the panel limits itself", Warning: true},
	{Code: "per-breaker", Sentence: "per_breaker of panel type {1} has {2} on a breaker of {3}", Hint: "give breaker_a and panels above zero, as the maker has them"},
	{Code: "type-unused", Sentence: "no panel is of type {1}", Hint: "take it out, or name it in a wall", Warning: true},
	{Code: "wall-mixed-pixels", Sentence: "{1} is of type {2}, whose size or pixels differ from the wall's {3}", Hint: "a wall's panels share one size and pixel count; make another wall of the different ones"},

	{Code: "chain-empty", Sentence: "{1} {2} has no panels", Hint: "name its panels, or take it out"},
	{Code: "chain-twice", Sentence: "{1} {2} {3} {4} twice", Hint: "name each panel of the chain once, in order"},
	{Code: "panel-in-two", Sentence: "{1} {2} and {1} {3} both have {4}", Hint: "each panel is on exactly one {1}"},
	{Code: "panel-in-none", Sentence: "{1} on no {2}: {3}", Hint: "each panel is on exactly one {2}; add it, or list the panel under gaps if it is not there"},

	{Code: "above-for", Sentence: "circuit {1} may be above its continuous limit for {2}", Hint: "give for: above 0 min and under 3 h, since what stays on for 3 h is continuous"},
	{Code: "above-rest", Sentence: "circuit {1} rests for {2} after it was above its continuous limit", Hint: "give rest: how long it then stays at or below the limit, above 0 min"},

	{Code: "poles-count", Sentence: "circuit {1} has {2} on a {3} supply", Hint: "give one pole (line to neutral), or two on different legs (line to line)"},
	{Code: "pole-beyond", Sentence: "circuit {1} uses pole {2}, and board {3} has poles 1 to {4}", Hint: "move the circuit, or correct the board's poles"},
	{Code: "pole-taken", Sentence: "circuit {1} uses pole {2} of board {3}, which {4} has", Hint: "give each circuit poles of its own"},
	{Code: "same-leg", Sentence: "both poles of circuit {1}, {2} and {3}, are on leg L{4}", Hint: "two poles must be on different legs; in an odd-even board the two poles of a row share a leg"},
	{Code: "poles-apart", Sentence: "the poles of circuit {1}, {2} and {3}, are not next to each other", Hint: "make sure that they open together; a two-pole breaker takes adjacent places", Warning: true},

	{Code: "needs-neutral", Sentence: "{1} stands between one leg and a neutral, and a delta supply has none", Hint: "give it two {2}, or make the supply a wye"},

	{Code: "load-legs", Sentence: "load {1} has legs {2} on a {3} supply", Hint: "name one leg (line to neutral), two (line to line), or all of them (balanced)"},

	{Code: "no-class", Sentence: "device {1} has no class", Hint: "give class: numbered, reporting or silent, as the device tells what it did"},
	{Code: "steps-range", Sentence: "device {1} has {2} steps", Hint: "give the number of equal steps from 0 to 1 that its level has, from 1 to {3}: 255 for 8 bits"},
	{Code: "restart-range", Sentence: "the restart level of device {1} is {2}", Hint: "give the level that its outputs take when it restarts, from 0% to 100% or as a fraction; 100% if it is not known"},
	{Code: "time-not-positive", Sentence: "{1} is {2}, and must be above zero", Hint: "give the longest time that it can take; what may still arrive counts for that long"},
	{Code: "device-unused", Sentence: "device {1} has no outputs and is no processor", Hint: "take it out, or name it at an output", Warning: true},
	{Code: "repeats-missing", Sentence: "device {1} is silent and is told everything {2} times", Hint: "give repeats of at least 1"},
	{Code: "hold-short", Sentence: "device {1} is silent: a switch may take it {2}, and what waits longer than the hold of {3} is dropped", Hint: "give a longer hold in rig.yaml, or fewer repeats or a shorter retry here", Warning: true},

	{Code: "address-taken", Sentence: "output {1} has address {2} of device {3}, which output {4} has", Hint: "give each output of a device an address of its own"},
	{Code: "output-other-processor", Sentence: "output {1} is held by {2}, and {3} on data runs of {4}", Hint: "an output's panels hang on the processor that holds its level; make one output for each processor"},
	{Code: "zone-empty", Sentence: "zone {1} has no outputs", Hint: "name its outputs or walls, or take it out"},
	{Code: "zone-twice", Sentence: "zone {1} names output {2} twice", Hint: "name each output once"},
	{Code: "output-no-zone", Sentence: "output {1} is in no zone, so no preset can light it", Hint: "add it to a zone", Warning: true},

	{Code: "usable-range", Sentence: "the usable share of processor {1}'s ports is {2}", Hint: "give what part of a port carries pixels, above 0% and at most 100%, or as a fraction"},
	{Code: "wire-bits", Sentence: "processor {1} puts {3} bits a pixel on the wire at {2} bits a channel", Hint: "give depths of {4} to {5} bits, and at least as many bits on the wire as one channel has"},
	{Code: "input-twice", Sentence: "processor {1} takes source {2} twice", Hint: "name each source once"},
	{Code: "port-taken", Sentence: "data run {1} uses port {2} of processor {3}, which data run {4} has", Hint: "give each data run a port of its own"},
	{Code: "run-over-walls", Sentence: "data run {1} goes over several walls: {2}", Hint: "make sure that it is so as built", Warning: true},

	{Code: "source-unused", Sentence: "no processor takes source {1}", Hint: "add it to a processor's inputs, or take it out", Warning: true},
	{Code: "cable-unused", Sentence: "nothing is made of cable {1}", Hint: "take it out, or name it in a feeder, home_run or jumper", Warning: true},
	{Code: "rate-missing", Sentence: "{1} has no frame rate", Hint: "give it as a whole number or fraction: 60, 24000/1001", CodeOnly: true},
	{Code: "depth-range", Sentence: "mode {1} has {2} bits a channel", Hint: "give a bit depth from {3} to {4}"},
}

// template gives the row of a code. Codes are constants of this package, so a missing row is a mistake in it.
func template(code string) Template {
	for _, t := range Templates {
		if t.Code == code {
			return t
		}
	}
	panic("rig: no template " + code)
}
