package power_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/rig/rigtest"
	"lookgate/presets/units"
)

func TestSwitchOnByWhatIsKnown(t *testing.T) {
	row := func(c rig.Curve, a units.Amps, n int) rig.PerBreaker {
		return rig.PerBreaker{Curve: c, Breaker: a, Panels: n}
	}
	for _, c := range []struct {
		name   string
		panels int
		kind   rig.PanelType
		curve  rig.Curve
		basis  power.Basis
		used   float64
		most   int
	}{
		{"the maker's figure", 12, rig.PanelType{PerBreaker: []rig.PerBreaker{row(rig.CurveC, 16, 12)}}, rig.CurveC, power.MakersRow, 1, 12},
		{"one more", 13, rig.PanelType{PerBreaker: []rig.PerBreaker{row(rig.CurveC, 16, 12)}}, rig.CurveC, power.MakersRow, 13. / 12, 12},
		{"the maker's figure goes before a peak", 12, rig.PanelType{PerBreaker: []rig.PerBreaker{row(rig.CurveC, 16, 12)}, Inrush: rig.Inrush{Peak: 60}}, rig.CurveC, power.MakersRow, 1, 12},
		{"the first that fits", 12, rig.PanelType{PerBreaker: []rig.PerBreaker{row(rig.NoCurve, 16, 10), row(rig.CurveC, 16, 12)}}, rig.CurveC, power.MakersRow, 1.2, 10},
		{"another curve, and no peak", 12, rig.PanelType{PerBreaker: []rig.PerBreaker{row(rig.CurveC, 16, 12)}}, rig.CurveB, power.NotKnown, 0, 0},
		{"another rating, and a peak", 2, rig.PanelType{PerBreaker: []rig.PerBreaker{row(rig.CurveC, 20, 12)}, Inrush: rig.Inrush{Peak: 40}}, rig.CurveC, power.PeakBand, 1, 2},
		{"peaks on curve B", 2, rig.PanelType{Inrush: rig.Inrush{Peak: 40}}, rig.CurveB, power.PeakBand, 80. / 48, 1},
		{"peaks on curve D", 5, rig.PanelType{Inrush: rig.Inrush{Peak: 40}}, rig.CurveD, power.PeakBand, 200. / 160, 4},
		{"a peak and no curve", 2, rig.PanelType{Inrush: rig.Inrush{Peak: 40}}, rig.NoCurve, power.NotKnown, 0, 0},
		{"a figure whatever the curve", 2, rig.PanelType{PerBreaker: []rig.PerBreaker{row(rig.NoCurve, 16, 4)}}, rig.NoCurve, power.MakersRow, 0.5, 2},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.kind.PF = 1
			s := power.New(chained(c.panels, c.kind, 16, c.curve)).SwitchOns()[0]
			require.Equal(t, c.basis, s.Basis)
			require.InDelta(t, c.used, float64(s.Used), 1e-9)
			require.Equal(t, c.most, s.Most)
		})
	}
}

// TestSwitchOnOfMixedPanels fills a breaker with a third of one type and two thirds of another.
func TestSwitchOnOfMixedPanels(t *testing.T) {
	r := chained(7, rig.PanelType{PF: 1, PerBreaker: []rig.PerBreaker{{Breaker: 16, Panels: 9}}}, 16, rig.CurveC)
	r.PanelTypes = append(r.PanelTypes, rig.PanelType{PF: 1, PerBreaker: []rig.PerBreaker{{Breaker: 16, Panels: 6}}})
	for i := range 4 {
		r.Panels[i].Type = 1
	}
	s := power.New(r).SwitchOns()[0]
	require.Equal(t, units.Share(1), s.Used, "four sixths and three ninths")
	require.Equal(t, 7, s.Most)
	r.PanelTypes[1].PerBreaker = nil
	r.PanelTypes[0].Inrush.Peak = 10
	require.Equal(t, power.SwitchOn{Missing: []int{1}}, power.New(r).SwitchOns()[0], "of one type neither figure is known")
	r.PanelTypes[1].Inrush.Peak = 10
	require.Equal(t, power.PeakBand, power.New(r).SwitchOns()[0].Basis, "the maker's figures of one type alone do not do")
}

// TestLostNeutralLaws holds what must be whatever the resistances: equal loads see equal voltages, currents into the free middle add up to nothing, and no load sees
// more than line to line.
func TestLostNeutralLaws(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for range 500 {
		system := []rig.System{rig.SplitPhase, rig.Wye}[rng.IntN(2)]
		n := system.Legs()
		source, line, load := make([]units.Volts, n), make([]units.Ohms, n), make([]units.Ohms, n)
		for i := range n {
			source[i], line[i], load[i] = 120, units.Ohms(rng.Float64()), units.Ohms(math.Pow(10, 4*rng.Float64()-1))
			if rng.IntN(4) == 0 {
				load[i] = power.NoLoad
			}
		}
		across := power.LostNeutral(system, source, line, load)
		most := 120 * map[rig.System]float64{rig.SplitPhase: 2, rig.Wye: math.Sqrt(3)}[system]
		largest, sum := 0.0, 0.0
		for i, v := range across {
			require.GreaterOrEqual(t, float64(v), 0.0)
			require.LessOrEqual(t, float64(v), most+1e-9)
			if !math.IsInf(float64(load[i]), 0) {
				amps := float64(v) / float64(load[i])
				largest, sum = max(largest, amps), sum+amps
			}
		}
		require.LessOrEqual(t, largest, sum-largest+1e-9, "no leg's current is more than what the others bring back")
	}
	across := power.LostNeutral(rig.Wye, []units.Volts{120, 120, 120}, []units.Ohms{0, 0, 0}, []units.Ohms{7, 7, 7})
	for _, v := range across {
		require.InDelta(t, 120, float64(v), 1e-9)
	}
	alone := power.LostNeutral(rig.Wye, []units.Volts{120, 120, 120}, []units.Ohms{0, 0, 0}, []units.Ohms{7, power.NoLoad, power.NoLoad})
	require.InDelta(t, 0, float64(alone[0]), 1e-9, "one leg alone has no way back")
}

func TestNeutralNeeded(t *testing.T) {
	r := rigtest.Wye() // one-pole circuits on L1 and L2, a work light on L3
	circuits, loads := power.New(r).NeutralNeeded(0)
	require.Equal(t, []int{3, 4}, circuits)
	require.Equal(t, []int{0}, loads)
	r.Circuits, r.Loads = r.Circuits[:4], nil
	circuits, loads = power.New(r).NeutralNeeded(-1)
	require.Empty(t, circuits, "one leg alone goes dark")
	require.Empty(t, loads)
}

// TestLeakageOfABoard counts the boards behind it, and says of what nothing is known.
func TestLeakageOfABoard(t *testing.T) {
	r := rigtest.Wye()
	r.PanelTypes[0].Leakage = 0.0009
	r.Boards = append(r.Boards, r.Boards[0])
	r.Boards[1].Name, r.Boards[1].From = "B", 1
	r.Circuits[4].Board, r.Circuits[4].Poles = 1, []int{3}
	r.Circuits[0].Residual, r.Boards[0].Residual, r.Boards[1].Residual = 0.03, 0.3, 0.1
	found := power.New(r).Leakage()
	require.Len(t, found, 3)
	for i, want := range []struct {
		circuit, board int
		sum, limit     float64
		loads          []int
	}{{0, -1, 18 * 0.0009, 0.009, nil}, {-1, 0, 72 * 0.0009, 0.09, []int{0}}, {-1, 1, 9 * 0.0009, 0.03, nil}} {
		require.Equal(t, want.circuit, found[i].Circuit)
		require.Equal(t, want.board, found[i].Board)
		require.InDelta(t, want.sum, float64(found[i].Sum), 1e-12)
		require.InDelta(t, want.limit, float64(found[i].Limit), 1e-12)
		require.Equal(t, want.loads, found[i].Loads)
		require.Empty(t, found[i].Unknown)
	}
	r.PanelTypes[0].Leakage = 0
	require.Equal(t, []int{0}, power.New(r).Leakage()[0].Unknown)
}
