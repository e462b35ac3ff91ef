package presets_test

import (
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/require"

	"lookgate/presets"
	"lookgate/presets/power"
	"lookgate/presets/rig/rigtest"
	"lookgate/presets/units"
)

func TestDrawConductors(t *testing.T) {
	m := power.New(rigtest.Wye())
	var loads []presets.ConductorLoad
	worst := []units.Amps{14.4, 12, 12.01, 2.4, 15.9, 70, 47.9, 0, 64, 0, 0, 0, 0}
	for i, c := range m.Conductors() {
		loads = append(loads, presets.ConductorLoad{Conductor: i, Worst: worst[i], Limit: c.Limit, Void: i == 8})
	}
	require.Equal(t, strings.TrimPrefix(`
  circuit A1   14.4 / 12.0 A  ████████████████████│████ 120 %      -2.4 A  breaker 15 A × 80 %
  circuit A5   12.0 / 12.0 A  ████████████████████│▏    101 %     -0.01 A  breaker 15 A × 80 %
  circuit A4   12.0 / 12.0 A  ████████████████████│     100 %      +0.0 A  breaker 15 A × 80 %
  circuit A9   15.9 / 16.0 A  ███████████████████▉│      99 %      +0.1 A  breaker 20 A × 80 %
  1 more circuit at 15 % or less, the highest: circuit A2, 2.4 A of 16.0 A
  leg A L1     70.0 / 80.0 A  █████████████████▌··│      88 %     +10.0 A  main 100 A × 80 %
  neutral A N  64.0 / 80.0 A  ████████████████····│      80 %  no promise  neutral 100 A × 80 %
  6 more legs and neutrals at 60 % or less, the highest: leg A L2, 47.9 A of 80.0 A
`, "\n"), presets.DrawConductors(m, loads, presets.DrawOptions{}))
}

func TestDrawShowsAllInOrderWhenAsked(t *testing.T) {
	r := rigtest.Wye()
	p := presets.NewPlan(r, nil)
	v := presets.Check(p, &presets.Preset{Number: 1, Name: "x", Zones: []presets.ZoneLevel{{Zone: 0, Level: 1}}}, presets.Conditions{})
	lines := strings.Split(strings.TrimSpace(presets.DrawConductors(p.Power, v.Conductors, presets.DrawOptions{All: true})), "\n")
	require.Len(t, lines, len(p.Power.Conductors()))
	for i, c := range p.Power.Conductors() {
		require.Contains(t, lines[i], c.Name)
		require.LessOrEqual(t, utf8.RuneCountInString(lines[i]), 100)
	}
}

func TestDrawPutsAlikeTogetherAndStopsAtMost(t *testing.T) {
	r := rigtest.Wye()
	r.Devices[1].Restart = 0
	p := presets.NewPlan(r, nil)
	v := presets.Check(p, &presets.Preset{Zones: []presets.ZoneLevel{{Zone: 0, Level: 1}, {Zone: 1, Level: 1}}}, presets.Conditions{})
	lines := strings.Split(presets.DrawConductors(p.Power, v.Conductors, presets.DrawOptions{Most: 1}), "\n")
	require.Contains(t, lines[0], "circuit A1 and 2 alike  14.4 / 12.0 A")
	require.Contains(t, lines[1], "2 more circuits at 78 % or less, the highest: circuit A2, 12.5 A of 16.0 A")
	require.Empty(t, presets.DrawConductors(p.Power, nil, presets.DrawOptions{}))
}
