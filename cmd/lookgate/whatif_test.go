package main

import (
	"encoding/json"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestCheckAnswersWhatIf(t *testing.T) {
	demo := filepath.Join(sites, "demo")
	r := runWith("check", demo, "-derate", "80%", "-supply-volts", "110", "-out", "B3")
	require.Empty(t, r.err)
	require.Equal(t, exitRefused, r.status)
	requireGolden(t, "whatif-demo.txt", r.out)
}

// TestWhatFallsIsWhatIsRefused holds the list of presets that fall against two plain checks.
func TestWhatFallsIsWhatIsRefused(t *testing.T) {
	demo := filepath.Join(sites, "demo")
	of := func(args ...string) (r report) {
		require.NoError(t, json.Unmarshal([]byte(runWith(append([]string{"check", demo, "-json"}, args...)...).out), &r))
		return r
	}
	built, weak := of(), of("-derate", "0.7")
	require.Nil(t, built.WhatIf)
	fell := map[int]bool{}
	for i, p := range weak.Presets {
		if built.Presets[i].Admitted && !p.Admitted {
			fell[p.Number] = true
		}
	}
	require.NotEmpty(t, fell)
	told := map[int]bool{}
	for _, c := range weak.WhatIf.Changes {
		if c.AdmittedThen && !c.AdmittedNow {
			told[c.Number] = true
			require.Less(t, c.CapNow, 1.0)
			require.Greater(t, c.CapThen, c.CapNow)
		}
	}
	require.Equal(t, fell, told)
}

func TestWhatIfIsRefusedWithAWord(t *testing.T) {
	demo := filepath.Join(sites, "demo")
	for name, c := range map[string]struct {
		args []string
		want string
	}{
		"circuit":  {[]string{"-out", "Z99"}, "-out: the rig has no circuit \"Z99\"\nwrite names as rig.yaml has them, with commas between\n"},
		"derate":   {[]string{"-derate", "120%"}, "-derate: \"120%\" is no part of a limit\nwrite one above 0 and at most 1, as 90% or 0.9\n"},
		"no part":  {[]string{"-derate", "NaN"}, "-derate: \"NaN\" is no part of a limit\nwrite one above 0 and at most 1, as 90% or 0.9\n"},
		"no volts": {[]string{"-supply-volts", "-5"}, "-supply-volts: \"-5\" is no supply\nwrite the volts from line to neutral, as 117\n"},
		"0 volts":  {[]string{"-supply-volts", "0"}, "-supply-volts: \"0\" is no supply\nwrite the volts from line to neutral, as 117\n"},
		"no name":  {[]string{"-out", "B3,"}, "-out: the rig has no circuit \"\"\nwrite names as rig.yaml has them, with commas between\n"},
	} {
		t.Run(name, func(t *testing.T) {
			r := runWith(append([]string{"check", demo}, c.args...)...)
			require.Equal(t, exitUsage, r.status)
			require.Empty(t, r.out)
			require.Equal(t, c.want, r.err)
		})
	}
}
