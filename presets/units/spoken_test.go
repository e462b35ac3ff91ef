package units_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets/units"
)

func TestSpoken(t *testing.T) {
	rows := []struct {
		name string
		d    time.Duration
		says string
	}{
		{"nothing", 0, "0 s"},
		{"less than a second", 500 * time.Millisecond, "0.5 s"},
		{"seconds", 59 * time.Second, "59 s"},
		{"a minute", time.Minute, "1 min"},
		{"minutes and seconds", 90 * time.Second, "1 min 30 s"},
		{"hours are said in minutes", 2 * time.Hour, "120 min"},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) { require.Equal(t, r.says, units.Spoken(r.d)) })
	}
}

func TestUpToSeconds(t *testing.T) {
	require.Equal(t, 2*time.Second, units.UpToSeconds(1001*time.Millisecond))
	require.Equal(t, time.Second, units.UpToSeconds(time.Second))
	require.Zero(t, units.UpToSeconds(0))
}
