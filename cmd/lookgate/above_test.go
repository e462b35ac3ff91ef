package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/site"
)

// shortTakes is the small site with breakers of 5 A that may be above their 4 A for a while, and a preset that is.
func shortTakes(t *testing.T) string {
	folder := altered(t, "small", "breaker_a: 20, home_run_a", "breaker_a: 5, above_continuous: {for: 45 min, rest: 30 min, reason: short takes, by: B. Weir}, home_run_a")
	file := filepath.Join(folder, site.PresetsFile)
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	bright := strings.Replace(string(text), "zones: {left: 60%, right: {level: 40%, cap: 50%}}", "zones: {left: 100%, right: {level: 40%, cap: 50%}}\n    above_continuous: 30 min", 1)
	require.NotEqual(t, string(text), bright)
	require.NoError(t, os.WriteFile(file, []byte(bright), 0o644))
	return folder
}

func TestCheckTellsPresetsAboveContinuousLimits(t *testing.T) {
	folder := shortTakes(t)
	r := runWith("check", folder)
	require.Contains(t, r.out, "above the continuous limit of 1 circuit for at most 30 min\n")
	require.Contains(t, r.out, "  above the continuous limit for at most 30 min, then brought down by itself: circuit K1 (of 45 min,\n    then 30 min of rest)\n")
	require.Regexp(t, `circuit K1 +4\.[0-9] / 5\.0 A .*breaker 5 A for 30 min`, r.out)
	require.NotContains(t, runWith("check", filepath.Join(sites, "small")).out, "above the continuous limit")
	data := runWith("check", folder, "-json")
	require.Contains(t, data.out, `"seconds": 1800`)
	require.Contains(t, data.out, `"restSeconds": 1800`)
}
