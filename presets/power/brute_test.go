package power_test

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/rig/rigtest"
	"lookgate/presets/units"
)

// item is one thing that draws: all panels of one type in one circuit, or one other load. The slow way looks at every combination of items on and off.
type item struct {
	circuit, board int // circuit -1 for other loads
	legs           []int
	amps           float64
	lag, spread    float64 // radians
	third          float64
}

// itemsOf is the plain reading of a rig, panel by panel.
func itemsOf(r *rig.Rig, s power.State) []item {
	var items []item
	for i, c := range r.Circuits {
		if s.LockedOff != nil && s.LockedOff[i] {
			continue
		}
		for t, pt := range r.PanelTypes {
			it := item{circuit: i, board: c.Board, legs: r.Legs(c), third: float64(pt.Third)}
			it.lag, it.spread = bearing(pt.Displacement, pt.DisplacementKnown, pt.PF)
			for _, p := range c.Panels {
				if r.Panels[p].Type == t {
					it.amps += float64(pt.Watts(levelOf(r, p, s))) / (float64(r.Supply.Volts(len(c.Poles))) * float64(pt.PF))
				}
			}
			if it.amps > 0 {
				items = append(items, it)
			}
		}
	}
	for _, l := range r.Loads {
		it := item{circuit: -1, board: l.Board, legs: l.Legs, amps: float64(l.Current), third: float64(l.Third)}
		it.lag, it.spread = bearing(l.Displacement, l.DisplacementKnown, l.PF)
		items = append(items, it)
	}
	return items
}

func bearing(d units.Degrees, known bool, pf units.Share) (lag, spread float64) {
	if known {
		return float64(d) * math.Pi / 180, 0
	}
	return 0, math.Acos(float64(pf))
}

func levelOf(r *rig.Rig, panel int, s power.State) units.Level {
	for o, out := range r.Outputs {
		for _, p := range out.Panels {
			if p == panel {
				return s.Levels[o]
			}
		}
	}
	return 1
}

func voltage(s rig.System, leg int) complex128 {
	if s == rig.SplitPhase {
		return []complex128{1, -1}[leg]
	}
	return cmplx.Rect(1, []float64{0, -2 * math.Pi / 3, 2 * math.Pi / 3}[leg])
}

// share is what an item puts on a conductor: direction of its fundamental before lag (nothing where it is not on it at all), and the third harmonic.
func (it item) share(r *rig.Rig, c rig.Conductor) (on bool, direction complex128, third float64) {
	s := r.Supply.System
	switch {
	case c.Circuit >= 0:
		return it.circuit == c.Circuit, 1, 0
	case c.Board >= 0 && c.Board != it.board:
		return false, 0, 0
	case c.Leg < 0:
		return it.shareOfNeutral(s)
	}
	for i, l := range it.legs {
		if l != c.Leg {
			continue
		}
		if len(it.legs) == 2 && s != rig.SinglePhase {
			v := voltage(s, l) - voltage(s, it.legs[1-i])
			return true, v / complex(cmplx.Abs(v), 0), 0
		}
		return true, voltage(s, l), 0
	}
	return false, 0, 0
}

func (it item) shareOfNeutral(s rig.System) (bool, complex128, float64) {
	switch {
	case s == rig.SinglePhase:
		return true, 1, 0
	case len(it.legs) == 3:
		return it.third > 0, 0, 3 * it.third
	case len(it.legs) == 2:
		return false, 0, 0
	}
	sign := 1.0
	if s == rig.SplitPhase {
		sign = real(voltage(s, it.legs[0]))
	}
	return true, voltage(s, it.legs[0]), sign * it.third
}

// looks is how many directions the slow way looks from where a displacement is unknown.
const looks = 180

// part is an item on one conductor.
type part struct {
	item
	direction complex128
	thirds    float64
	reach     [looks]float64
}

func partsOf(r *rig.Rig, items []item, c rig.Conductor) (parts []part, blurred bool) {
	for _, it := range items {
		on, d, third := it.share(r, c)
		if !on {
			continue
		}
		p := part{item: it, direction: d * cmplx.Rect(1, -it.lag), thirds: third}
		for i := range p.reach {
			off := math.Abs(math.Remainder(float64(i)*2*math.Pi/looks-cmplx.Phase(p.direction), 2*math.Pi))
			p.reach[i] = cmplx.Abs(d) * math.Cos(max(0, off-it.spread))
		}
		blurred = blurred || it.spread > 0
		parts = append(parts, p)
	}
	return parts, blurred
}

// size gives the current of the parts whose bits are set. Where directions are unknown it is short of the worst by at most 1 - cos(1°).
func size(parts []part, set int, blurred bool, s rig.System) float64 {
	var sum complex128
	var reach [looks]float64
	thirds := map[wave]float64{}
	for i, p := range parts {
		if set>>i&1 == 0 {
			continue
		}
		sum += complex(p.amps, 0) * p.direction
		thirds[p.form(s)] += p.amps * p.thirds
		for k := range reach {
			reach[k] += p.amps * p.reach[k]
		}
	}
	f := cmplx.Abs(sum)
	if blurred {
		for _, v := range reach {
			f = max(f, v)
		}
	}
	var third float64
	for _, v := range thirds {
		third += math.Abs(v)
	}
	return math.Hypot(f, third)
}

// wave tells loads that are alike: on a split-phase supply only their third harmonics cancel.
type wave struct{ lag, spread, third float64 }

func (p part) form(s rig.System) wave {
	if s != rig.SplitPhase {
		return wave{}
	}
	return wave{p.lag, p.spread, p.third}
}

func slowWorst(parts []part, blurred bool, s rig.System) float64 {
	var best float64
	for set := range 1 << len(parts) {
		best = max(best, size(parts, set, blurred, s))
	}
	return best
}

// kinds counts the different kinds of line-to-neutral load, which decide whether a neutral is exact.
func kinds(r *rig.Rig, items []item, c rig.Conductor) int {
	seen := map[any]bool{}
	parts, _ := partsOf(r, items, c)
	for _, p := range parts {
		if len(p.legs) == 1 {
			seen[[2]any{p.legs[0], wave{p.lag, p.spread, p.third}}] = true
		}
	}
	return len(seen)
}

func full(r *rig.Rig) []units.Level {
	levels := make([]units.Level, len(r.Outputs))
	for i := range levels {
		levels[i] = 1
	}
	return levels
}

func randomState(rng *rand.Rand, r *rig.Rig) power.State {
	s := power.State{Levels: make([]units.Level, len(r.Outputs)), LockedOff: make([]bool, len(r.Circuits))}
	for i := range s.Levels {
		s.Levels[i] = units.Level(rng.IntN(5)) / 4
	}
	for i := range s.LockedOff {
		s.LockedOff[i] = rng.IntN(6) == 0
	}
	return s
}

// TestWorstAgreesWithEveryCombination holds the solver against the slow way on random rigs of all systems, and counts what it compared.
func TestWorstAgreesWithEveryCombination(t *testing.T) {
	const short = 1 - 1.6e-4 // of the slow way where it looks from every second degree only
	var exact, blurry, bounded int
	for seed := range uint64(2500) {
		rng := rand.New(rand.NewPCG(seed, 2))
		r := rigtest.Random(rng, 1+rng.IntN(4))
		m, s := power.New(r), randomState(rng, r)
		items, worst, at := itemsOf(r, s), m.Worst(s, nil), m.At(s, nil)
		all := itemsOf(r, power.State{Levels: full(r)})
		for i, c := range m.Conductors() {
			parts, blurred := partsOf(r, items, c)
			slow, now := slowWorst(parts, blurred, r.Supply.System), size(parts, 1<<len(parts)-1, blurred, r.Supply.System)
			fast, point := float64(worst[i]), float64(at[i])
			require.GreaterOrEqual(t, fast*(1+1e-9)+1e-9, slow, "seed %d, %s %s", seed, r.Supply.System, c.Name)
			require.GreaterOrEqual(t, point*(1+1e-9)+1e-9, now, "seed %d, at, %s %s", seed, r.Supply.System, c.Name)
			require.GreaterOrEqual(t, fast*(1+1e-12), point, "seed %d, %s %s", seed, r.Supply.System, c.Name)
			require.Equal(t, worst[i], m.WorstOf(i, s), "seed %d, %s", seed, c.Name)
			switch {
			case !blurred:
				exact++
				require.InDelta(t, slow, fast, 1e-9, "seed %d, %s %s", seed, r.Supply.System, c.Name)
				require.InDelta(t, now, point, 1e-9, "seed %d, at, %s %s", seed, r.Supply.System, c.Name)
			case c.Leg < 0 && c.Circuit < 0 && kinds(r, all, c) > 6:
				bounded++
			default:
				blurry++
				require.LessOrEqual(t, fast*short, slow+1e-9, "seed %d, %s %s", seed, r.Supply.System, c.Name)
				require.LessOrEqual(t, point*short, now+1e-9, "seed %d, at, %s %s", seed, r.Supply.System, c.Name)
			}
		}
	}
	t.Logf("conductors compared: %d exactly, %d with unknown displacements, %d as bounds", exact, blurry, bounded)
	require.Greater(t, exact, 8000)
	require.Greater(t, blurry, 3000)
	require.GreaterOrEqual(t, bounded, 10)
}

// TestNothingThatCanBeIsAboveWorst draws states from the box: levels, circuits and panels off, displacements anywhere in their range.
func TestNothingThatCanBeIsAboveWorst(t *testing.T) {
	for seed := range uint64(250) {
		rng := rand.New(rand.NewPCG(seed, 3))
		r := rigtest.Random(rng, 1+rng.IntN(9))
		m, s := power.New(r), randomState(rng, r)
		worst := m.Worst(s, nil)
		for range 8 {
			sub := power.State{Levels: make([]units.Level, len(s.Levels)), LockedOff: make([]bool, len(s.LockedOff))}
			for o := range sub.Levels {
				sub.Levels[o] = s.Levels[o] * units.Level(rng.Float64())
			}
			for i := range sub.LockedOff {
				sub.LockedOff[i] = s.LockedOff[i] || rng.IntN(4) == 0
			}
			items := itemsOf(r, sub)
			for i := range items {
				items[i].lag += items[i].spread * (2*rng.Float64() - 1)
				items[i].spread = 0
				items[i].amps *= float64(rng.IntN(5)) / 4
			}
			for i, w := range m.At(sub, nil) {
				require.LessOrEqual(t, float64(w), float64(worst[i])*(1+1e-9), "seed %d, %s", seed, m.Conductors()[i].Name)
			}
			for i, c := range m.Conductors() {
				parts, _ := partsOf(r, items, c)
				require.LessOrEqual(t, signed(parts), float64(worst[i])*(1+1e-9)+1e-9, "seed %d, %s", seed, c.Name)
			}
		}
	}
}

// signed gives the current with all third harmonics in step.
func signed(parts []part) float64 {
	var sum complex128
	var third float64
	for _, p := range parts {
		sum += complex(p.amps, 0) * p.direction
		third += p.amps * p.thirds
	}
	return math.Hypot(cmplx.Abs(sum), third)
}
