package power

import (
	"math"
	"slices"

	"lookgate/presets/units"
)

// Cap is how high something may go, and what stops it.
type Cap struct {
	Scale   units.Share // Steps as a share of the steps that were asked about; may be above 1
	Steps   int         // highest whole number of steps that passes; 0 also where none does
	Binding int         // the conductor that is the first to be over one step higher; -1 where nothing binds
	None    bool        // not even all black passes: Binding is over by what moves nowhere
}

// Cap gives the highest k/steps such that the moving outputs at ratios × k/steps (at most 1, rounded down to their devices' steps) and the others
// at their levels in s pass on every conductor. It looks up to where every moving output is at 1 or has the ratio 0; Binding is -1 where all
// of that passes. The worst current is monotone in the levels, so the search is a bisection over whole steps, and exact.
func (m *Model) Cap(s State, ratios []units.Level, moving []bool, steps int) Cap {
	f := m.search(s)
	return f.highest(topStep(ratios, moving, steps), steps, func(o, k int) units.Level {
		if !moving[o] {
			return s.Levels[o]
		}
		return m.hold(o, min(1, units.Level(float64(ratios[o])*float64(k)/float64(steps))))
	})
}

// farthest bounds how many times over a scale is looked for: a ratio below a millionth is black for any device.
const farthest = 1_000_000

// topStep gives the lowest k at which every moving output that moves at all is at 1.
func topStep(ratios []units.Level, moving []bool, steps int) int {
	top := 1.0
	for o, r := range ratios {
		if moving[o] && r > 0 {
			top = max(top, min(farthest, 1/float64(r)))
		}
	}
	return int(math.Ceil(top*float64(steps) - 1e-6))
}

// hold gives the level that an output's device can hold: rounded down to its steps.
func (m *Model) hold(output int, l units.Level) units.Level {
	return l.Down(m.rig.Devices[m.rig.Outputs[output].Device].Steps)
}

// finestStep is used where no device of the automatic outputs says its steps: sixteen bits.
const finestStep = 65535

// finder bisects over whole steps, with its own levels and room.
type finder struct {
	m      *Model
	given  State
	state  State
	levels []units.Level
	worst  []units.Amps
}

func (m *Model) search(s State) *finder {
	f := &finder{m: m, given: s, state: s, levels: slices.Clone(s.Levels), worst: make([]units.Amps, len(m.conductors))}
	f.state.Levels = f.levels
	return f
}

// highest gives the highest k up to top whose levels pass, and leaves those levels in f.
func (f *finder) highest(top, steps int, level func(o, k int) units.Level) Cap {
	if f.set(top, level); f.passes() {
		return Cap{Scale: units.Share(float64(top) / float64(steps)), Steps: top, Binding: -1}
	}
	pass, fail := -1, top
	for fail-pass > 1 {
		k := pass + (fail-pass)/2
		if f.set(k, level); f.passes() {
			pass = k
		} else {
			fail = k
		}
	}
	f.set(fail, level)
	c := Cap{Binding: f.tightest(), None: pass < 0}
	c.Steps = max(0, pass)
	c.Scale = units.Share(float64(c.Steps) / float64(steps))
	f.set(c.Steps, level)
	return c
}

func (f *finder) set(k int, level func(o, k int) units.Level) {
	for o := range f.levels {
		f.levels[o] = level(o, k)
	}
}

func (f *finder) passes() bool {
	f.worst = f.m.Worst(f.state, f.worst)
	for i, w := range f.worst {
		if !f.m.within(i, w, f.state) {
			return false
		}
	}
	return true
}

// tightest gives the conductor that is the most over its limit, as a share of it.
func (f *finder) tightest() int {
	f.worst = f.m.Worst(f.state, f.worst)
	at, most := -1, 0.0
	for i, w := range f.worst {
		if over := float64(w) / float64(f.m.conductors[i].Limit); !f.m.within(i, w, f.state) && (at < 0 || over > most) {
			at, most = i, over
		}
	}
	return at
}
