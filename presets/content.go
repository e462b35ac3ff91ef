package presets

import (
	"fmt"

	"lookgate/presets/finding"
	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// contentOf gives what part of the way from black to full white a preset's picture takes each output's panels at most, by what the preset states; nil where it states
// nothing, or where nobody decided that a statement may count. A picture that is not what the preset says is nobody's to see here: lookgate sees no pictures. The outputs of
// a silent device count at full white all the same: it may show the picture of the look before for as long as it likes, and nobody would know.
func (p *Plan) contentOf(preset *Preset) []units.Share {
	if p.Rig.Credit == nil {
		return nil
	}
	var parts []units.Share
	for _, z := range preset.Zones {
		if z.Content == nil {
			continue
		}
		for _, o := range p.Rig.Zones[z.Zone].Outputs {
			if p.Rig.Devices[p.Rig.Outputs[o].Device].Class == rig.Silent {
				continue
			}
			if parts == nil {
				parts = fullWhite(len(p.Rig.Outputs))
			}
			parts[o] = p.partOf(o, *z.Content)
		}
	}
	return parts
}

// Credits reports whether any preset of the book counts on what it states of its picture.
func (p *Plan) Credits() bool { return p.credits }

// OnCredit reports whether the preset of that number does.
func (p *Plan) OnCredit(number int) bool {
	for i := range p.contents {
		if p.Book.Presets[i].Number == number {
			return p.contents[i] != nil
		}
	}
	return false
}

// Content gives what part of the way from black to full white the picture of the preset of that number takes an output's panels at most: all of it where the book has no
// such preset, or the preset counts on nothing.
func (p *Plan) Content(number, output int) units.Share {
	for i := range p.contents {
		if p.Book.Presets[i].Number == number && p.contents[i] != nil {
			return p.contents[i][output]
		}
	}
	return 1
}

func fullWhite(n int) []units.Share {
	parts := make([]units.Share, n)
	for o := range parts {
		parts[o] = 1
	}
	return parts
}

// partOf gives the part of the way to full white that a mean takes an output's panels, the worst of their types. Where a type's primaries are known each counts at its
// own watts; else the brightest of the three means counts for all.
func (p *Plan) partOf(output int, c Content) units.Share {
	most := units.Share(0)
	for _, panel := range p.Rig.Outputs[output].Panels {
		most = max(most, partOfType(p.Rig.PanelTypes[p.Rig.Panels[panel].Type], c))
	}
	return min(1, most)
}

func partOfType(t rig.PanelType, c Content) units.Share {
	white := t.White - t.Black
	if t.Red+t.Green+t.Blue <= 0 || white <= 0 {
		return max(c.Red, c.Green, c.Blue)
	}
	sum := float64(t.Red)*float64(c.Red) + float64(t.Green)*float64(c.Green) + float64(t.Blue)*float64(c.Blue)
	// The primaries of a type need not add up to its white exactly; full white is never less than what was measured for it.
	return units.Share(sum / min(float64(white), float64(t.Red+t.Green+t.Blue)))
}

// lit gives the levels at which full white would draw what the picture draws at those levels.
func lit(levels []units.Level, content []units.Share) []units.Level {
	if content == nil {
		return levels
	}
	out := make([]units.Level, len(levels))
	for o, l := range levels {
		out[o] = units.Level(float64(l) * float64(content[o]))
	}
	return out
}

// Credit is what a verdict owes to the mean that a preset states: should its picture be brighter than that, nothing here is true.
type Credit struct {
	Content []units.Share // per output, the part of the way to full white that its picture is taken to go at most
	Full    []units.Amps  // per conductor, its worst current with full white up
	Over    int           // how many conductors that would take over their limits
	Highest int           // the conductor that it would take the furthest over its limit, or nearest to it
}

// creditOf gives what a box owes to its stated content; nil where it states none.
func (p *Plan) creditOf(b box, c Conditions) *Credit {
	if b.content == nil {
		return nil
	}
	cr := &Credit{Content: b.content, Highest: -1}
	cr.Full = p.Power.Worst(power.State{Levels: p.withRestarts(b.caps), LockedOff: c.LockedOff}, nil)
	most := -1.0
	for i, cond := range p.Power.Conductors() {
		if cr.Full[i] > cond.Limit {
			cr.Over++
		}
		if share := float64(cr.Full[i]) / float64(cond.Limit); share > most {
			cr.Highest, most = i, share
		}
	}
	return cr
}

// onCredit says what a preset owes to its picture, and what full white would do.
func (p *Plan) onCredit(preset *Preset, cr *Credit) finding.Finding {
	least := units.Share(1)
	for _, part := range cr.Content {
		least = min(least, part)
	}
	cond := p.Power.Conductors()[cr.Highest]
	words := fmt.Sprintf("it counts on its picture drawing no more than %v of full white on any circuit; with full white up, %s would carry %v of %v",
		least, placeOf(cond), cr.Full[cr.Highest], cond.Limit)
	if cr.Over > 1 {
		words += fmt.Sprintf(", and %d more would be over", cr.Over-1)
	}
	f := finding.New(finding.OnCredit, finding.Place{Kind: "preset", Name: preset.Name}, words)
	f.Computed, f.Limit = units.InAmps(cr.Full[cr.Highest]), units.InAmps(cond.Limit)
	f.Remedies = []finding.Remedy{later("store it without its content")}
	return f
}
