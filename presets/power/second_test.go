package power_test

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	judge "lookgate/presets/plant"
	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/rig/rigtest"
	"lookgate/presets/units"
)

// secondPlants is how many random plants the second implementations are held against: a tenth of it under the race detector, which finds nothing in code without a
// goroutine and makes it many times as slow.
func secondPlants() uint64 {
	if raced {
		return 1000
	}
	return 10_000
}

// wired draws a small plant with cables, trees and deltas, of which every displacement is known.
func wired(seed uint64, circuits int) (*rig.Rig, *rand.Rand) {
	rng := rand.New(rand.NewPCG(seed, 41))
	r := rigtest.RandomWired(rng, 1+rng.IntN(circuits))
	for i := range r.PanelTypes {
		r.PanelTypes[i].DisplacementKnown = true
	}
	for i := range r.Loads {
		r.Loads[i].DisplacementKnown = true
	}
	return r, rng
}

// TestFlowAgreesWithTheJudge holds Flow against presets/plant, which computes every current from the voltage that stands there and every voltage from the currents, again
// and again, panel by panel, and shares no line with it.
func TestFlowAgreesWithTheJudge(t *testing.T) {
	compared, furthest := 0, 0.0
	for seed := range secondPlants() {
		r, rng := wired(seed, 8)
		if r.Supply.System == rig.SplitPhase { // whose third harmonics cancel as far as loads are alike: the judge takes them to, the model does not
			for i := range r.PanelTypes {
				r.PanelTypes[i].Third = 0
			}
			for i := range r.Loads {
				r.Loads[i].Third = 0
			}
		}
		s := power.State{Levels: make([]units.Level, len(r.Outputs))}
		for o := range s.Levels {
			s.Levels[o] = units.Level(rng.Float64())
		}
		m := power.New(r)
		if !m.Drops() {
			continue // without cables the judge takes each load at its own figure of the supply's two rounded ones
		}
		var f power.Flow
		m.Flow(s, &f)
		require.Empty(t, f.Collapsed, "seed %d", seed)
		for i, want := range judge.New(r, judge.Habits{}, rng).Would(nil, s.Levels) {
			compared++
			off := math.Abs(float64(want-f.Amps[i])) / max(float64(want), 10) // a neutral is a small difference of large currents
			furthest = max(furthest, off)
			require.Less(t, off, 2.7e-5, "seed %d, %v %s: %v against %v", seed, m.Conductors()[i].Kind, m.Conductors()[i].Name, want, f.Amps[i])
		}
	}
	t.Logf("%d conductors, furthest apart %.1e", compared, furthest)
}

// slowPlant works out the lowest voltages and the turns by their definition, the plain way: everything from everything, until nothing moves.
type slowPlant struct {
	r       *rig.Rig
	neutral [][3]float64 // per board, from each leg
	next    [][3]float64
	angle   [][2]float64 // per board, how far its voltages may be turned
	volts   []float64    // per panel
	chain   [][2]float64 // per circuit, how far its last panel may be turned
}

func newSlowPlant(r *rig.Rig) *slowPlant {
	p := &slowPlant{r: r, neutral: make([][3]float64, len(r.Boards)), next: make([][3]float64, len(r.Boards)), angle: make([][2]float64, len(r.Boards)),
		volts: make([]float64, len(r.Panels)), chain: make([][2]float64, len(r.Circuits))}
	for b := range r.Boards {
		p.neutral[b], p.next[b] = p.source()
	}
	for range 12 {
		for c := range r.Circuits {
			p.drop(c)
		}
		p.feed()
	}
	for c := range r.Circuits {
		p.drop(c)
	}
	return p
}

func (p *slowPlant) source() (neutral, next [3]float64) {
	for leg := range p.r.Supply.System.Legs() {
		neutral[leg], next[leg] = float64(p.r.Supply.LineNeutral), float64(p.r.Supply.LineLine)
	}
	return neutral, next
}

func ohmsOf(r *rig.Rig, run *rig.Run) (res, rea, size float64) {
	z := r.Impedance(run)
	return float64(z.R), float64(z.X), math.Hypot(float64(z.R), float64(z.X))
}

// sent gives the voltage at a circuit's board.
func (p *slowPlant) sent(c rig.Circuit) float64 {
	legs := p.r.Legs(c)
	if len(legs) == 1 {
		return p.neutral[c.Board][legs[0]]
	}
	if p.r.Supply.System.Legs() == 2 || legs[1] == (legs[0]+1)%3 {
		return p.next[c.Board][min(legs[0], legs[0]*(p.r.Supply.System.Legs()-2))]
	}
	return p.next[c.Board][legs[1]]
}

// drop finds the voltages of a chain with all of it at full white, and how far they are turned at its end.
func (p *slowPlant) drop(i int) {
	c := p.r.Circuits[i]
	for _, panel := range c.Panels {
		p.volts[panel] = p.sent(c)
	}
	for range 16 {
		at, run := p.sent(c), c.Home
		p.chain[i] = [2]float64{}
		volts := make([]float64, len(c.Panels))
		for k := range c.Panels {
			amps := 0.0
			for _, behind := range c.Panels[k:] {
				t := p.r.PanelTypes[p.r.Panels[behind].Type]
				amps += float64(t.White) / float64(t.PF) / p.volts[behind]
			}
			res, rea, size := ohmsOf(p.r, run)
			at -= 2 * size * amps
			volts[k], run = at, c.Link
			p.turn(i, 2*res, 2*rea, amps/at)
		}
		for k, panel := range c.Panels {
			p.volts[panel] = volts[k]
		}
	}
}

// turn adds what a current turns a voltage by, whichever type of the circuit's panels draws it.
func (p *slowPlant) turn(i int, res, rea, share float64) {
	lo, hi := 0.0, 0.0
	for _, panel := range p.r.Circuits[i].Panels {
		sin, cos := math.Sincos(float64(p.r.PanelTypes[p.r.Panels[panel].Type].Displacement) * math.Pi / 180)
		lo, hi = min(lo, res*sin-rea*cos), max(hi, res*sin-rea*cos)
	}
	p.chain[i][0] += lo * share
	p.chain[i][1] += hi * share
}

// items gives what draws, at the voltages of the moment, with the turn of each.
func (p *slowPlant) items(s power.State) (items []item, turns [][2]float64) {
	for i, c := range p.r.Circuits {
		for t, pt := range p.r.PanelTypes {
			it := item{circuit: i, board: c.Board, legs: p.r.Legs(c), third: float64(pt.Third), lag: float64(pt.Displacement) * math.Pi / 180}
			on := false
			for _, panel := range c.Panels {
				if p.r.Panels[panel].Type == t {
					on = true
					if s.LockedOff == nil || !s.LockedOff[i] {
						it.amps += float64(pt.Watts(levelOf(p.r, panel, s))) / float64(pt.PF) / p.volts[panel]
					}
				}
			}
			if on {
				items = append(items, it)
				turns = append(turns, [2]float64{p.chain[i][0] + p.angle[c.Board][0], p.chain[i][1] + p.angle[c.Board][1]})
			}
		}
	}
	for _, l := range p.r.Loads {
		items = append(items, item{circuit: -1, board: l.Board, legs: l.Legs, amps: float64(l.Current), third: float64(l.Third), lag: float64(l.Displacement) * math.Pi / 180})
		turns = append(turns, p.angle[l.Board])
	}
	return items, turns
}

// under reports whether a board is another one or hangs on it.
func (p *slowPlant) under(board, other int) bool {
	for {
		if board == other {
			return true
		}
		if p.r.Boards[board].From == 0 {
			return false
		}
		board = p.r.Boards[board].From - 1
	}
}

// worst gives a conductor's worst current: every item on or off, and what may be turned.
func (p *slowPlant) worst(c rig.Conductor, items []item, turns [][2]float64) float64 {
	moved := make([]item, len(items))
	for i, it := range items {
		if moved[i] = it; c.Board >= 0 && p.under(it.board, c.Board) {
			moved[i].board = c.Board
		}
	}
	parts, _ := partsOf(p.r, moved, c)
	worst := slowWorst(parts, false, p.r.Supply.System)
	lo, hi, sum, mixed := 0.0, 0.0, 0.0, false
	var first complex128
	for i, it := range moved {
		on, d, _ := it.share(p.r, c)
		if !on || d == 0 {
			continue
		}
		if d *= cmplx.Rect(1, -it.lag); first == 0 {
			first = d
		}
		mixed = mixed || cmplx.Abs(d-first) > 1e-9
		t := turns[i]
		if c.Circuit >= 0 {
			t = p.chain[c.Circuit]
		}
		lo, hi, sum = min(lo, t[0]), max(hi, t[1]), sum+it.amps
	}
	if mixed {
		worst += (hi - lo) / 2 * sum
	}
	return worst
}

// feed finds the boards' voltages from the worst currents of their legs and neutrals with everything at full white.
func (p *slowPlant) feed() {
	items, turns := p.items(power.State{Levels: full(p.r)})
	legs := p.r.Supply.System.Legs()
	for b, board := range p.r.Boards {
		neutral, next := p.source()
		angle := [2]float64{}
		if board.From > 0 {
			neutral, next, angle = p.neutral[board.From-1], p.next[board.From-1], p.angle[board.From-1]
		}
		_, _, z := ohmsOf(p.r, board.Feeder)
		var leg [3]float64
		for a := range legs {
			leg[a] = min(float64(board.Main), p.worst(rig.Conductor{Circuit: -1, Board: b, Leg: a}, items, turns))
		}
		back := 0.0
		if p.r.Supply.System.HasNeutral() {
			back = min(float64(board.Neutral), p.worst(rig.Conductor{Circuit: -1, Board: b, Leg: -1}, items, turns))
		}
		p.angle[b] = angle
		for a := range legs {
			lost, across := z*(leg[a]+back), z*(leg[a]+leg[(a+1)%legs])
			for _, part := range []float64{lost / neutral[a], across / next[a]} {
				if part > 0 && !math.IsInf(part, 0) {
					p.angle[b][0], p.angle[b][1] = min(p.angle[b][0], angle[0]-math.Asin(part)), max(p.angle[b][1], angle[1]+math.Asin(part))
				}
			}
			p.neutral[b][a], p.next[b][a] = neutral[a]-lost, next[a]-across
		}
	}
}

// TestWorstAgreesWithTheSlowWayThroughCables tries every combination of what draws, at voltages that are worked out the plain way.
func TestWorstAgreesWithTheSlowWayThroughCables(t *testing.T) {
	compared, turned := 0, 0
	for seed := range secondPlants() {
		r, rng := wired(seed, 3)
		m, s := power.New(r), randomState(rng, r)
		p := newSlowPlant(r)
		items, turns := p.items(s)
		worst := m.Worst(s, nil)
		for panel, v := range p.volts {
			require.InDelta(t, v, float64(m.Lowest(panel)), 1e-4, "seed %d, panel %d", seed, panel)
		}
		for i, c := range m.Conductors() {
			slow := p.worst(c, items, turns)
			compared++
			require.InDelta(t, slow, float64(worst[i]), 1e-5*max(1, slow), "seed %d, %v %s on %v", seed, c.Kind, c.Name, r.Supply.System)
			if i > 0 && c.Leg >= 0 && p.angle[max(c.Board, 0)][1] > 0 {
				turned++
			}
		}
	}
	t.Logf("%d conductors, %d legs behind feeders", compared, turned)
	require.Greater(t, turned, int(secondPlants()/2))
}
