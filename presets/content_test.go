package presets_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// TestAStatedMeanCountsPrimaryByPrimary works sums by hand: 160 W from black to white, of which red makes 60, green 70 and blue 30.
func TestAStatedMeanCountsPrimaryByPrimary(t *testing.T) {
	for name, row := range map[string]struct {
		content presets.Content
		part    units.Share
	}{
		"a red wall":      {presets.Content{Red: 1}, 60.0 / 160},
		"a blue wall":     {presets.Content{Blue: 1}, 30.0 / 160},
		"half white":      {presets.Content{Red: 0.5, Green: 0.5, Blue: 0.5}, 0.5},
		"amber":           {presets.Content{Red: 0.8, Green: 0.4}, (48.0 + 28) / 160},
		"black all along": {presets.Content{}, 0},
	} {
		r, preset := bench(), full()
		r.Credit = &rig.Decision{Reason: "measured", By: "R. Ames"}
		r.PanelTypes[0].Black, r.PanelTypes[0].White = 20, 180
		r.PanelTypes[0].Red, r.PanelTypes[0].Green, r.PanelTypes[0].Blue = 60, 70, 30
		preset.Zones[0].Content = &row.content
		v := presets.Check(presets.NewPlan(r, nil), preset, presets.Conditions{})
		require.InDelta(t, float64(row.part), float64(v.Credit.Content[0]), 1e-12, name)
		require.InDelta(t, 16*(20+160*float64(row.part))/100, float64(v.Conductors[0].Worst), 1e-9, name)
		require.InDelta(t, 16*180.0/100, float64(v.Credit.Full[0]), 1e-9, name)
	}
}

func TestWithoutPrimariesTheBrightestMeanCountsForAll(t *testing.T) {
	r, preset := bench(), full()
	r.Credit = &rig.Decision{Reason: "measured", By: "R. Ames"}
	preset.Zones[0].Content = &presets.Content{Red: 0.3, Green: 0.6, Blue: 0.1}
	v := presets.Check(presets.NewPlan(r, nil), preset, presets.Conditions{})
	require.InDelta(t, 0.6, float64(v.Credit.Content[0]), 1e-12)
	require.Equal(t, units.Share(1), v.Credit.Content[1], "the other zone states nothing")
}

func TestAStatedMeanCountsOnlyWhereTheRigLetsIt(t *testing.T) {
	r, preset := bench(), full()
	r.PanelTypes[0].White = 200
	preset.Zones[0].Content, preset.Zones[1].Content = &presets.Content{}, &presets.Content{}
	v := presets.Check(presets.NewPlan(r, nil), preset, presets.Conditions{})
	require.Nil(t, v.Credit)
	require.False(t, v.Admitted)
}

// TestASilentDeviceHasNoCredit: it may have missed the new picture, and show the one before.
func TestASilentDeviceHasNoCredit(t *testing.T) {
	r, preset := bench(), full()
	r.Credit = &rig.Decision{Reason: "measured", By: "R. Ames"}
	preset.Zones[0].Content, preset.Zones[1].Content = &presets.Content{Red: 0.1}, &presets.Content{Red: 0.1}
	require.InDelta(t, 1.6, float64(presets.Check(presets.NewPlan(r, nil), preset, presets.Conditions{}).Conductors[0].Worst), 1e-9)
	r.Devices[r.Outputs[0].Device].Class, r.Devices[r.Outputs[0].Device].Repeats = rig.Silent, 3
	v := presets.Check(presets.NewPlan(r, nil), preset, presets.Conditions{})
	require.InDelta(t, 16, float64(v.Conductors[0].Worst), 1e-9)
	r.Devices[r.Outputs[1].Device].Class = rig.Silent
	require.Nil(t, presets.Check(presets.NewPlan(r, nil), preset, presets.Conditions{}).Credit, "no output is on credit")
}

// TestARestartIsNotOnCredit: a device that comes up by itself shows whatever it shows, so its restart level counts at full white.
func TestARestartIsNotOnCredit(t *testing.T) {
	r, preset := bench(), full()
	r.Credit = &rig.Decision{Reason: "measured", By: "R. Ames"}
	r.Devices[0].Restart = 0.5
	preset.Zones[0].Content = &presets.Content{Red: 0.1, Green: 0.1, Blue: 0.1}
	v := presets.Check(presets.NewPlan(r, nil), preset, presets.Conditions{})
	require.InDelta(t, 8, float64(v.Conductors[0].Worst), 1e-9, "half of 16 A, not a tenth")
}
