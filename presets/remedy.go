package presets

import (
	"fmt"
	"slices"

	"lookgate/presets/finding"
	"lookgate/presets/units"
)

// answers lists the codes that a lower scale of the preset can answer.
var answers = []finding.Code{finding.CircuitOver, finding.CableOver, finding.LegOver, finding.NeutralOver, finding.RestartLoad, finding.AutoDark, finding.AboveTime, finding.Collapse,
	finding.CapacityOver, finding.StepOver}

// addRemedies gives every finding of power what would answer it: first the command for now, then what can be wired or edited later.
func (p *Plan) addRemedies(v *Verdict, preset *Preset, c Conditions, b box, shown []finding.Finding) {
	lower := p.recallLower(v, preset, c, shown)
	shared := append(slices.Clone(lower), p.lowerCaps(preset, b, c)...)
	at := p.conductorsByPlace()
	for i := range v.Findings {
		f := &v.Findings[i]
		if f.Code == finding.AboveTime {
			f.Remedies = append(slices.Clone(lower), p.aboveRemedies(f, preset, c)...)
			continue
		}
		if !slices.Contains(answers, f.Code) {
			continue
		}
		if f.Place == p.supplyPlace() {
			f.Remedies = append(lowerOrShared(f.Code, lower, shared), p.supplyRemedies(*f, preset, b, c)...)
			continue
		}
		f.Remedies = append(f.Remedies, shared...)
		conductor := at[f.Place]
		switch f.Code {
		case finding.Collapse: // what it says already
		case finding.AutoDark:
			f.Remedies = append(f.Remedies, p.lowerFixed(preset, c)...)
		case finding.RestartLoad:
			f.Remedies = append(f.Remedies, p.lowerRestarts(b, c, conductor)...)
			f.Remedies = append(f.Remedies, p.rewire(conductor, b.judged, v.Conductors[conductor].Worst)...)
		default:
			f.Remedies = append(f.Remedies, p.rewire(conductor, p.countedOn(conductor, b), v.Conductors[conductor].Worst)...)
		}
	}
}

// countedOn gives the levels that count on a conductor.
func (p *Plan) countedOn(conductor int, b box) []units.Level {
	if p.Void[conductor] {
		return b.loads
	}
	return b.judged
}

func (p *Plan) conductorsByPlace() map[finding.Place]int {
	at := map[finding.Place]int{}
	for i, c := range p.Power.Conductors() {
		at[placeOf(c)] = i
	}
	return at
}

// recallLower gives the command that recalls the preset at the highest whole per cent that passes, below the scale that was refused. It is offered only
// after it was judged whole and admitted, and only where it leaves light on what the preset lights.
func (p *Plan) recallLower(v *Verdict, preset *Preset, c Conditions, shown []finding.Finding) []finding.Remedy {
	for _, f := range v.Findings {
		if f.Severity == finding.Refuse && !slices.Contains(answers, f.Code) {
			return nil // no scale changes that
		}
	}
	admitted := func(n int) bool {
		at, _ := p.judge(preset, Conditions{LockedOff: c.LockedOff, Above: c.Above, Scale: units.Level(n) / 100}, shown)
		return at.Admitted
	}
	top := 99
	if c.Scale > 0 {
		top = min(top, c.Scale.Index(100))
	}
	n := lastThatPasses(top-1, func(k int) bool { return admitted(k + 1) }) + 1
	if n == 0 {
		return nil
	}
	level := units.Level(n) / 100
	if b := p.box(preset, Conditions{LockedOff: c.LockedOff, Scale: level}); !anyLit(b.caps) {
		return nil
	}
	return []finding.Remedy{{When: finding.Now, Words: fmt.Sprintf("recall %q at %d %%", preset.Name, n),
		Do: &finding.Do{Verb: "recall", Target: preset.Name, Level: &level}}}
}

func anyLit(levels []units.Level) bool {
	return slices.ContainsFunc(levels, func(l units.Level) bool { return l > 0 })
}

func later(words string, args ...any) finding.Remedy {
	return finding.Remedy{When: finding.Later, Words: fmt.Sprintf(words, args...)}
}

// lowerCaps says so where the preset passes with every cap at its level.
func (p *Plan) lowerCaps(preset *Preset, b box, c Conditions) []finding.Remedy {
	if slices.Equal(b.levels, b.caps) {
		return nil
	}
	lower := p.box(preset.withFixed(func(z ZoneLevel) ZoneLevel { z.Cap = z.Level; return z }), c)
	if !p.passes(lower.loads, lower.judged, c) || len(lower.darkened()) > 0 {
		return nil
	}
	return []finding.Remedy{later("with every cap at its level the plant carries it")}
}

// lowerFixed says how far the fixed zones would have to go down for the automatic ones to get light.
func (p *Plan) lowerFixed(preset *Preset, c Conditions) []finding.Remedy {
	n := lastThatPasses(99, func(n int) bool {
		share := units.Level(n) / 100
		b := p.box(preset.withFixed(func(z ZoneLevel) ZoneLevel { z.Level, z.Cap = z.Level*share, z.Cap*share; return z }), c)
		return p.passes(b.loads, b.judged, c) && len(b.darkened()) == 0
	})
	if n < 0 {
		return nil
	}
	return []finding.Remedy{later("store its fixed zones at %d %% of their levels", n)}
}

// withFixed gives a copy of a preset with its fixed zones changed.
func (preset *Preset) withFixed(change func(ZoneLevel) ZoneLevel) *Preset {
	changed := *preset
	changed.Zones = slices.Clone(preset.Zones)
	for i, z := range changed.Zones {
		if !z.Auto {
			changed.Zones[i] = change(z)
		}
	}
	return &changed
}
