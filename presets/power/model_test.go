package power

import (
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/rig"
	"lookgate/presets/units"
)

func TestThreeLegsWithThirdHarmonicAreWorseWithOneDark(t *testing.T) {
	r := &rig.Rig{
		Supply: rig.Supply{Name: "S", System: rig.Wye, LineNeutral: 120, LineLine: 208, Main: 100, Neutral: 100, Factor: 0.8},
		Boards: []rig.Board{{Name: "A", Poles: 42, Main: 100, Neutral: 100, Factor: 0.8}},
	}
	for leg := range 3 {
		r.Loads = append(r.Loads, rig.OtherLoad{Legs: []int{leg}, Current: 10, PF: 1, DisplacementKnown: true, Third: 0.3})
	}
	m := New(r)
	require.InDelta(t, 9.0, float64(m.At(State{}, nil)[3]), 1e-9)
	require.InDelta(t, 11.7, float64(m.Worst(State{}, nil)[3]), 0.05)
	require.Equal(t, units.Amps(10), m.WorstOf(0, State{}))
	require.Equal(t, "A N", m.Conductors()[3].Name)
}
