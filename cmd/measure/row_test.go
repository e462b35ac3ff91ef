package main

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets/power"
	"lookgate/presets/units"
)

func TestTheArithmeticOfFigures(t *testing.T) {
	require.Equal(t, 2.0, median([]float64{3, 1, 2}))
	require.Equal(t, 2.5, median([]float64{4, 1, 2, 3}))
	list := make([]time.Duration, 100)
	for i := range list {
		list[99-i] = time.Duration(i)
	}
	require.Equal(t, time.Duration(50), quantile(list, 0.5))
	require.Equal(t, time.Duration(99), quantile(list, 0.99))
	require.Equal(t, []float64{2, 3}, ratios([]float64{4, 9}, []float64{2, 3}))
	require.True(t, row{ratios: []float64{1, 2, 9}, goal: 2}.met(), "the median counts")
	require.False(t, row{ratios: []float64{1, 3, 9}, goal: 2}.met())
}

// TestTheWallsThatAreMeasured: the generated rig feeds every panel once, and its watts are the plain loop's.
func TestTheWallsThatAreMeasured(t *testing.T) {
	r := wallOf(1000)
	require.Len(t, r.Panels, 1000)
	fed := make([]int, len(r.Panels))
	for _, c := range r.Circuits {
		for _, p := range c.Panels {
			fed[p]++
		}
	}
	for p := range fed {
		require.Equal(t, 1, fed[p])
	}
	levels := make([]units.Level, len(r.Outputs))
	for i := range levels {
		levels[i] = 0.6
	}
	require.InDelta(t, 1000*(24+0.6*134), float64(sumWatts(r, outputOf(r), levels)), 1e-6)
	amps := power.New(r).Worst(power.State{Levels: levels}, nil)
	require.InDelta(t, 18*(24+0.6*134)/(208*0.95), float64(amps[0]), 1e-9, "the first circuit")
}
