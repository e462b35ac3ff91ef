package trial

import (
	"math/rand/v2"
	"time"

	"lookgate/presets"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// above lets the circuits of one in so many stages be above their continuous limits for a while, and adds looks that use it. They light the panels of one circuit and little
// else, so that it is the circuit that binds. It draws from numbers of its own: the other stages stay what they are.
func (s *stage) above(seed uint64, in int, b *presets.Book) {
	s.rng = rand.New(rand.NewPCG(seed, 5))
	if s.rng.IntN(in) > 0 {
		return
	}
	longest := time.Duration(s.between(9, 14)) * time.Second
	for c := range s.rig.Circuits {
		if s.rng.IntN(5) == 0 {
			continue
		}
		s.rig.Circuits[c].Above = &rig.AboveContinuous{For: longest, Rest: time.Duration(s.between(5, 9)) * time.Second}
	}
	for i := range 3 {
		p := s.overPreset(500 + 10*i)
		p.NoDip = false
		p.Above = longest
		if i > 0 {
			p.Above = longest * time.Duration(s.between(6, 10)) / 10
		}
		b.Presets = append(b.Presets, p)
	}
}

// overPreset draws a look that takes a circuit above its continuous limit, where a few draws find one.
func (s *stage) overPreset(number int) presets.Preset {
	var p presets.Preset
	for range 8 {
		lit := s.lights(s.rng.IntN(len(s.rig.Circuits)))
		p = s.preset(number, func(o int) float64 {
			if lit[o] {
				return 1
			}
			return s.share(0, 0.1)
		}, s.share(0.88, 0.97))
		amps := s.would(func(o int) units.Level { return p.Zones[o].Level })
		for i, c := range s.rig.Conductors() {
			if ratingOf(s.rig, c) > c.Limit && amps[i] > c.Limit {
				return p
			}
		}
	}
	return p
}

// lights gives the outputs that have panels of a circuit.
func (s *stage) lights(circuit int) []bool {
	lit := make([]bool, len(s.rig.Outputs))
	for o, out := range s.rig.Outputs {
		for _, panel := range out.Panels {
			for _, p := range s.rig.Circuits[circuit].Panels {
				lit[o] = lit[o] || p == panel
			}
		}
	}
	return lit
}
