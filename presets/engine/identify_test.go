package engine_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets/engine"
	"lookgate/presets/finding"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

func TestIdentifyLightsTheOutputsOfAPart(t *testing.T) {
	r := smallRig(rig.Numbered)
	r.DataRuns = []rig.DataRun{{Name: "run1", Port: 1, Panels: r.Outputs[1].Panels[:4]}}
	for _, row := range []struct {
		name   string
		part   engine.Part
		target string
		lit    []bool
		says   string
	}{
		{"a zone", engine.ZonePart, "left", []bool{true, false}, "is wing C1R1..C3R4"},
		{"an output", engine.OutputPart, r.Outputs[1].Name, []bool{false, true}, "is wing C4R1..C6R4"},
		{"a circuit that has an output for itself", engine.CircuitPart, r.Circuits[0].Name, []bool{true, false}, "is wing C1R1..C3R4"},
		{"a circuit that shares one", engine.CircuitPart, r.Circuits[1].Name, []bool{false, true}, "is wing C4R1..C5R4; 4 more panels light with it, since levels are per output"},
		{"a data run", engine.RunPart, "run1", []bool{false, true}, "is wing C4R1..C4R4; 8 more panels light with it, since levels are per output"},
		{"a panel", engine.PanelPart, "wing C2R3", []bool{true, false}, "is wing C2R3; 11 more panels light with it, since levels are per output"},
	} {
		t.Run(row.name, func(t *testing.T) {
			b := newBench(t, r)
			b.do(engine.Command{Verb: engine.Recall, Preset: 2})
			b.run(5 * time.Second)
			picture := b.picture[0]
			a := b.do(engine.Command{Verb: engine.Identify, Part: row.part, Target: row.target})
			require.Equal(t, engine.Accepted, a.Status)
			require.Equal(t, finding.LookThere, a.Findings[0].Code)
			require.Equal(t, row.says, a.Findings[0].Sentence)
			b.run(5 * time.Second)
			require.Equal(t, engine.On, b.ended(b.id))
			for o, lit := range row.lit {
				require.Equal(t, !lit, b.black[o], "output %d", o)
				if lit {
					require.Equal(t, units.Level(0.1), b.level[o])
				}
			}
			require.Equal(t, picture, b.picture[0], "the picture stays")
			v := b.e.View()
			require.Equal(t, "on", v.Look.State)
			require.Equal(t, string(row.part)+" "+row.target, v.Look.Identify)
			require.Equal(t, 2, v.Look.Previous)

			require.Equal(t, engine.Accepted, b.do(engine.Command{Verb: engine.Back}).Status)
			b.run(5 * time.Second)
			require.Equal(t, []units.Level{0.8, 0.2}, b.level)
			require.Equal(t, []bool{false, false}, b.black)
			require.Empty(t, b.e.View().Look.Identify)
		})
	}
}

func TestIdentifyOfWhatIsNotThere(t *testing.T) {
	b := newBench(t, smallRig(rig.Numbered))
	for _, row := range []struct {
		name   string
		part   engine.Part
		target string
		code   finding.Code
	}{
		{"zone", engine.ZonePart, "top", finding.UnknownZone},
		{"output", engine.OutputPart, "top", finding.UnknownOutput},
		{"circuit", engine.CircuitPart, "Z9", finding.UnknownCircuit},
		{"data run", engine.RunPart, "run9", finding.UnknownRun},
		{"panel beyond the wall", engine.PanelPart, "wing C7R1", finding.UnknownPanel},
		{"panel of no wall", engine.PanelPart, "C1R1", finding.UnknownPanel},
		{"kind of part", "leg", "A L1", finding.BadArguments},
		{"nothing", "", "", finding.BadArguments},
	} {
		t.Run(row.name, func(t *testing.T) {
			a := b.do(engine.Command{Verb: engine.Identify, Part: row.part, Target: row.target})
			require.Equal(t, engine.Refused, a.Status)
			require.Equal(t, row.code, a.Findings[0].Code)
			require.NotEmpty(t, a.Findings[0].Remedies)
		})
	}
	require.Empty(t, b.sent)
}

// TestIdentifyIsHeldToTheCircuits puts a load beside the wall that leaves it no room for more than black panels.
func TestIdentifyIsHeldToTheCircuits(t *testing.T) {
	r := smallRig(rig.Numbered)
	r.Loads = []rig.OtherLoad{{Name: "heater", Legs: []int{0, 1}, Current: 11, PF: 1}}
	b := newBench(t, r)
	a := b.do(engine.Command{Verb: engine.Identify, Part: engine.ZonePart, Target: "left"})
	require.Equal(t, engine.Refused, a.Status)
	require.Equal(t, finding.LegOver, a.Findings[0].Code)
	require.NotEmpty(t, a.Findings[0].Remedies)
	require.Empty(t, b.sent)
}

func TestIdentifyIsOnDiskBeforeItLights(t *testing.T) {
	b := newBench(t, smallRig(rig.Numbered))
	b.broken = "no space"
	a := b.do(engine.Command{Verb: engine.Identify, Part: engine.ZonePart, Target: "left"})
	require.Equal(t, engine.Failed, a.Status)
	require.Empty(t, b.sent)
}

// TestIdentifyIsKept starts an engine again from what the disk holds: the look is known by its part, and back still leads to the one before.
func TestIdentifyIsKept(t *testing.T) {
	r := smallRig(rig.Numbered)
	b := newBench(t, r)
	b.do(engine.Command{Verb: engine.Recall, Preset: 1})
	b.run(5 * time.Second)
	b.do(engine.Command{Verb: engine.Identify, Part: engine.CircuitPart, Target: r.Circuits[0].Name})
	b.run(5 * time.Second)
	again := engine.New(plan(r), engine.Settings{}, b.kept, 2)
	v := again.View()
	require.Equal(t, "circuit "+r.Circuits[0].Name, v.Look.Identify)
	require.Equal(t, 1, v.Look.Previous)
}

func proved(b *bench, circuit string) *engine.ProofView {
	for _, c := range b.e.View().Circuits {
		if c.Name == circuit {
			return c.Proved
		}
	}
	return nil
}

func TestProve(t *testing.T) {
	r := smallRig(rig.Numbered)
	b := newBench(t, r)
	first := r.Circuits[0].Name
	say := engine.Command{Verb: engine.Prove, Target: first, By: "R. Ames", Clock: 1_800_000_000}
	require.Nil(t, proved(b, first))

	a := b.do(say)
	require.Equal(t, engine.Refused, a.Status)
	require.Equal(t, finding.EngineerOnly, a.Findings[0].Code)
	for _, row := range []struct {
		name   string
		change func(*engine.Command)
		code   finding.Code
	}{
		{"a circuit that is not there", func(c *engine.Command) { c.Target = "Z9" }, finding.UnknownCircuit},
		{"a name that is too long", func(c *engine.Command) { c.By = strings.Repeat("x", 61) }, finding.BadArguments},
		{"a name in two lines", func(c *engine.Command) { c.By = "R.\nAmes" }, finding.BadArguments},
		{"taking back what is not proved", func(c *engine.Command) { c.Off = true }, finding.NotLockedOff},
	} {
		t.Run(row.name, func(t *testing.T) {
			c := say
			c.Engineer = true
			row.change(&c)
			a := b.do(c)
			require.Equal(t, engine.Refused, a.Status)
			require.Equal(t, row.code, a.Findings[0].Code)
			require.NotEmpty(t, a.Findings[0].Remedies)
		})
	}

	say.Engineer = true
	require.Equal(t, engine.Accepted, b.do(say).Status)
	require.Equal(t, engine.On, b.ended(b.id))
	require.Equal(t, &engine.ProofView{By: "R. Ames", Station: "test", When: 1_800_000_000}, proved(b, first))
	require.Nil(t, proved(b, r.Circuits[1].Name))
	require.Empty(t, b.sent, "nothing goes to a device")

	say.Off = true
	require.Equal(t, engine.Accepted, b.do(say).Status)
	require.Nil(t, proved(b, first))
	require.Empty(t, b.kept.Proofs)
}

func TestAProofIsNotTakenWhileTheDiskIsSick(t *testing.T) {
	r := smallRig(rig.Numbered)
	b := newBench(t, r)
	b.broken = "no space"
	b.do(engine.Command{Verb: engine.Recall, Preset: 1})
	a := b.do(engine.Command{Verb: engine.Prove, Engineer: true, Target: r.Circuits[0].Name})
	require.Equal(t, engine.Failed, a.Status)
	require.Nil(t, proved(b, r.Circuits[0].Name))
}

// TestAProofHoldsForWhatWasProved starts again, and reloads, with rigs in which a circuit is another: its proof is gone, and those of the others stay.
func TestAProofHoldsForWhatWasProved(t *testing.T) {
	for _, row := range []struct {
		name   string
		change func(*rig.Rig)
		gone   bool
	}{
		{"nothing", func(*rig.Rig) {}, false},
		{"the breaker's rating", func(r *rig.Rig) { r.Circuits[2].Breaker = 16 }, false},
		{"the order of feeding", func(r *rig.Rig) { p := r.Circuits[2].Panels; p[0], p[1] = p[1], p[0] }, false},
		{"its poles", func(r *rig.Rig) { r.Circuits[2].Poles = []int{5} }, true},
		{"its board", func(r *rig.Rig) { r.Boards[0].Name = "J" }, true},
		{"its panels", func(r *rig.Rig) {
			a, b := &r.Circuits[1], &r.Circuits[2]
			a.Panels, b.Panels = append(a.Panels, b.Panels[3]), b.Panels[:3]
		}, true},
	} {
		t.Run(row.name, func(t *testing.T) {
			r := smallRig(rig.Numbered)
			b := newBench(t, r)
			for _, c := range r.Circuits {
				require.Equal(t, engine.Accepted, b.do(engine.Command{Verb: engine.Prove, Engineer: true, Target: c.Name}).Status)
			}
			other := smallRig(rig.Numbered)
			row.change(other)
			again := engine.New(plan(other), engine.Settings{}, b.kept, 2).View()
			require.Equal(t, row.gone, again.Circuits[2].Proved == nil, "after a start")

			b.do(engine.Command{Verb: engine.Blackout})
			b.run(5 * time.Second)
			res := b.e.Step(b.now, engine.Reload{Command: engine.Command{ID: 99, Verb: engine.ReloadSite}, Plan: plan(other)})
			require.Equal(t, engine.Accepted, res.Answers[0].Status, "%+v", res.Answers[0].Findings)
			require.Equal(t, row.gone, b.e.View().Circuits[2].Proved == nil, "after a reload")
			told := false
			for _, e := range res.Events {
				told = told || e.Kind == "note" && e.Place.Name == r.Circuits[2].Name
			}
			require.Equal(t, row.gone, told)
		})
	}
}
