package osc

import (
	"strconv"
	"strings"

	"lookgate/presets/engine"
)

// Root is the container that all of our methods are in. What is addressed
// elsewhere is somebody else's, and is passed over without an answer.
const Root = "/lookgate"

// named is what a placeholder of a route stands for.
type named string

const (
	nothing     named = ""
	presetPart  named = "{preset}"
	zonePart    named = "{zone}"
	circuitPart named = "{circuit}"
	outputPart  named = "{output}"
	runPart     named = "{run}" // which no view lists, so no pattern finds one
)

// route is one shape of address and what a message to it asks for.
type route struct {
	path  string // below Root; at most one part of it is a placeholder
	part  named  // the placeholder, if it has one
	verb  engine.Verb
	read  reader
	usage string // what to send, for whoever sent something else
}

// routes is the address space. A pattern may match many of its methods; they are
// taken in this order, which puts what raises before what lowers, so that
// whoever sends a star ends in the dark and not at the level that was on before.
var routes = []route{
	{"reload", nothing, engine.ReloadSite, trigger, "/lookgate/reload"},
	{"query", nothing, engine.Query, trigger, "/lookgate/query"},
	{"arm", nothing, engine.Arm, presetArgument, "/lookgate/arm 12, or /lookgate/arm \"name\""},
	{"arm/{preset}", presetPart, engine.Arm, presetAddress, "/lookgate/arm/12"},
	{"arm/{preset}/level", presetPart, engine.Arm, presetScale, "/lookgate/arm/12/level 0.8"},
	{"recall", nothing, engine.Recall, presetArgument, "/lookgate/recall 12, or /lookgate/recall \"name\""},
	{"recall/{preset}", presetPart, engine.Recall, presetAddress, "/lookgate/recall/12"},
	{"recall/{preset}/level", presetPart, engine.Recall, presetScale, "/lookgate/recall/12/level 0.8"},
	{"go", nothing, engine.Go, trigger, "/lookgate/go"},
	{"back", nothing, engine.Back, trigger, "/lookgate/back"},
	{"worklight", nothing, engine.Worklight, trigger, "/lookgate/worklight"},
	{"level", nothing, engine.Level, level, "/lookgate/level 0.8"},
	{"zone/{zone}/level", zonePart, engine.ZoneLevel, level, "/lookgate/zone/NAME/level 0.8"},
	{"step", nothing, engine.StepBy, stops, "/lookgate/step -0.5"},
	{"circuit/{circuit}/in", circuitPart, engine.CircuitIn, trigger, "/lookgate/circuit/NAME/in"},
	{"circuit/{circuit}/out", circuitPart, engine.CircuitOut, trigger, "/lookgate/circuit/NAME/out"},
	{"circuit/{circuit}/locked-off", circuitPart, engine.LockedOff, trigger, "/lookgate/circuit/NAME/locked-off"},
	{"attest", nothing, engine.Attest, attestArguments, "/lookgate/attest \"OUTPUT\" \"dark\""},
	{"attest/{output}/dark", outputPart, engine.Attest, trigger, "/lookgate/attest/OUTPUT/dark"},
	{"identify", nothing, engine.Identify, identifyArguments, "/lookgate/identify \"circuit\" \"NAME\"; also zone, output, data-run, panel"},
	{"identify/zone/{zone}", zonePart, engine.Identify, identify(engine.ZonePart), "/lookgate/identify/zone/NAME"},
	{"identify/output/{output}", outputPart, engine.Identify, identify(engine.OutputPart), "/lookgate/identify/output/NAME"},
	{"identify/circuit/{circuit}", circuitPart, engine.Identify, identify(engine.CircuitPart), "/lookgate/identify/circuit/NAME"},
	{"identify/data-run/{run}", runPart, engine.Identify, identify(engine.RunPart), "/lookgate/identify/data-run/NAME"},
	{"prove/{circuit}", circuitPart, engine.Prove, prove, "/lookgate/prove/CIRCUIT \"who opened the breaker\""},
	{"prove/{circuit}/off", circuitPart, engine.Prove, unprove, "/lookgate/prove/CIRCUIT/off"},
	{"blackout", nothing, engine.Blackout, blackout, "/lookgate/blackout, with T, F or the name of a zone"},
}

// method is one address of the space: a route and what its placeholder is.
type method struct {
	route *route
	name  string
}

// resolve gives the methods that a message goes to. An address is looked up by
// its parts, so that a preset or zone which nobody has reaches the engine and is
// refused there by name; a pattern is held against what there is.
func resolve(p Pattern, view *engine.View) []method {
	if p.Literal() {
		return lookUp(strings.TrimPrefix(p.String(), Root+"/"))
	}
	var found []method
	parts := strings.Count(p.String(), "/")
	for i := range routes {
		r := &routes[i]
		if strings.Count(r.path, "/")+2 != parts {
			continue
		}
		for _, name := range namesOf(r.part, view) {
			address := Root + "/" + strings.Replace(r.path, string(r.part), name, 1)
			if p.Match(address) {
				found = append(found, method{r, name})
			}
		}
	}
	return found
}

// lookUp finds the one route of an address below Root.
func lookUp(path string) []method {
	for i := range routes {
		if name, ok := fits(routes[i].path, path); ok {
			return []method{{&routes[i], name}}
		}
	}
	return nil
}

// fits reports whether path is of the route's shape, and what its placeholder is.
func fits(shape, path string) (name string, ok bool) {
	for more := true; more; {
		var want, got string
		var also bool
		want, shape, more = strings.Cut(shape, "/")
		got, path, also = strings.Cut(path, "/")
		switch {
		case more != also:
			return "", false
		case strings.HasPrefix(want, "{"):
			name = got
		case want != got:
			return "", false
		}
	}
	return name, true
}

// namesOf lists what a placeholder can be now. A route without one has one name,
// the empty one.
func namesOf(part named, view *engine.View) []string {
	var names []string
	switch part {
	case nothing:
		return []string{""}
	case presetPart:
		for _, p := range view.Presets {
			names = append(names, strconv.Itoa(p.Number))
		}
	case zonePart:
		for _, z := range view.Zones {
			names = append(names, z.Name)
		}
	case circuitPart:
		for _, c := range view.Circuits {
			names = append(names, c.Name)
		}
	case outputPart:
		for _, o := range view.Outputs {
			names = append(names, o.Name)
		}
	}
	return names
}
