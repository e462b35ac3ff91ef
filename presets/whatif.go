package presets

import (
	"slices"

	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// WhatIf is the plant other than as built: a circuit that is out of service, a hot cabinet, a generator that sags. The zero value is the plant as built.
type WhatIf struct {
	Out    []int       // circuits whose breakers are open and locked: their panels are dark, and load nothing
	Derate units.Share // what part of its limit every breaker, main and neutral carries; cables keep their ratings; 0 stands for 1
	Supply units.Volts // under load, line to neutral, and line to line goes along in the same ratio; of a delta line to line; 0 leaves it
}

// Under gives the plan of the same rig and book under other conditions, and what to check its presets with. The plan itself stays as it is.
func (p *Plan) Under(w WhatIf) (*Plan, Conditions) {
	r := *p.Rig
	r.Circuits, r.Boards = slices.Clone(r.Circuits), slices.Clone(r.Boards)
	if w.Derate > 0 { // a breaker that carries less than its rating has no rest of it to lend
		derate(&r, w.Derate)
	}
	if w.Supply > 0 {
		r.Supply = under(r.Supply, w.Supply)
	}
	var c Conditions
	if len(w.Out) > 0 {
		c.LockedOff = make([]bool, len(r.Circuits))
		for _, i := range w.Out {
			c.LockedOff[i] = true
		}
	}
	return NewPlan(&r, p.Book), c
}

// derate takes a part of every limit that stands on a continuous factor, which is all but those of cables.
func derate(r *rig.Rig, part units.Share) {
	for i := range r.Circuits {
		r.Circuits[i].Factor *= part
		if part < 1 {
			r.Circuits[i].Above = nil
		}
	}
	for i := range r.Boards {
		r.Boards[i].Factor *= part
	}
	r.Supply.Factor *= part
}

// under gives a supply at another voltage.
func under(s rig.Supply, v units.Volts) rig.Supply {
	switch {
	case s.System == rig.Delta:
		s.LineLine = v
	case s.LineNeutral > 0:
		s.LineLine *= v / s.LineNeutral
		s.LineNeutral = v
	}
	return s
}
