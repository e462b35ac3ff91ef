package presets

import (
	"fmt"
	"slices"
	"strings"

	"lookgate/presets/finding"
	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// switchedOn finds the circuits whose own breakers may trip when they are closed, and says of which nothing can be said. No order of closing helps those.
func (p *Plan) switchedOn() []finding.Finding {
	var fs []finding.Finding
	var kinds, uncurved []int
	for _, s := range p.Power.SwitchOns() {
		switch {
		case s.Basis == power.NotKnown && len(s.Missing) == 0:
			uncurved = append(uncurved, s.Circuit)
		case s.Basis == power.NotKnown:
			kinds = append(kinds, s.Missing...)
		case s.Used > 1:
			fs = append(fs, p.inrushOver(s))
		}
	}
	slices.Sort(kinds)
	for _, k := range slices.Compact(kinds) {
		fs = append(fs, p.note("panel type", p.Rig.PanelTypes[k].Name, "no figure of panels a breaker that fits, and no inrush peak, is known: whether a breaker holds when it is closed on them is not assessed",
			"give its inrush peak or the maker's panels a breaker in the rig"))
	}
	if len(uncurved) > 0 {
		fs = append(fs, p.note("site", p.Rig.Name, fmt.Sprintf("no figure of panels a breaker fits, and the curve of the breaker is not known, on %s: whether it holds when it is closed is not assessed",
			p.circuitWords(uncurved)), "give the curves of the breakers in the rig"))
	}
	return fs
}

// inrushOver words a circuit whose breaker may trip when it is closed.
func (p *Plan) inrushOver(s power.SwitchOn) finding.Finding {
	c := p.Rig.Circuits[s.Circuit]
	n := len(c.Panels)
	why := fmt.Sprintf("the maker allows %d of them on a breaker of %s", s.Most, breakerWords(c))
	f := finding.New(finding.InrushOver, finding.Place{Kind: "circuit", Name: c.Name}, "")
	f.Computed, f.Limit = units.InCount(n), units.InCount(s.Most)
	if s.Basis == power.PeakBand {
		why = fmt.Sprintf("their inrush peaks are %v together, and a breaker of %s holds for certain up to %v (no factor for how short the pulse is: the breaker's maker may allow more)",
			s.Peak, breakerWords(c), s.Holds)
		f.Computed, f.Limit = units.InAmps(s.Peak), units.InAmps(s.Holds)
	}
	f.Sentence = fmt.Sprintf("when it is closed on its %d panels its own breaker may trip: %s", n, why)
	f.Remedies = moveFrom(s.Most, n)
	for curve := c.Curve + 1; c.Curve > rig.NoCurve && curve <= rig.CurveD; curve++ {
		if with := p.Power.SwitchOnWith(s.Circuit, curve); with.Basis != power.NotKnown && with.Used <= 1 {
			f.Remedies = append(f.Remedies, later("a breaker of curve %v, where a fault still trips it at once", curve))
			break
		}
	}
	if len(f.Remedies) == 0 {
		f.Remedies = []finding.Remedy{later("what limits the inrush of its panels, or a breaker whose maker allows them")}
	}
	return f
}

// breakerWords gives "16 A curve C".
func breakerWords(c rig.Circuit) string {
	if c.Curve == rig.NoCurve {
		return short(c.Breaker)
	}
	return fmt.Sprintf("%s curve %v", short(c.Breaker), c.Curve)
}

// circuitWords names circuits, the first few of many.
func (p *Plan) circuitWords(circuits []int) string {
	const most = 8
	var names []string
	for _, i := range circuits[:min(most, len(circuits))] {
		names = append(names, p.Rig.Circuits[i].Name)
	}
	words := "circuit "
	if len(circuits) > 1 {
		words = "circuits "
	}
	words += strings.Join(names, ", ")
	if len(circuits) > most {
		words += fmt.Sprintf(" and %d more", len(circuits)-most)
	}
	return words
}
