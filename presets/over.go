package presets

import (
	"fmt"
	"strings"

	"lookgate/presets/finding"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// codeOf gives the code of an overload on a conductor of that kind.
func codeOf(k rig.Kind) finding.Code {
	switch k {
	case rig.CircuitWire:
		return finding.CircuitOver
	case rig.CableWire, rig.FeederWire:
		return finding.CableOver
	case rig.BoardLeg, rig.SupplyLeg:
		return finding.LegOver
	default:
		return finding.NeutralOver
	}
}

// overloads finds every conductor that the preset carries over its limit, by itself or once restarts count.
func (p *Plan) overloads(b box, l load) []finding.Finding {
	var fs []finding.Finding
	for i, c := range p.Power.Conductors() {
		switch {
		case l.over[i]:
			fs = append(fs, overload(codeOf(c.Kind), c, l.worst[i], ""))
		case l.overAgain[i]:
			fs = append(fs, overload(finding.RestartLoad, c, l.worst[i], p.restartingOn(b, i)))
		}
	}
	return fs
}

func overload(code finding.Code, c rig.Conductor, worst units.Amps, when string) finding.Finding {
	f := finding.New(code, placeOf(c), fmt.Sprintf("%sit would carry %s (%s)", when, against(worst, c.Limit), c.By))
	f.Computed, f.Limit = units.InAmps(worst), units.InAmps(c.Limit)
	return f
}

// restartingOn says which devices count at their restart levels on a conductor.
func (p *Plan) restartingOn(b box, conductor int) string {
	names := p.devicesOf(p.outputsOn(conductor), func(o int) bool { return p.restart[o] > b.loads[o] })
	return fmt.Sprintf("if %s restarted while it is on, ", strings.Join(names, " or "))
}

// devicesOf names the devices of those outputs that are meant, each once, in the rig's order.
func (p *Plan) devicesOf(outputs []int, meant func(int) bool) []string {
	has := make([]bool, len(p.Rig.Devices))
	for _, o := range outputs {
		if meant(o) {
			has[p.Rig.Outputs[o].Device] = true
		}
	}
	var names []string
	for i, d := range p.Rig.Devices {
		if has[i] {
			names = append(names, d.Name)
		}
	}
	return names
}

// autoDark finds automatic zones for which what the preset fixes leaves no light.
func (p *Plan) autoDark(preset *Preset, b box) (finding.Finding, bool) {
	dark := b.darkened()
	if len(dark) == 0 {
		return finding.Finding{}, false
	}
	binds := ""
	if b.binds >= 0 {
		binds = ", since " + placeOf(p.Power.Conductors()[b.binds]).String() + " has no room"
	}
	f := finding.New(finding.AutoDark, finding.Place{Kind: "zone", Name: strings.Join(p.autoZonesOf(preset, dark), ", ")},
		fmt.Sprintf("what the preset fixes leaves no level above 0 for it%s", binds))
	o := dark[0]
	step := units.Level(0)
	if p.steps(o) > 0 {
		step = 1 / units.Level(p.steps(o))
	}
	f.Computed, f.Limit = units.InLevel(0), units.InLevel(step)
	return f, true
}

// autoZonesOf names the automatic zones of a preset that have one of the outputs.
func (p *Plan) autoZonesOf(preset *Preset, outputs []int) []string {
	in := make([]bool, len(p.Rig.Outputs))
	for _, o := range outputs {
		in[o] = true
	}
	var names []string
	for _, z := range preset.Zones {
		zone := p.Rig.Zones[z.Zone]
		for _, o := range zone.Outputs {
			if z.Auto && in[o] {
				names = append(names, zone.Name)
				break
			}
		}
	}
	return names
}
