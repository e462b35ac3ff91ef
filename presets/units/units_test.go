package units_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/units"
)

func TestQuantitiesPrintAsPeopleReadThem(t *testing.T) {
	for _, c := range []struct {
		name, got, want string
	}{
		{"amps keep their tenth", units.Amps(16).String(), "16.0 A"},
		{"amps round", units.Amps(14.249).String(), "14.2 A"},
		{"volts", units.Volts(208).String(), "208 V"},
		{"volts under load", units.Volts(117.62).String(), "117.6 V"},
		{"watts", units.Watts(2844).String(), "2844 W"},
		{"volt-amperes", units.VoltAmps(2993.68).String(), "2993.7 VA"},
		{"ohms", units.Ohms(0.40204).String(), "0.402 ohm"},
		{"nits", units.Nits(600).String(), "600 nits"},
		{"stops up", units.Stops(0.58).String(), "+0.6 stops"},
		{"stops down", units.Stops(-1).String(), "-1.0 stops"},
		{"stops to black", units.StopsBetween(1, 0).String(), "no light"},
		{"degrees", units.Degrees(18.195).String(), "18.2°"},
		{"millimetres", units.Millimetres(500).String(), "500 mm"},
		{"a share", units.Share(0.8).String(), "80 %"},
		{"a level", units.Level(0.425).String(), "42.5 %"},
		{"bits", units.BitsPerSecond(999).String(), "999 b/s"},
		{"megabits", units.BitsPerSecond(940e6).String(), "940 Mb/s"},
		{"gigabits", units.BitsPerSecond(2.5e9).String(), "2.5 Gb/s"},
		{"a quantity prints as its unit does", units.InAmps(9.04).String(), "9.0 A"},
		{"a quantity of bits", units.InBits(1e9).String(), "1 Gb/s"},
		{"a quantity of level", units.InLevel(0.5).String(), "50 %"},
		{"a quantity of pixels", units.InPixels(4033).String(), "4033 px"},
		{"a quantity of watts", units.Quantity{Value: 158, Unit: units.W}.String(), "158 W"},
		{"a quantity of volts", units.Quantity{Value: 230, Unit: units.V}.String(), "230 V"},
		{"a count", units.InCount(18).String(), "18"},
	} {
		t.Run(c.name, func(t *testing.T) { require.Equal(t, c.want, c.got) })
	}
}

func TestStopsBetween(t *testing.T) {
	require.InDelta(t, 1, float64(units.StopsBetween(0.25, 0.5)), 1e-12)
	require.InDelta(t, -2, float64(units.StopsBetween(1, 0.25)), 1e-12)
	require.True(t, math.IsInf(float64(units.StopsBetween(0, 0.5)), 1))
}

func TestDownIsNeverBrighterAndUpNeverDarker(t *testing.T) {
	for _, steps := range []int{1, 2, 100, 255, 4095, 65535} {
		for i := range 2001 {
			l := units.Level(i) / 2000
			slack := units.Level(0.011 / float64(steps))
			require.LessOrEqual(t, l.Down(steps), l+slack)
			require.GreaterOrEqual(t, l.Up(steps), l-slack)
			require.Equal(t, l.Down(steps), l.Down(steps).Down(steps), "a step stays where it is")
			require.Equal(t, l.Down(steps), l.Down(steps).Up(steps))
			require.Less(t, float64(l-l.Down(steps)), 1/float64(steps), "the step below, not one further down")
		}
	}
}

// TestAStepSurvivesTheWire sends every step of the finest device as a 32-bit float, as OSC does, and finds the same step again.
func TestAStepSurvivesTheWire(t *testing.T) {
	for _, steps := range []int{100, 255, 65535} {
		for i := range steps + 1 {
			sent := float32(float64(i) / float64(steps))
			require.Equal(t, i, units.Level(sent).Index(steps))
			require.Equal(t, units.Level(float64(i)/float64(steps)), units.Level(sent).Down(steps))
			require.Equal(t, units.Level(float64(i)/float64(steps)), units.Level(sent).Up(steps))
		}
	}
}

func TestDownWithoutStepsLeavesTheLevel(t *testing.T) {
	require.Equal(t, units.Level(0.3333), units.Level(0.3333).Down(0))
	require.Equal(t, units.Level(0.3333), units.Level(0.3333).Up(0))
}

func TestValidLevels(t *testing.T) {
	for _, l := range []units.Level{0, 0.5, 1} {
		require.True(t, l.Valid())
	}
	for _, l := range []units.Level{-0.0001, 1.0001, 7, units.Level(math.NaN()), units.Level(math.Inf(1)), units.Level(math.Inf(-1))} {
		require.False(t, l.Valid())
	}
}

func TestFinite(t *testing.T) {
	require.True(t, units.Finite(units.Amps(-3)))
	require.False(t, units.Finite(units.Amps(math.NaN())))
	require.False(t, units.Finite(units.Amps(math.Inf(-1))))
}

func TestRateArithmetic(t *testing.T) {
	_, err := units.NewRate(0, 1)
	require.Error(t, err)
	require.False(t, units.Rate{}.Valid())
	require.True(t, units.Rate{Num: 24000, Den: 1001}.Valid())
	require.Equal(t, int64(1), units.Rate{Num: 25, Den: 1}.Multiple(units.Rate{Num: 25, Den: 1}))
}
