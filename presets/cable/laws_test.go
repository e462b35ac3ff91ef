package cable_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/cable"
	"lookgate/presets/units"
)

var strandings = []cable.Stranding{cable.Solid, cable.Stranded, cable.Coated, cable.Class2, cable.Class5}

// sizes lists all sizes, thinner before thicker within their standard.
func sizes(t *testing.T) []cable.Size {
	var all []cable.Size
	for s := cable.Size(1); s.String() != "70 mm²"; s++ {
		all = append(all, s)
	}
	last, ok := cable.ParseSize("70 mm2")
	require.True(t, ok)
	return append(all, last)
}

func TestEverySizeIsReadAsItIsPrinted(t *testing.T) {
	for _, s := range sizes(t) {
		back, ok := cable.ParseSize(s.String())
		require.True(t, ok)
		require.Equal(t, s, back)
	}
	for _, word := range []string{"", "12", "12 awg", "13 AWG", "2,5 mm²", "0 mm²", "-1 AWG"} {
		_, ok := cable.ParseSize(word)
		require.False(t, ok, word)
	}
}

// TestResistanceFallsWithSizeAndRisesWithHeat holds over all tables.
func TestResistanceFallsWithSizeAndRisesWithHeat(t *testing.T) {
	for _, st := range strandings {
		var thinner units.OhmsPerMetre
		for _, s := range sizes(t) {
			cold, ok := cable.Resistance(s, st, 20)
			if !ok {
				continue
			}
			hot, _ := cable.Resistance(s, st, 75)
			require.Greater(t, hot, cold, "%v %v", s, st)
			if thinner > 0 {
				require.Less(t, cold, thinner, "%v %v", s, st)
			}
			thinner = cold
		}
		require.Positive(t, thinner, st.String())
	}
}

func TestNoTableGivesADefault(t *testing.T) {
	gauge, _ := cable.ParseSize("12 AWG")
	large, _ := cable.ParseSize("4/0 AWG")
	metric, _ := cable.ParseSize("2.5 mm²")
	for name, bad := range map[string]func() bool{
		"a gauge of class 5":       func() bool { _, ok := cable.Resistance(gauge, cable.Class5, 20); return ok },
		"square millimetres solid": func() bool { _, ok := cable.Resistance(metric, cable.Solid, 20); return ok },
		"a large solid conductor":  func() bool { _, ok := cable.Resistance(large, cable.Solid, 20); return ok },
		"no size":                  func() bool { _, ok := cable.Resistance(0, cable.Stranded, 20); return ok },
		"no such stranding":        func() bool { _, ok := cable.Resistance(gauge, cable.Class5+1, 20); return ok },
		"no reactance of no size":  func() bool { _, ok := cable.Reactance(0); return ok },
		"an ampacity of no size":   func() bool { _, ok := cable.Ampacity(cable.CordA, 0); return ok },
		"a column of no table":     func() bool { _, ok := cable.Ampacity("none", gauge); return ok },
		"an insulation of 80 °C":   func() bool { _, ok := cable.AmbientFactor(80, 30); return ok },
		"no small breaker for 4/0": func() bool { _, ok := cable.SmallBreaker(large); return ok },
	} {
		require.False(t, bad(), name)
	}
}

// TestAmpacityRisesWithSizeAndInsulation holds within each printed table.
func TestAmpacityRisesWithSizeAndInsulation(t *testing.T) {
	for _, columns := range [][]cable.Table{
		{cable.Building60, cable.Building75, cable.Building90}, {cable.CordA, cable.CordB}, {cable.Feeder603, cable.Feeder753, cable.Feeder903},
		{cable.Feeder602, cable.Feeder752, cable.Feeder902}, {cable.Feeder601, cable.Feeder751, cable.Feeder901}, {cable.Feeder903, cable.Feeder902, cable.Feeder901},
		{cable.ConduitB2, cable.ClippedC, cable.ClippedC2},
	} {
		for i, column := range columns {
			var thinner units.Amps
			for _, s := range sizes(t) {
				a, ok := cable.Ampacity(column, s)
				if !ok {
					continue
				}
				require.Greater(t, a, thinner, "%s %v", column, s)
				thinner = a
				if i > 0 {
					lower, ok := cable.Ampacity(columns[i-1], s)
					require.True(t, !ok || lower < a, "%s %v", column, s)
				}
				most, ok := cable.Most(s)
				require.True(t, ok && most >= a)
			}
			require.Positive(t, thinner, string(column))
		}
	}
}
