package main

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/finding"
	"lookgate/presets/units"
)

func TestWrappedKeepsWordsWhole(t *testing.T) {
	text := wrapped(strings.Repeat("eleven char ", 20), "  ! ", "    ")
	for _, line := range strings.Split(strings.TrimSuffix(text, "\n"), "\n") {
		require.LessOrEqual(t, len(line), pageWidth)
		require.False(t, strings.HasSuffix(line, " "))
	}
	long := strings.Repeat("x", 150)
	require.Equal(t, "- "+long+"\n", wrapped(long, "- ", "  "), "a word that fits nowhere stands as it is")
}

func TestFindingsAlikeAreCounted(t *testing.T) {
	var fs []finding.Finding
	for i, name := range strings.Fields("B1 B2 B3 B4 B5 B6 B7 B8 B9 B10 B11") {
		f := finding.New(finding.CircuitOver, finding.Place{Kind: "circuit", Name: name}, "it is "+name)
		f.Computed, f.Limit = units.InAmps(units.Amps(17+i%3)), units.InAmps(16)
		f.Remedies = []finding.Remedy{{When: finding.Later, Words: "rewire " + name}}
		fs = append(fs, f)
	}
	other := finding.New(finding.WindowOutside, finding.Place{Kind: "window", Name: "1"}, "it is outside")
	require.Equal(t, strings.TrimPrefix(`
  ✗ circuit-over, circuit B3: it is B3
      later: rewire B3
  and 10 more circuit-over: circuit B1, B2, B4, B5, B6, B7, B8, B9, and so on (-all)
  ✗ window-outside, window 1: it is outside
`, "\n"), drawFindings(append(fs, other), false))
	require.Equal(t, 12, strings.Count(drawFindings(append(fs, other), true), "✗"))
}

func TestLevelWords(t *testing.T) {
	require.Equal(t, "outputs: a at 50 %, cap 60 %; b to c at 20 %", levelWords(presetReport{Outputs: []outputReport{{"a", 0.5, 0.6}, {"b", 0.2, 0.2}, {"c", 0.2, 0.2}}}))
	require.Equal(t, "outputs: all at 20 %", levelWords(presetReport{Outputs: []outputReport{{"b", 0.2, 0.2}, {"c", 0.2, 0.2}}}))
}
