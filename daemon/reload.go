package daemon

import (
	"fmt"
	"slices"

	"lookgate/presets"
	"lookgate/presets/engine"
	"lookgate/presets/rig"
)

// maxRereads bounds how many reloads wait for the site to be read: each has its own answer.
const maxRereads = 32

// reload has the site read, in a goroutine of its own; one reading at a time.
func (l *loop) reload(e entry) {
	c := e.input.(engine.Command)
	if len(l.rereads) == maxRereads {
		a := apologise(c, false)
		l.chronicle.command(e.at, c, []engine.Answer{*a})
		l.say(e.tell, a, nil)
		return
	}
	l.rereads = append(l.rereads, e)
	l.reread()
}

func (l *loop) reread() {
	if l.reading || len(l.rereads) == 0 {
		return
	}
	l.reading = true
	read, b, running := l.daemon.options.ReadSite, l.inbox, l.daemon.Rig()
	go func() {
		in := engine.Reload{Problems: []string{"this daemon cannot read a site again\nstart it again instead"}}
		if read != nil {
			in = readSite(read, running)
		}
		b.push(entry{errand: site, input: in})
	}()
}

// readSite reads the site and looks whether the wires that were made at the start still fit. A reader that panics is a site that cannot be read.
func readSite(read func() (*presets.Plan, []string), running *rig.Rig) (in engine.Reload) {
	defer func() {
		if fault := recover(); fault != nil {
			in = engine.Reload{Problems: []string{fmt.Sprintf("the site could not be read: %v", fault)}}
		}
	}()
	in.Plan, in.Problems = read()
	if len(in.Problems) > 0 || in.Plan == nil {
		if in.Plan = nil; len(in.Problems) == 0 {
			in.Problems = []string{"the site could not be read"}
		}
		return in
	}
	if in.Problems = rewired(running, in.Plan.Rig); len(in.Problems) > 0 {
		in.Plan = nil
	}
	return in
}

// rewired names the outputs whose wires are others in the edited rig: devices were told at the start which outputs they have, and in which order.
func rewired(running, edited *rig.Rig) []string {
	same := func(a, b rig.Output) bool { return a.Name == b.Name && a.Device == b.Device && a.Address == b.Address }
	if slices.EqualFunc(running.Outputs, edited.Outputs, same) {
		return nil
	}
	if len(running.Outputs) != len(edited.Outputs) {
		return []string{fmt.Sprintf("the edited site has %d outputs, the running one %d; start lookgate again to take other outputs", len(edited.Outputs), len(running.Outputs))}
	}
	var out []string
	for i, o := range running.Outputs {
		if e := edited.Outputs[i]; !same(o, e) {
			out = append(out, fmt.Sprintf("output %d is %s on another wire in the edited site, and %s in the running one; start lookgate again to take other outputs", i+1, e.Name, o.Name))
		}
	}
	return out
}

// reloaded puts what was read to the engine, for the reload that has waited longest.
func (l *loop) reloaded(at engine.Instant, in engine.Reload) {
	l.reading = false
	if len(l.rereads) == 0 {
		return
	}
	e := l.rereads[0]
	l.rereads = l.rereads[1:]
	in.Command, in.Settings = e.input.(engine.Command), l.daemon.options.Settings
	l.asked[in.Command.ID] = e.tell
	l.step(at, in)
	l.reread()
}

// adopt takes over the edited plan where the engine has, before anybody is told.
func (l *loop) adopt(in engine.Input, res *engine.Result) {
	r, ok := in.(engine.Reload)
	if !ok || r.Plan == nil {
		return
	}
	for _, a := range res.Answers {
		if a.ID == r.Command.ID && a.Status == engine.Accepted {
			l.daemon.plan.Store(r.Plan)
			l.chronicle.plan = r.Plan
		}
	}
}
