package power_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/rig/rigtest"
	"lookgate/presets/units"
)

// handful gives a single-phase rig of up to six circuits, each of panels of one type of its own, with pulses and black draws that the order matters for.
func handful(rng *rand.Rand, n int) *rig.Rig {
	r := &rig.Rig{Supply: rig.Supply{Name: "S", System: rig.SinglePhase, LineNeutral: 100, Main: 1000, Neutral: 1000, Factor: 1}, Devices: []rig.Device{{Steps: 100}}}
	r.Boards = []rig.Board{{Name: "A", Poles: 12, Main: units.Amps(20 + rng.IntN(30)), Neutral: 100, Factor: 1}}
	out := rig.Output{}
	for i := range n {
		black := units.Watts(100 * rng.IntN(20))
		r.PanelTypes = append(r.PanelTypes, rig.PanelType{Black: black, White: black + 100, PF: 1, DisplacementKnown: true, Inrush: rig.Inrush{Peak: units.Amps(10 + rng.IntN(60))}})
		r.Panels, out.Panels = append(r.Panels, rig.Panel{Column: i + 1, Row: 1, Type: i}), append(out.Panels, i)
		rigtest.AddCircuit(r, 0, []int{0}, 100, []int{i})
	}
	r.Outputs = []rig.Output{out}
	return r
}

// TestOrderIsBestOfAll tries every order of a handful of circuits: where one of them keeps every step under what the main holds, so does the order that is
// given, and its highest step is as low as any order's.
func TestOrderIsBestOfAll(t *testing.T) {
	mattered := 0
	for seed := range uint64(300) {
		rng := rand.New(rand.NewPCG(seed, 31))
		r := handful(rng, 2+rng.IntN(4))
		o := power.New(r).Order(allAt(r, 0))
		highest := 0.0
		for _, c := range o.Steps {
			highest = max(highest, float64(c.Surge.Peak))
		}
		best, worst := extremes(r)
		require.InDelta(t, best, highest, 1e-9, "seed %d", seed)
		if limit := 3 * float64(r.Boards[0].Main); best <= limit && worst > limit {
			mattered++
			require.False(t, slices.ContainsFunc(o.Steps, func(c power.Closing) bool { return c.Surge.Over() }), "seed %d", seed)
		}
	}
	require.Greater(t, mattered, 30, "too few plants that the order matters for: the test shows nothing")
}

// extremes gives the highest step of the best and of the worst order.
func extremes(r *rig.Rig) (best, worst float64) {
	best = math.Inf(1)
	order := make([]int, len(r.Circuits))
	for i := range order {
		order[i] = i
	}
	permute(order, 0, func(order []int) {
		on, highest := 0.0, 0.0
		for _, i := range order {
			highest = max(highest, math.Sqrt2*on+float64(r.PanelTypes[i].Inrush.Peak))
			on += float64(r.PanelTypes[i].Black) / 100
		}
		best, worst = min(best, highest), max(worst, highest)
	})
	return best, worst
}

func permute(order []int, from int, visit func([]int)) {
	if from == len(order) {
		visit(order)
	}
	for i := from; i < len(order); i++ {
		order[from], order[i] = order[i], order[from]
		permute(order, from+1, visit)
		order[from], order[i] = order[i], order[from]
	}
}

// TestOrderClosesEveryCircuitOnce also holds the pauses: no two closer than the gap, and never more than the generator's step within its settling time.
func TestOrderClosesEveryCircuitOnce(t *testing.T) {
	waited := 0
	for seed := range uint64(100) {
		rng := rand.New(rand.NewPCG(seed, 32))
		r := rigtest.Random(rng, 1+int(seed%9))
		r.Supply.Origin = rig.Generator
		r.Supply.Capacity = rig.Capacity{Step: units.Watts(50 + rng.IntN(300)), Settle: time.Duration(rng.IntN(12)) * time.Second}
		s := allAt(r, 0)
		s.LockedOff = make([]bool, len(r.Circuits))
		s.LockedOff[0] = true
		o := power.New(r).Order(s)
		require.Len(t, o.Steps, len(r.Circuits)-1)
		seen := map[int]bool{0: true}
		for k, c := range o.Steps {
			require.False(t, seen[c.Circuit])
			seen[c.Circuit] = true
			require.Equal(t, c.Load > r.Supply.Capacity.Step, c.StepOver)
			sum := c.Load
			for _, b := range o.Steps[:k] {
				require.GreaterOrEqual(t, c.At-b.At, power.ClosingGap)
				if c.At-b.At < r.Supply.Capacity.Settle {
					sum += b.Load
				}
			}
			require.True(t, c.StepOver || sum <= r.Supply.Capacity.Step, "seed %d: %v within the settling time, of %v", seed, sum, r.Supply.Capacity.Step)
			if k > 0 && c.At-o.Steps[k-1].At > power.ClosingGap {
				waited++
			}
		}
	}
	require.Greater(t, waited, 50)
}

// TestOrderKeepsTheLegsEven has three like circuits on each pair of legs of a wye: after every third the three legs carry the same.
func TestOrderKeepsTheLegsEven(t *testing.T) {
	r := rigtest.Wye()
	r.PanelTypes[0].DisplacementKnown, r.PanelTypes[0].Inrush.Peak = true, 1
	r.Circuits, r.Loads = nil, nil
	for i := range 6 {
		pair := i / 2 // in the rig two and two stand on the same legs
		rigtest.AddCircuit(r, 0, []int{pair, (pair + 1) % 3}, 20, rigtest.Columns(r, 0, i+1, i+1))
	}
	o := power.New(r).Order(allAt(r, 0))
	for third := range 2 {
		on := map[int]bool{}
		for _, c := range o.Steps[3*third : 3*third+3] {
			on[c.Circuit/2] = true
		}
		require.Len(t, on, 3, "%+v", o.Steps)
	}
}

// TestOrderTakesBoardsTogether lets the remainders of a board wait for the next board only where a main would trip otherwise.
func TestOrderTakesBoardsTogether(t *testing.T) {
	r := handful(rand.New(rand.NewPCG(1, 1)), 4)
	r.Boards[0].Main = 1000
	r.Boards = append(r.Boards, r.Boards[0])
	r.Boards[1].Name = "B"
	for i, kind := range []struct {
		black units.Watts
		peak  units.Amps
	}{{2000, 10}, {2000, 10}, {100, 90}, {100, 90}} {
		r.PanelTypes[i].Black, r.PanelTypes[i].White, r.PanelTypes[i].Inrush.Peak = kind.black, kind.black, kind.peak
		r.Circuits[i].Board = i / 2
	}
	circuits := func(o power.Order) (is []int) {
		for _, c := range o.Steps {
			is = append(is, c.Circuit)
		}
		return is
	}
	r.Supply.Main = 100 // holds 300 A of crest, and all of it is 90 A on top of √2 × 41 A
	require.Equal(t, []int{0, 1, 2, 3}, circuits(power.New(r).Order(allAt(r, 0))))
	r.Supply.Main = 45 // 135 A: board A first would make 147 A
	require.Equal(t, []int{2, 3, 0, 1}, circuits(power.New(r).Order(allAt(r, 0))))
}

func TestOrderWithoutPeaks(t *testing.T) {
	r := rigtest.Wye()
	o := power.New(r).Order(allAt(r, 0))
	require.Len(t, o.Steps, len(r.Circuits))
	for _, c := range o.Steps {
		require.Equal(t, -1, c.Surge.Conductor)
		require.False(t, c.Surge.Over())
	}
}

// TestReturnCountsWhatIsOn brings one circuit of the bench back beside others at a level.
func TestReturnCountsWhatIsOn(t *testing.T) {
	r := handful(rand.New(rand.NewPCG(1, 1)), 2)
	for i := range r.PanelTypes {
		r.PanelTypes[i] = rig.PanelType{Black: 100, White: 1100, PF: 1, DisplacementKnown: true, Inrush: rig.Inrush{Peak: 40}}
	}
	r.Boards[0].Main, r.Supply.Main = 20, 40
	m := power.New(r)
	dark, lit := m.Return(1, allAt(r, 0)), m.Return(1, allAt(r, 1))
	require.InDelta(t, math.Sqrt2*1, float64(dark.Surge.Before), 1e-9)
	require.InDelta(t, math.Sqrt2*1+40, float64(dark.Surge.Peak), 1e-9)
	require.InDelta(t, math.Sqrt2*11, float64(lit.Surge.Before), 1e-9)
	require.InDelta(t, 60, float64(lit.Surge.Holds), 1e-9)
	require.InDelta(t, 100, float64(dark.Load), 1e-9)
	require.InDelta(t, 1100, float64(lit.Load), 1e-9)
	require.False(t, lit.Surge.Over())
	r.Boards[0].Main, r.Boards[0].Factor = 10, 0.8
	lit = power.New(r).Return(1, allAt(r, 1))
	require.InDelta(t, math.Sqrt2*8, float64(lit.Surge.Before), 1e-9, "no more than the limit can be on")
	require.True(t, lit.Surge.Over(), "51 A of 30 A")
}
