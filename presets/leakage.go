package presets

import (
	"fmt"
	"slices"

	"lookgate/presets/finding"
	"lookgate/presets/power"
	"lookgate/presets/units"
)

// residuals are the usual ratings of residual-current devices (IEC 60755 and 61008-1, from memory).
var residuals = []units.Amps{0.006, 0.01, 0.03, 0.1, 0.3, 0.5, 1}

// leaks finds the residual-current devices behind which more leaks in normal use than lets them hold, and says of which nothing can be said.
func (p *Plan) leaks() []finding.Finding {
	var fs []finding.Finding
	devices := p.Power.Leakage()
	if len(devices) == 0 {
		return []finding.Finding{p.note("site", p.Rig.Name, "the rig names no residual-current device: earth leakage is held against none",
			"give residual_ma of the circuits and boards that have one")}
	}
	for _, d := range devices {
		if d.Sum > d.Limit {
			fs = append(fs, p.leakageOver(d))
		}
	}
	return append(fs, p.leaksUnknown(devices)...)
}

func (p *Plan) leakageOver(d power.Leakage) finding.Finding {
	place, what := p.legsPlace(d.Board), "the panels behind its residual-current device"
	if d.Circuit >= 0 {
		place, what = finding.Place{Kind: "circuit", Name: p.Rig.Circuits[d.Circuit].Name}, "its panels"
	}
	f := finding.New(finding.LeakageOver, place, fmt.Sprintf("%s leak %s, and a device of %s holds for certain only up to %s: it may trip without a fault",
		what, milli(d.Sum), milli(d.Residual), milli(d.Limit)))
	f.Computed, f.Limit = units.InMilliamps(d.Sum), units.InMilliamps(d.Limit)
	if d.Circuit >= 0 {
		f.Remedies = p.leakLess(d)
	} else {
		f.Remedies = append(f.Remedies, later("a residual-current device for each circuit in place of the board's"))
	}
	for _, r := range residuals {
		if float64(r)*float64(power.LeakageShare) >= float64(d.Sum) {
			f.Remedies = append(f.Remedies, later("a residual-current device of %s, where the rules for the place allow it", milli(r)))
			break
		}
	}
	return f
}

// leakLess says how many panels a circuit's device holds.
func (p *Plan) leakLess(d power.Leakage) []finding.Remedy {
	panels := p.Rig.Circuits[d.Circuit].Panels
	n, sum := 0, units.Amps(0)
	for _, panel := range panels {
		if sum += p.Rig.PanelTypes[p.Rig.Panels[panel].Type].Leakage; sum > d.Limit {
			break
		}
		n++
	}
	return moveFrom(n, len(panels))
}

// moveFrom says that a chain is to end after n of all its panels.
func moveFrom(n, all int) []finding.Remedy {
	if n <= 0 || n >= all {
		return nil
	}
	return []finding.Remedy{later("move the last %d of its %d panels to another circuit", all-n, all)}
}

// milli prints a small current: "13.5 mA".
func milli(a units.Amps) string { return units.InMilliamps(a).String() }

// leaksUnknown says which panel types' leakage is not known though a device has them behind it, and which boards' devices have other loads behind them.
func (p *Plan) leaksUnknown(devices []power.Leakage) []finding.Finding {
	var kinds []int
	var fs []finding.Finding
	for _, d := range devices {
		kinds = append(kinds, d.Unknown...)
	}
	slices.Sort(kinds)
	for _, k := range slices.Compact(kinds) {
		fs = append(fs, p.note("panel type", p.Rig.PanelTypes[k].Name, "its earth leakage is not known: whether residual-current devices hold behind which it stands is not assessed",
			"give its earth leakage in the rig, as measured or as the maker has it"))
	}
	for _, d := range devices {
		if len(d.Loads) > 0 {
			fs = append(fs, p.note("board", p.Rig.Boards[d.Board].Name, fmt.Sprintf("%s behind its residual-current device: what leaks there is not counted", are(len(d.Loads))),
				"have it measured with the panels off and the other loads on"))
		}
	}
	return fs
}

func are(loads int) string {
	if loads == 1 {
		return "1 other load is"
	}
	return fmt.Sprintf("%d other loads are", loads)
}

// note makes a finding of what is not assessed.
func (p *Plan) note(kind, name, sentence, remedy string) finding.Finding {
	f := finding.New(finding.Unassessed, finding.Place{Kind: kind, Name: name}, sentence)
	f.Remedies = []finding.Remedy{later("%s", remedy)}
	return f
}
