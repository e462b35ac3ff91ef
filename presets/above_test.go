package presets_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets"
	"lookgate/presets/finding"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// lending is the bench with panels that take a circuit of 16 to 17.6 A: above 80 % of its 20 A breaker, and below the breaker's rating.
func lending() (*rig.Rig, *presets.Preset) {
	r, p := bench(), full()
	r.PanelTypes[0].White, p.Above = 110, 30*time.Minute
	for i := range r.Circuits {
		r.Circuits[i].Above = &rig.AboveContinuous{For: 45 * time.Minute, Rest: 30 * time.Minute}
	}
	return r, p
}

// left gives both circuits so much of their time.
func left(d time.Duration) presets.Conditions {
	return presets.Conditions{Above: []presets.Allowance{{Left: d, Rested: 10 * time.Minute}, {Left: 45 * time.Minute}}}
}

func TestAPresetGoesAboveTheContinuousLimitForAStatedTime(t *testing.T) {
	rows := []struct {
		name     string
		change   func(r *rig.Rig, p *presets.Preset)
		with     presets.Conditions
		admitted bool
		above    []int
		code     finding.Code
	}{
		{"it states a time, and the rig allows it", func(*rig.Rig, *presets.Preset) {}, presets.Conditions{}, true, []int{0, 1}, ""},
		{"it states none", func(_ *rig.Rig, p *presets.Preset) { p.Above = 0 }, presets.Conditions{}, false, nil, finding.CircuitOver},
		{"the rig allows none", func(r *rig.Rig, _ *presets.Preset) { r.Circuits[0].Above = nil }, presets.Conditions{}, false, []int{1}, finding.CircuitOver},
		{"a cable that an exception lets stand behind a larger breaker keeps its rating", func(r *rig.Rig, _ *presets.Preset) {
			r.Circuits[0].HomeRun, r.Circuits[0].Exception = 17, &rig.Decision{Reason: "short run", By: "R. Ames"}
		}, presets.Conditions{}, false, []int{0, 1}, finding.CableOver},
		{"a main keeps its limit", func(r *rig.Rig, _ *presets.Preset) { r.Boards[0].Main = 35 }, presets.Conditions{}, false, []int{0, 1}, finding.LegOver},
		{"just enough is left", func(*rig.Rig, *presets.Preset) {}, left(30 * time.Minute), true, []int{0, 1}, ""},
		{"a moment too little is left", func(*rig.Rig, *presets.Preset) {}, left(30*time.Minute - 1), false, []int{0, 1}, finding.AboveTime},
		{"at a scale that needs none of it", func(*rig.Rig, *presets.Preset) {}, presets.Conditions{Scale: 0.9, Above: left(0).Above}, true, nil, ""},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			r, p := lending()
			row.change(r, p)
			v := presets.Check(presets.NewPlan(r, nil), p, row.with)
			require.Equal(t, row.admitted, v.Admitted, "%v", v.Findings)
			require.Equal(t, row.above, v.Above)
			if row.code != "" {
				require.Equal(t, row.code, v.Findings[0].Code)
			}
			require.Equal(t, row.admitted, presets.Admit(presets.NewPlan(r, nil), p, row.with).Admitted)
		})
	}
}

func TestTooLittleTimeSaysWhenThereIsMoreAndWhatPassesNow(t *testing.T) {
	r, p := lending()
	plan := presets.NewPlan(r, nil)
	v := presets.Check(plan, p, left(12*time.Minute))
	require.Len(t, v.Findings, 1)
	f := v.Findings[0]
	require.Equal(t, "it would be above its continuous limit for 30 min, and 12 min are left of 45 min; it has rested after 10 min at or below the limit", f.Sentence)
	require.Equal(t, units.InSeconds(12*time.Minute), f.Limit)
	require.Len(t, f.Remedies, 2)
	require.Equal(t, `recall "full" at 90 %`, f.Remedies[0].Words) // 90 % of 17.6 A is 15.84 A, 91 % is 16.02 A
	now := left(12 * time.Minute)
	now.Scale = *f.Remedies[0].Do.Level
	lower := presets.Check(plan, p, now)
	require.True(t, lower.Admitted)
	require.Empty(t, lower.Above)
	require.Equal(t, "recall it again after 10 min at or below the limit", f.Remedies[1].Words)
}

func TestTheLimitOfAWhileIsTold(t *testing.T) {
	r, p := lending()
	v := presets.Check(presets.NewPlan(r, nil), p, presets.Conditions{})
	require.Equal(t, presets.ConductorLoad{Conductor: 0, Worst: v.Conductors[0].Worst, Limit: 20, For: 30 * time.Minute}, v.Conductors[0])
	require.Zero(t, v.Conductors[2].For, "a leg has no such time")
}

func TestADeratedBreakerLendsNothing(t *testing.T) {
	r, p := lending()
	book := &presets.Book{Presets: []presets.Preset{*p}}
	plan, c := presets.NewPlan(r, book).Under(presets.WhatIf{Derate: 0.95})
	v := presets.Check(plan, &book.Presets[0], c)
	require.False(t, v.Admitted)
	require.Empty(t, v.Above)
	require.Equal(t, finding.CircuitOver, v.Findings[0].Code)
}
