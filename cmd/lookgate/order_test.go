package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/require"

	"lookgate/presets/site"
)

// altered gives a copy of a shipped site with texts of its rig replaced, by pairs.
func altered(t *testing.T, of string, texts ...string) string {
	t.Helper()
	folder := t.TempDir()
	for _, name := range site.Files {
		text, err := os.ReadFile(filepath.Join(sites, of, name))
		require.NoError(t, err)
		if name == site.RigFile {
			for i := 0; i < len(texts); i += 2 {
				require.Contains(t, string(text), texts[i])
				text = []byte(strings.ReplaceAll(string(text), texts[i], texts[i+1]))
			}
		}
		require.NoError(t, os.WriteFile(filepath.Join(folder, name), text, 0o644))
	}
	return folder
}

// generatorHall is the IEC site on a generator, with no maker's word on how many panels a breaker may switch on, but a peak.
func generatorHall(t *testing.T, peak string) string {
	return altered(t, "iec",
		"main_a: 125, neutral_a: 125}", "main_a: 125, neutral_a: 125, from: generator, kva: 80, capacity_factor: 80%, kw: 64, step_kw: 2, settle: 8 s}",
		"inrush_peak_a: 4, inrush_us: 250, per_breaker: [{breaker_a: 16, curve: C, panels: 24}, {breaker_a: 10, curve: C, panels: 15}]",
		"inrush_peak_a: "+peak+", inrush_us: 200",
		"leakage_ma: 0.35", "leakage_ma: 0.9")
}

func TestOrderPrintsWhatTheGoldenFilesHold(t *testing.T) {
	for _, c := range []struct {
		golden, folder string
		args           []string
		status         int
	}{
		{"order-demo.txt", filepath.Join(sites, "demo"), nil, exitOK},
		{"order-generator.txt", generatorHall(t, "4"), nil, exitOK},
		{"order-over.txt", generatorHall(t, "9"), nil, exitRefused},
		{"order-circuit.txt", generatorHall(t, "4"), []string{"-circuit", "M4"}, exitRefused},
		{"order-circuit-demo.txt", filepath.Join(sites, "demo"), []string{"-circuit", "B7"}, exitOK},
	} {
		t.Run(c.golden, func(t *testing.T) {
			r := runWith(append([]string{"order", c.folder}, c.args...)...)
			require.Empty(t, r.err)
			require.Equal(t, c.status, r.status)
			requireGolden(t, c.golden, r.out)
			for _, line := range strings.Split(r.out, "\n") {
				require.LessOrEqual(t, utf8.RuneCountInString(line), pageWidth, line)
			}
		})
	}
}

func TestCheckOfAGeneratorPrintsWhatTheGoldenFileHolds(t *testing.T) {
	r := runWith("check", generatorHall(t, "4"))
	require.Empty(t, r.err)
	require.Equal(t, exitRefused, r.status)
	requireGolden(t, "check-generator.txt", r.out)
}

// TestOrderAsData holds the data against the text, and the pauses against the generator.
func TestOrderAsData(t *testing.T) {
	hall := generatorHall(t, "4")
	var r orderReport
	require.NoError(t, json.Unmarshal([]byte(runWith("order", hall, "-json").out), &r))
	text := runWith("order", hall).out
	require.Len(t, r.Steps, 12)
	require.Equal(t, 2000.0, r.StepW)
	require.Equal(t, 8.0, r.SettleS)
	for i, c := range r.Steps {
		require.Contains(t, text, c.Circuit+"  "+poleWords(c.Poles))
		require.NotNil(t, c.Surge)
		require.False(t, c.Surge.Over)
		sum := 0.0
		for _, b := range r.Steps[:i+1] {
			if b.AtS > c.AtS-r.SettleS {
				sum += b.LoadW
			}
		}
		require.LessOrEqual(t, sum, r.StepW)
	}
	var back backReport
	require.NoError(t, json.Unmarshal([]byte(runWith("order", hall, "-json", "-circuit", "M4").out), &back))
	require.Equal(t, ownReport{true, false, 20}, back.Own)
	require.Greater(t, back.Lit.Surge.PeakA, back.Black.Surge.PeakA)
}

func TestOrderIsRefusedWithAWord(t *testing.T) {
	r := runWith("order", filepath.Join(sites, "demo"), "-circuit", "Z99")
	require.Equal(t, exitUsage, r.status)
	require.Empty(t, r.out)
	require.Equal(t, "-circuit: the rig has no circuit \"Z99\"\nwrite its name as rig.yaml has it\n", r.err)
	require.Equal(t, exitBroken, runWith("order", t.TempDir()).status)
	require.Equal(t, exitUsage, runWith("order").status)
}
