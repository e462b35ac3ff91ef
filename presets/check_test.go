package presets_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets"
	"lookgate/presets/finding"
	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/rig/rigtest"
	"lookgate/presets/units"
)

// randomPreset lights some zones, some of them automatic and some with caps above their levels.
func randomPreset(rng *rand.Rand, r *rig.Rig) *presets.Preset {
	p := &presets.Preset{Number: 1, Name: "look"}
	for z := range r.Zones {
		if rng.IntN(4) == 0 {
			continue
		}
		level := units.Level(rng.Float64())
		zl := presets.ZoneLevel{Zone: z, Level: level, Auto: rng.IntN(4) == 0}
		if rng.IntN(3) == 0 {
			zl.Cap = level + (1-level)*units.Level(rng.Float64())
		}
		p.Zones = append(p.Zones, zl)
	}
	return p
}

// randomCase gives a rig whose limits are near what a preset draws, so that about as many are refused as admitted.
func randomCase(seed uint64) (*rig.Rig, *presets.Preset, presets.Conditions) {
	rng := rand.New(rand.NewPCG(seed, 2))
	r := rigtest.Random(rng, 1+rng.IntN(6))
	for i := range r.Devices {
		r.Devices[i].Restart *= units.Level([]float64{0, 0.3, 1}[rng.IntN(3)])
	}
	for i := range r.Circuits {
		r.Circuits[i].Breaker += units.Amps(rng.IntN(8))
		r.Circuits[i].HomeRun, r.Circuits[i].Jumper = 30, 30
		if rng.IntN(6) == 0 {
			r.Circuits[i].HomeRun, r.Circuits[i].Exception = units.Amps(4+rng.IntN(8)), &rig.Decision{Reason: "drawn", By: "chance"}
		}
	}
	c := presets.Conditions{}
	if rng.IntN(3) == 0 {
		c.LockedOff = make([]bool, len(r.Circuits))
		c.LockedOff[rng.IntN(len(r.Circuits))] = true
	}
	for i := range r.PanelTypes {
		r.PanelTypes[i].FeedThrough = 63
	}
	return r, randomPreset(rng, r), c
}

// TestRemediesOfRandomPresets runs every remedy that is offered over random rigs and presets: a command for now is admitted as it stands and one per cent
// more is not; what is to be done later takes its finding away.
func TestRemediesOfRandomPresets(t *testing.T) {
	refused, now, later := 0, 0, 0
	for seed := range uint64(800) {
		r, preset, c := randomCase(seed)
		plan := presets.NewPlan(r, nil)
		v := presets.Check(plan, preset, c)
		require.Equal(t, v, presets.Check(presets.NewPlan(copied(t, r), nil), preset, c), "seed %d: the same twice", seed)
		require.Equal(t, v.Admitted, !finding.Refuses(v.Findings))
		if v.Admitted {
			continue
		}
		refused++
		for _, f := range v.Findings {
			for _, m := range f.Remedies {
				if m.When == finding.Now {
					now++
					requireHighest(t, plan, preset, c, *m.Do.Level, fmt.Sprintf("seed %d: %s", seed, m.Words))
					continue
				}
				later++
				h := hands{rig: copied(t, r), preset: copiedPreset(preset), place: f.Place}
				h.doLater(t, m.Words)
				after := presets.Check(presets.NewPlan(h.rig, nil), h.preset, lockedFor(c, h.rig))
				_, still := (pair{code: f.Code, place: f.Place}).find(after.Findings)
				require.False(t, still, "seed %d: %v: %s", seed, f, m.Words)
			}
		}
	}
	t.Logf("%d refused, %d commands for now, %d remedies for later", refused, now, later)
	require.Greater(t, refused, 300)
	require.Less(t, refused, 650)
	require.Greater(t, now, 500)
	require.Greater(t, later, 1000)
}

// lockedFor keeps the circuits' states where a remedy added a circuit.
func lockedFor(c presets.Conditions, r *rig.Rig) presets.Conditions {
	if c.LockedOff != nil {
		c.LockedOff = append(append([]bool{}, c.LockedOff...), make([]bool, len(r.Circuits)-len(c.LockedOff))...)
	}
	return c
}

func requireHighest(t *testing.T, p *presets.Plan, preset *presets.Preset, c presets.Conditions, scale units.Level, words string) {
	c.Scale = scale
	require.True(t, presets.Check(p, preset, c).Admitted, words)
	if c.Scale += 0.01; c.Scale < 0.995 {
		require.False(t, presets.Check(p, preset, c).Admitted, "%s: and one more passes too", words)
	}
}

// TestAdmittedMeansNoStateIsOver draws states inside the box of an admitted preset, restarts included, and computes each exactly.
func TestAdmittedMeansNoStateIsOver(t *testing.T) {
	admitted := 0
	for seed := range uint64(600) {
		r, preset, c := randomCase(seed)
		plan := presets.NewPlan(r, nil)
		v := presets.Check(plan, preset, c)
		if !v.Admitted {
			continue
		}
		admitted++
		rng := rand.New(rand.NewPCG(seed, 3))
		for range 30 {
			requireNoStateOver(t, plan, v, c, rng, seed)
		}
	}
	require.Greater(t, admitted, 100)
}

func requireNoStateOver(t *testing.T, p *presets.Plan, v presets.Verdict, c presets.Conditions, rng *rand.Rand, seed uint64) {
	restarted, plain := make([]units.Level, len(v.Caps)), make([]units.Level, len(v.Caps))
	for o, top := range v.Caps {
		plain[o] = top * units.Level([]float64{0, 0.5, 1}[rng.IntN(3)])
		restarted[o] = plain[o]
		if rng.IntN(2) == 0 {
			restarted[o] = p.Rig.Devices[p.Rig.Outputs[o].Device].Restart
		}
	}
	void := p.Power.At(power.State{Levels: plain, LockedOff: c.LockedOff}, nil)
	for i, at := range p.Power.At(power.State{Levels: restarted, LockedOff: c.LockedOff}, nil) {
		if p.Void[i] {
			at = void[i]
		}
		require.LessOrEqual(t, float64(at), float64(v.Conductors[i].Worst)+1e-9, "seed %d", seed)
		require.LessOrEqual(t, float64(v.Conductors[i].Worst), float64(v.Conductors[i].Limit), "seed %d", seed)
	}
}

// TestCapIsTheHighestScale holds the cap against running the check at it and a step above.
func TestCapIsTheHighestScale(t *testing.T) {
	bound := 0
	for seed := range uint64(400) {
		r, preset, c := randomCase(seed)
		for i := range preset.Zones {
			preset.Zones[i].Auto = false
		}
		p := presets.NewPlan(r, nil)
		v := presets.Check(p, preset, c)
		if v.Cap <= 0 || v.Cap >= 0.999 {
			continue
		}
		bound++
		require.GreaterOrEqual(t, v.Binding, 0, "seed %d", seed)
		at := func(tenths units.Share) []finding.Finding {
			fs := presets.Check(p, preset, presets.Conditions{LockedOff: c.LockedOff, Scale: units.Level(v.Cap + tenths/1000)}).Findings
			return fs
		}
		require.False(t, finding.Refuses(at(0)), "seed %d: %v", seed, at(0))
		require.NotEmpty(t, at(1), "seed %d", seed)
	}
	require.Greater(t, bound, 50)
}

func TestLevelsGoDownToStepsAndTheLastZoneWins(t *testing.T) {
	r := bench()
	r.Devices[0].Steps = 10
	r.Zones = append(r.Zones, rig.Zone{Name: "all", Outputs: []int{0, 1}})
	p := presets.NewPlan(r, nil)
	preset := &presets.Preset{Zones: []presets.ZoneLevel{{Zone: 0, Level: 1}, {Zone: 2, Level: 0.55, Cap: 0.7}, {Zone: 1, Level: 0.123456}}}
	v := presets.Check(p, preset, presets.Conditions{})
	require.Equal(t, []units.Level{0.5, 0.123}, v.Levels)
	require.Equal(t, []units.Level{0.7, 0.123}, v.Caps, "a zone without a cap is capped at its level")
	half := presets.Check(p, preset, presets.Conditions{Scale: 0.5})
	require.Equal(t, []units.Level{0.2, 0.061}, half.Levels)
	require.Equal(t, []units.Level{0.3, 0.061}, half.Caps)
	dark := presets.Check(p, &presets.Preset{}, presets.Conditions{})
	require.True(t, dark.Admitted)
	require.Equal(t, []units.Level{0, 0}, dark.Levels, "an output in no zone is dark")
}

func TestAutoTakesWhatIsLeft(t *testing.T) {
	r := bench()
	r.Boards[0].Main = 24 // 16 A for the fixed zone leave 8 A, half of what the other draws
	preset := full()
	preset.Zones[1].Auto = true
	v := presets.Check(presets.NewPlan(r, nil), preset, presets.Conditions{})
	require.True(t, v.Admitted, v.Findings)
	require.Equal(t, []units.Level{1, 0.5}, v.Levels)
	require.Equal(t, v.Levels, v.Caps)

	r.Devices[1].Restart = 0.75 // counts 12 A instead: beside it the fixed zone does not pass, at any level of the automatic one
	v = presets.Check(presets.NewPlan(r, nil), preset, presets.Conditions{})
	require.False(t, v.Admitted)
	require.Equal(t, finding.RestartLoad, v.Findings[0].Code)
	require.Contains(t, v.Findings[0].Sentence, "if proc2 restarted while it is on, it would carry 28.0 A of at most 24.0 A")

	r.Devices[1].Restart, r.Boards[0].Main = 0.4, 24
	v = presets.Check(presets.NewPlan(r, nil), preset, presets.Conditions{})
	require.True(t, v.Admitted)
	require.Equal(t, units.Level(0.5), v.Levels[1], "a restart level below what it gets changes nothing")
}

// TestAutoGivesWayToARestart: of two automatic outputs one restarts brighter than it is to get, so the other has to leave it the room.
func TestAutoGivesWayToARestart(t *testing.T) {
	r := bench()
	r.Boards[0].Main = 16
	r.Devices[1].Restart = 0.5
	preset := full()
	preset.Zones[0].Auto = true
	preset.Zones[1].Auto, preset.Zones[1].Level = true, 0.1
	v := presets.Check(presets.NewPlan(r, nil), preset, presets.Conditions{})
	require.True(t, v.Admitted, v.Findings)
	require.Equal(t, []units.Level{0.5, 0.1}, v.Levels, "8 A at most on the one, while the other may come back at 8 A")
}

func TestLockedOffCircuitsCountNothing(t *testing.T) {
	r := bench()
	r.PanelTypes[0].White = 150
	r.Circuits[0].HomeRun = 10 // and its breaker does not protect it
	preset := full()
	preset.Zones = preset.Zones[:1]
	p := presets.NewPlan(r, nil)
	v := presets.Check(p, preset, presets.Conditions{})
	require.False(t, v.Admitted)
	require.Equal(t, []finding.Code{finding.BreakerOverRun, finding.CircuitOver, finding.CableOver}, codesOf(v.Findings))
	for _, f := range v.Findings {
		for _, m := range f.Remedies {
			require.Equal(t, finding.Later, m.When, "no scale makes a breaker protect a cable")
		}
	}
	require.True(t, presets.Check(p, preset, presets.Conditions{LockedOff: []bool{true, false}}).Admitted)
	require.Equal(t, []finding.Code{finding.BreakerOverRun, finding.Unassessed, finding.Unassessed}, codesOf(p.Findings()))
}

func TestPresetsThatLeaveAnUnprotectedCircuitDarkPass(t *testing.T) {
	r := bench()
	r.Circuits[0].HomeRun = 19
	preset := full()
	preset.Zones = preset.Zones[1:]
	require.True(t, presets.Check(presets.NewPlan(r, nil), preset, presets.Conditions{}).Admitted)
}

func TestAllFindingsNotTheFirst(t *testing.T) {
	r := bench()
	r.PanelTypes[0].White = 110
	r.Boards[0].Main = 30
	preset := full()
	preset.Windows[0].X = 1
	v := presets.Check(presets.NewPlan(r, nil), preset, presets.Conditions{})
	require.Equal(t, []finding.Code{finding.CircuitOver, finding.CircuitOver, finding.LegOver, finding.WindowOutside}, codesOf(v.Findings))
	for _, f := range v.Findings {
		for _, m := range f.Remedies {
			require.Equal(t, finding.Later, m.When, "no scale moves a window")
		}
	}
}

func TestRestartsDoNotCountOnVoidConductors(t *testing.T) {
	r := bench()
	r.Devices[0].Restart, r.Devices[1].Restart = 1, 1
	r.Boards[0].Main = 31 // 32 A if both restart
	p := presets.NewPlan(r, nil)
	require.Equal(t, []finding.Code{finding.RestartOver, finding.Unassessed, finding.Unassessed}, codesOf(p.Findings()))
	preset := full()
	preset.Zones[1].Level = 0.9
	v := presets.Check(p, preset, presets.Conditions{})
	require.True(t, v.Admitted, "30.4 A by itself: %v", v.Findings)
	for _, l := range v.Conductors {
		name := p.Power.Conductors()[l.Conductor].Name
		require.Equal(t, name == "A L1", l.Void, name)
		switch name {
		case "A L1":
			require.InDelta(t, 30.4, float64(l.Worst), 1e-9)
		case "service L1":
			require.InDelta(t, 32, float64(l.Worst), 1e-9, "restarts count where there is a promise")
		}
	}
	preset.Zones[1].Level = 1
	require.Equal(t, []finding.Code{finding.LegOver}, codesOf(presets.Check(p, preset, presets.Conditions{}).Findings), "by itself it must pass there too")
}

func TestARefusedScaleIsAnsweredBelowIt(t *testing.T) {
	r := bench()
	r.PanelTypes[0].White = 200
	v := presets.Check(presets.NewPlan(r, nil), full(), presets.Conditions{Scale: 0.6})
	require.False(t, v.Admitted)
	require.Equal(t, `recall "full" at 50 %`, v.Findings[0].Remedies[0].Words)
	require.Equal(t, units.Level(0.5), *v.Findings[0].Remedies[0].Do.Level)
}

func codesOf(fs []finding.Finding) []finding.Code {
	var cs []finding.Code
	for _, f := range fs {
		cs = append(cs, f.Code)
	}
	return cs
}
