package engine

import (
	"fmt"

	"lookgate/presets"
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
			e.wayBack(fs)
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
			fs = append(fs, e.overFinding(c, w, e.limits[c]))
		}
	}
	return fs
}

// overFinding words a conductor that would be over.
func (e *Engine) overFinding(c int, w, limit units.Amps) finding.Finding {
	f := finding.New(e.codeOf(c), e.placeOf(c), fmt.Sprintf("would carry up to %v of %v (%s)", w, limit, e.by(c, limit)))
	f.Computed, f.Limit = units.InAmps(w), units.InAmps(limit)
	return f
}

// wayBack adds what would let the circuit come back: the look that is on, recalled as bright as it passes with the circuit counted, which its own check has proved. Under
// that the circuit's load has its room. Without a look on, nothing can be levelled up again, and a black wall is enough.
func (e *Engine) wayBack(fs []finding.Finding) {
	way := finding.Remedy{When: finding.Now, Words: "black the wall out, then say it again", Do: &finding.Do{Verb: string(Blackout)}}
	if p := e.plan.Book.ByNumber(e.wanted.Preset); p != nil {
		way = finding.Remedy{When: finding.Later, Words: "recall a darker preset first, then say it again"}
		for _, r := range remedies(presets.Check(e.plan, p, e.conditions(0))) {
			if r.Do != nil && r.Do.Verb == string(Recall) {
				way = finding.Remedy{When: finding.Now, Words: r.Words + " first, then say it again", Do: r.Do}
				break
			}
		}
	}
	for i := range fs {
		fs[i].Remedies = append(fs[i].Remedies, way)
	}
}

func remedies(v presets.Verdict) []finding.Remedy {
	var all []finding.Remedy
	for _, f := range v.Findings {
		all = append(all, f.Remedies...)
	}
	return all
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
