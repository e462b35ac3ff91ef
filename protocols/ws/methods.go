package ws

import (
	"strings"

	"lookgate/presets/engine"
	"lookgate/protocols"
)

// turn is what becomes of one call: a command to put to the desk, a reload, or a result at once.
type turn struct {
	command *engine.Command
	reload  bool
	result  any
	err     error // of the arguments
}

// method reads one call's arguments and says what becomes of it.
type method func(params) turn

// reserved opens the names that JSON-RPC keeps for itself.
const reserved = "rpc."

// mostLines is how much of the record one call may ask for.
const mostLines = 1000

// look takes the method of a call, or fails it.
func (ms methods) look(c *call) turn {
	m, ok := ms[c.method]
	if !ok || strings.HasPrefix(c.method, reserved) {
		c.fault = &fault{methodNotFound, "there is no such method"}
		return turn{}
	}
	t := m(c.params)
	if t.err != nil {
		c.fault = &fault{invalidParams, t.err.Error()}
	}
	return t
}

// methods are what a client may call, by name.
type methods map[string]method

// newMethods gives the verbs of the desk and the questions to it.
func newMethods(desk protocols.Desk, plant func() any) methods {
	ms := methods{
		"recall":    preset(engine.Recall),
		"arm":       preset(engine.Arm),
		"go":        plain(engine.Go),
		"back":      plain(engine.Back),
		"worklight": plain(engine.Worklight),
		"level":     level,
		"zoneLevel": zoneLevel,
		"step":      step,
		"blackout":  blackout,
		"circuit":   circuit,
		"attest":    target(engine.Attest, "output"),
		"identify":  identify,
		"prove":     prove,
		"query":     query,
		"reload":    reload,
		"state":     now(func() any { return desk.View() }),
		"record":    record(desk),
	}
	if plant != nil {
		ms["plant"] = now(plant)
	}
	return ms
}

// preset reads {preset: number} or {name: text}, and a scale; by position the first may be either.
func preset(v engine.Verb) method {
	return func(p params) turn {
		a, err := p.bind("preset", "name", "scale")
		if len(p.list) > 0 {
			a, err = p.bind("preset", "scale")
		}
		if err == nil && p.list != nil && a.isText("preset") {
			a["name"] = a["preset"]
			delete(a, "preset")
		}
		c := engine.Command{Verb: v, HasLevel: a.has("scale")}
		r := reader{a, err}
		if a.has("preset") && a.has("name") {
			r.wrong("name", "not given beside preset: one of them says which")
		}
		if a.has("name") {
			r.needed("name", "the preset's name", &c.Target)
		} else {
			r.needed("preset", "the preset's number", &c.Preset)
		}
		r.optional("scale", "a number from 0 to 1", &c.Level)
		return order(c, r.err)
	}
}

func plain(v engine.Verb) method {
	return func(p params) turn {
		_, err := p.bind()
		return order(engine.Command{Verb: v}, err)
	}
}

func level(p params) turn {
	a, err := p.bind("level")
	c := engine.Command{Verb: engine.Level, HasLevel: true}
	r := reader{a, err}
	r.needed("level", "a number from 0 to 1", &c.Level)
	return order(c, r.err)
}

func zoneLevel(p params) turn {
	a, err := p.bind("zone", "level")
	c := engine.Command{Verb: engine.ZoneLevel, HasLevel: true}
	r := reader{a, err}
	r.needed("zone", "a zone's name", &c.Target)
	r.needed("level", "a number from 0 to 1", &c.Level)
	return order(c, r.err)
}

func step(p params) turn {
	a, err := p.bind("stops")
	c := engine.Command{Verb: engine.StepBy}
	r := reader{a, err}
	r.needed("stops", "a number, below 0 for darker", &c.Stops)
	return order(c, r.err)
}

func blackout(p params) turn {
	a, err := p.bind("zone", "off")
	c := engine.Command{Verb: engine.Blackout}
	r := reader{a, err}
	r.optional("zone", "a zone's name", &c.Target)
	r.optional("off", "true to let go, else false", &c.Off)
	return order(c, r.err)
}

// services are the states that a person may put a circuit in.
var services = map[string]engine.Verb{"in": engine.CircuitIn, "out": engine.CircuitOut, "locked-off": engine.LockedOff}

func circuit(p params) turn {
	a, err := p.bind("name", "state")
	var c engine.Command
	var state string
	r := reader{a, err}
	r.needed("name", "a circuit's name", &c.Target)
	r.needed("state", "in, out or locked-off", &state)
	if c.Verb = services[state]; c.Verb == "" {
		r.wrong("state", "in, out or locked-off")
	}
	return order(c, r.err)
}

func target(v engine.Verb, name string) method {
	return func(p params) turn {
		a, err := p.bind(name)
		c := engine.Command{Verb: v}
		r := reader{a, err}
		r.needed(name, "its name", &c.Target)
		return order(c, r.err)
	}
}

func identify(p params) turn {
	a, err := p.bind("part", "name")
	c := engine.Command{Verb: engine.Identify}
	r := reader{a, err}
	r.needed("part", "zone, output, circuit, data-run or panel", &c.Part)
	r.needed("name", "its name", &c.Target)
	return order(c, r.err)
}

func prove(p params) turn {
	a, err := p.bind("circuit", "by", "off")
	c := engine.Command{Verb: engine.Prove}
	r := reader{a, err}
	r.needed("circuit", "a circuit's name", &c.Target)
	r.optional("by", "the name of who opened the breaker", &c.By)
	r.optional("off", "true to take it back, else false", &c.Off)
	return order(c, r.err)
}

func query(p params) turn {
	a, err := p.bind("target")
	c := engine.Command{Verb: engine.Query}
	r := reader{a, err}
	r.optional("target", "a name", &c.Target)
	return order(c, r.err)
}

func reload(p params) turn {
	_, err := p.bind()
	return turn{reload: err == nil, err: err}
}

func now(f func() any) method {
	return func(p params) turn {
		if _, err := p.bind(); err != nil {
			return turn{err: err}
		}
		return turn{result: f()}
	}
}

func record(desk protocols.Desk) method {
	return func(p params) turn {
		a, err := p.bind("n")
		n := uint16(20)
		r := reader{a, err}
		r.optional("n", "a whole number from 0 to 1000", &n)
		if n > mostLines {
			r.wrong("n", "a whole number from 0 to 1000")
		}
		if r.err != nil {
			return turn{err: r.err}
		}
		return turn{result: append([]protocols.Line{}, desk.Record(int(n))...)}
	}
}

func order(c engine.Command, err error) turn {
	if err != nil {
		return turn{err: err}
	}
	return turn{command: &c}
}
