package osc

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// one decodes a message with the arguments given, so that readers are tested on
// what really comes off the wire.
func one(t *testing.T, arguments ...any) Message {
	t.Helper()
	groups, err := Decode(message(t, "/a", arguments...), DefaultLimits())
	require.NoError(t, err)
	return groups[0].Messages[0]
}

func TestNumber(t *testing.T) {
	for _, row := range []struct {
		name string
		arg  any
		want float64
		text string
	}{
		{"int32", int32(-3), -3, ""},
		{"int64", int64(1 << 40), 1 << 40, ""},
		{"float32 as its shortest decimal", float32(0.8), 0.8, ""},
		{"float32 of a third", float32(1) / 3, 0.33333334, ""},
		{"float32 largest", float32(math.MaxFloat32), 3.4028235e38, ""},
		{"float64", 0.8, 0.8, ""},
		{"NaN", float32(math.NaN()), 0, "argument 1 is NaN, which is no number"},
		{"infinity", math.Inf(1), 0, "argument 1 is +Inf, which is no number"},
		{"infinity of 32 bits", float32(math.Inf(-1)), 0, "argument 1 is -Inf, which is no number"},
		{"a string", "0.5", 0, "argument 1 is of type s, a number (i, h, f or d) belongs there"},
		{"a switch", true, 0, "argument 1 is of type T, a number (i, h, f or d) belongs there"},
		{"nil", nil, 0, "argument 1 is of type N, a number (i, h, f or d) belongs there"},
	} {
		t.Run(row.name, func(t *testing.T) {
			n, err := one(t, row.arg).Number(0)
			if row.text != "" {
				require.EqualError(t, err, row.text)
				return
			}
			require.NoError(t, err)
			require.Equal(t, row.want, n)
		})
	}
	_, err := one(t).Number(0)
	require.EqualError(t, err, "argument 1 is missing, a number belongs there")
}

func TestWhole(t *testing.T) {
	for _, row := range []struct {
		name string
		arg  any
		want int64
		text string
	}{
		{"int32", int32(12), 12, ""},
		{"int64 beyond a float", int64(1<<62 + 1), 1<<62 + 1, ""},
		{"float without fraction", float32(12), 12, ""},
		{"float with fraction", float32(12.5), 0, "argument 1 is 12.5, not a whole number"},
		{"float too large to be one", 1e300, 0, "argument 1 is 1e+300, not a whole number"},
		{"NaN", math.NaN(), 0, "argument 1 is NaN, which is no number"},
	} {
		t.Run(row.name, func(t *testing.T) {
			n, err := one(t, row.arg).Whole(0)
			if row.text != "" {
				require.EqualError(t, err, row.text)
				return
			}
			require.NoError(t, err)
			require.Equal(t, row.want, n)
		})
	}
}

func TestSwitchAndRelease(t *testing.T) {
	for _, row := range []struct {
		name        string
		arg         any
		on, release bool
	}{
		{"true", true, true, false},
		{"false", false, false, true},
		{"one", int32(1), true, false},
		{"zero", int32(0), false, true},
		{"long zero", int64(0), false, true},
		{"float one", float32(1), true, false},
		{"float zero", float32(0), false, true},
		{"negative zero", math.Copysign(0, -1), false, true},
		{"velocity", int32(127), true, false},
	} {
		t.Run(row.name, func(t *testing.T) {
			on, err := one(t, row.arg).Switch(0)
			require.NoError(t, err)
			require.Equal(t, row.on, on)
			require.Equal(t, row.release, one(t, int32(5), row.arg).Release())
		})
	}
	impulse, err := Decode([]byte("/a\x00\x00,I\x00\x00"), DefaultLimits())
	require.NoError(t, err)
	on, err := impulse[0].Messages[0].Switch(0)
	require.NoError(t, err)
	require.True(t, on)

	_, err = one(t, "on").Switch(0)
	require.EqualError(t, err, "argument 1 is of type s, a switch (T, F, I or a number) belongs there")
	_, err = one(t, math.NaN()).Switch(0)
	require.EqualError(t, err, "argument 1 is NaN, which is no number")
	require.False(t, one(t).Release(), "no argument is a press")
	require.False(t, one(t, int32(0), "name").Release(), "the last one counts")
	require.False(t, one(t, nil).Release())
}

func TestText(t *testing.T) {
	m := one(t, "Dämmerung", int32(1))
	s, err := m.Text(0)
	require.NoError(t, err)
	require.Equal(t, "Dämmerung", s)
	require.True(t, m.IsText(0))
	require.False(t, m.IsText(1))
	require.False(t, m.IsText(2))
	_, err = m.Text(1)
	require.EqualError(t, err, "argument 2 is of type i, a string (s) belongs there")
}
