package engine

import (
	"fmt"

	"lookgate/presets/finding"
	"lookgate/presets/units"
)

// circuit takes what a person says of a breaker. Putting one back in counts its load from this moment, and is answered once that is on disk; until then the
// person leaves it open. An open breaker that is not locked off may be closed by anyone and counts as if it were in.
func (e *Engine) circuit(c Command) {
	i := -1
	for k := range e.plan.Rig.Circuits {
		if e.plan.Rig.Circuits[k].Name == c.Target {
			i = k
		}
	}
	if i < 0 {
		e.refuse(c, unknown(finding.UnknownCircuit, "circuit", c.Target))
		return
	}
	want := map[Verb]Service{CircuitOut: Out, CircuitIn: In, LockedOff: Locked}[c.Verb]
	if e.services[i] == want {
		e.refuse(c, finding.New(finding.NotLockedOff, finding.Place{Kind: "circuit", Name: c.Target}, fmt.Sprintf("is %v already", want)))
		return
	}
	was := e.services[i]
	e.setService(i, want)
	if was == Locked && !e.set.Watch {
		if fs := e.returnOver(); len(fs) > 0 {
			e.setService(i, was)
			e.refuse(c, fs...)
			return
		}
	}
	e.gateService(c)
}

// returnOver gives the findings against a circuit that would count again: under what may be on the wall, and under the caps that the look may be levelled to.
func (e *Engine) returnOver() []finding.Finding {
	with, without := e.highs()
	for o := range e.outs {
		with[o], without[o] = max(with[o], e.wanted.Caps[o]), max(without[o], e.wanted.Caps[o])
	}
	var fs []finding.Finding
	for c := range e.conductors {
		if w := e.worst(c, with, without); !e.fits(c, w) {
			fs = append(fs, e.overFinding(c, w))
		}
	}
	return fs
}

// overFinding words a conductor that would be over.
func (e *Engine) overFinding(c int, w units.Amps) finding.Finding {
	k := e.conductors[c]
	f := finding.New(e.codeOf(c), finding.Place{Kind: k.Kind.String(), Name: k.Name}, fmt.Sprintf("would carry up to %v of %v (%s)", w, k.Limit, k.By))
	f.Computed, f.Limit = units.InAmps(w), units.InAmps(k.Limit)
	f.Remedies = []finding.Remedy{{When: finding.Now, Words: "black out or lower the wall first, then say it again", Do: &finding.Do{Verb: string(Blackout)}}}
	return f
}

// attest takes an engineer's word that an output is dark, until a report says what it is.
func (e *Engine) attest(c Command) {
	if !c.Engineer {
		e.refuse(c, finding.New(finding.EngineerOnly, verbPlace(c), "only an engineer's station may say that an output is dark"))
		return
	}
	for i := range e.outs {
		if e.name(i) != c.Target {
			continue
		}
		o := &e.outs[i]
		o.black.base, o.level.base = []bool{true}, []units.Level{0, 1}
		o.attested, o.driven, o.dark, o.loose = true, false, true, o.flying()
		o.stop()
		e.done(c, nil)
		return
	}
	e.refuse(c, unknown(finding.UnknownOutput, "output", c.Target))
}
