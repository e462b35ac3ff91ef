package power

import (
	"slices"

	"lookgate/presets/units"
)

// Alone stands in the groups of [Model.Fair] for an output that keeps its level.
const Alone = -1

// Fair is what came of sharing out what the plant carries.
type Fair struct {
	Levels []units.Level // per output
	Held   []bool        // per group: it has less than what is wanted
	Least  int           // steps of the first group that was held
	Next   []units.Level // levels at which that was found: one step further for it, and they do not pass; nil where nothing is held
	None   bool          // not even with every group dark do the others pass
}

// Fair gives every group of outputs the highest level that passes, max-min fair: all rise together until one cannot rise any more; that one stays and the others go
// on. So no group could get more but from one that has no more than it. Outputs of a group share one level, none above its wanted one, each rounded down to its
// device's steps: what people level together must not show where one device's panels end. Groups says for every output to which it belongs, or [Alone]. Passes is
// asked about levels for all outputs and must not turn from no to yes as any of them rises. Levels stand on the steps of the finest device.
func (m *Model) Fair(levels, wanted []units.Level, groups []int, passes func([]units.Level) bool) Fair {
	s := sharing{m: m, wanted: wanted, groups: groups, passes: passes, steps: m.finest(groups), levels: slices.Clone(levels)}
	n := 0
	for _, g := range groups {
		n = max(n, g+1)
	}
	s.at, s.rising = make([]int, n), make([]bool, n)
	f := Fair{Held: make([]bool, n)}
	for g := range n {
		s.rising[g] = true
		s.set(g, 0)
	}
	if !passes(s.levels) {
		f.None, f.Levels = true, s.levels
		f.Next = slices.Clone(s.levels)
		return f
	}
	for common := 0; slices.Contains(s.rising, true); {
		common = s.together(common)
		s.settleAt(common, &f)
	}
	f.Levels = s.levels
	return f
}

// sharing is one sharing out under way.
type sharing struct {
	m      *Model
	wanted []units.Level
	groups []int
	passes func([]units.Level) bool
	steps  int
	levels []units.Level
	at     []int // per group, its steps
	rising []bool
}

// set puts a group's outputs at so many steps, none above what is wanted.
func (s *sharing) set(group, k int) {
	s.at[group] = k
	for o, g := range s.groups {
		if g == group {
			s.levels[o] = s.m.hold(o, min(s.wanted[o], units.Level(float64(k)/float64(s.steps))))
		}
	}
}

// together takes all that still rise as far up as passes, and gives how far.
func (s *sharing) together(from int) int {
	pass, fail := from, s.steps+1
	for fail-pass > 1 {
		k := pass + (fail-pass)/2
		if s.setRising(k); s.passes(s.levels) {
			pass = k
		} else {
			fail = k
		}
	}
	s.setRising(pass)
	return pass
}

func (s *sharing) setRising(k int) {
	for g, rises := range s.rising {
		if rises {
			s.set(g, k)
		}
	}
}

// settleAt leaves those of the rising groups behind that have what is wanted, or cannot go one step further by themselves.
func (s *sharing) settleAt(common int, f *Fair) {
	left := false
	for g, rises := range s.rising {
		if !rises {
			continue
		}
		if common == s.steps {
			s.rising[g] = false
			continue
		}
		s.set(g, common+1)
		passes := s.passes(s.levels)
		if !passes {
			f.note(s.levels, common)
		}
		if s.set(g, common); !passes {
			s.rising[g], f.Held[g], left = false, s.below(g, common), true
		}
	}
	if !left && common < s.steps {
		s.dispute(common, f)
	}
}

// note keeps the first levels that were found not to pass.
func (f *Fair) note(levels []units.Level, common int) {
	if f.Next == nil {
		f.Next, f.Least = slices.Clone(levels), common
	}
}

// dispute settles what several groups could have and not all of them: the one stays behind whose staying takes the others furthest, of equal ones the last.
func (s *sharing) dispute(common int, f *Fair) {
	s.setRising(common + 1)
	f.note(s.levels, common)
	stays, furthest := -1, -1
	for g, rises := range s.rising {
		if !rises {
			continue
		}
		s.rising[g] = false
		s.set(g, common)
		if k := s.together(common); k >= furthest {
			stays, furthest = g, k
		}
		s.rising[g] = true
		s.setRising(common)
	}
	s.rising[stays], f.Held[stays] = false, s.below(stays, common)
}

// below reports whether some output of a group has less than what is wanted of it.
func (s *sharing) below(group, k int) bool {
	for o, g := range s.groups {
		if g == group && s.m.hold(o, s.wanted[o]) > s.levels[o] {
			return true
		}
	}
	return false
}

// finest gives the steps of the finest device among the groups' outputs.
func (m *Model) finest(groups []int) int {
	steps := 0
	for o, out := range m.rig.Outputs {
		if groups[o] != Alone {
			steps = max(steps, m.rig.Devices[out.Device].Steps)
		}
	}
	if steps == 0 {
		return finestStep
	}
	return steps
}
