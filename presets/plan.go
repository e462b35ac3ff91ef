package presets

import (
	"fmt"
	"slices"

	"lookgate/presets/finding"
	"lookgate/presets/picture"
	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// Plan is a rig with its book and the power model made from the rig: what every check needs. It is read only; [NewPlan] makes it.
type Plan struct {
	Rig   *rig.Rig
	Book  *Book
	Power *power.Model
	Void  []bool // per conductor: over already with every output at its restart level, so restarts are not counted there and nothing is promised

	continuous []rig.Conductor // of a plan that lets circuits go above their continuous limits: the conductors with these; nil of any other

	contents [][]units.Share     // per preset of the book: what it may count on of its picture; nil for full white
	credits  bool                // some preset counts on something
	pictures [][]finding.Finding // per preset of the book: what is wrong with its picture
	restart  []units.Level       // per output: the level that it takes when its device restarts
	outputOf []int               // per panel, -1 for none
	feeding  [][]int             // per circuit: the outputs whose panels hang on it, ascending
}

// NewPlan makes the plan of a rig that has no problems. The book may be nil where no preset is going to be looked up.
func NewPlan(r *rig.Rig, book *Book) *Plan {
	if book == nil {
		book = &Book{}
	}
	p := &Plan{Rig: r, Book: book, Power: power.New(r)}
	p.outputOf = make([]int, len(r.Panels))
	for i := range p.outputOf {
		p.outputOf[i] = -1
	}
	for o, out := range r.Outputs {
		p.restart = append(p.restart, r.Devices[out.Device].Restart)
		for _, panel := range out.Panels {
			p.outputOf[panel] = o
		}
	}
	for i := range book.Presets {
		p.contents = append(p.contents, p.contentOf(&book.Presets[i]))
		p.credits = p.credits || p.contents[i] != nil
		p.pictures = append(p.pictures, picture.Check(r, book.Presets[i].Mode, book.Presets[i].Windows))
	}
	p.feeding = make([][]int, len(r.Circuits))
	for i, c := range r.Circuits {
		for _, panel := range c.Panels {
			if o := p.outputOf[panel]; o >= 0 {
				p.feeding[i] = append(p.feeding[i], o)
			}
		}
		slices.Sort(p.feeding[i])
		p.feeding[i] = slices.Compact(p.feeding[i])
	}
	p.Void = make([]bool, len(p.Power.Conductors()))
	for _, i := range p.Power.Over(power.State{Levels: p.restart}) {
		p.Void[i] = true
	}
	return p
}

// Findings gives what is to be said of the site as a whole, whatever the preset: breakers larger than what hangs behind them, conductors that restarting
// devices alone would carry over their limit, what switching on and earth leakage may trip, legs that are uneven, neutrals that must not be lost, and what is not assessed.
func (p *Plan) Findings() []finding.Finding {
	var fs []finding.Finding
	for i := range p.Rig.Circuits {
		if f, ok := p.breakerOverCable(i); ok {
			fs = append(fs, f)
		}
	}
	fs = append(fs, p.restartOver()...)
	fs = append(fs, p.behindSupply()...)
	fs = append(fs, p.switchedOn()...)
	fs = append(fs, p.leaks()...)
	fs = append(fs, p.unbalanced()...)
	fs = append(fs, p.lostNeutral()...)
	fs = append(fs, p.undescribed()...)
	return append(fs, p.unassessed()...)
}

// breakerOverCable finds a breaker that does not protect what hangs behind it (IEC 60364-4-43: Ib ≤ In ≤ Iz; NEC 240.4), unless the rig says who decided
// that it may be so.
func (p *Plan) breakerOverCable(circuit int) (finding.Finding, bool) {
	c := p.Rig.Circuits[circuit]
	rating, what := p.weakest(circuit)
	if c.Exception != nil || rating >= c.Breaker {
		return finding.Finding{}, false
	}
	f := finding.New(finding.BreakerOverRun, finding.Place{Kind: "circuit", Name: c.Name},
		fmt.Sprintf("its %v breaker does not protect its %s, which is rated %v", c.Breaker, what, rating))
	f.Computed, f.Limit = units.InAmps(c.Breaker), units.InAmps(rating)
	if lower, ok := ratingAtMost(rating, p.Rig.Boards[c.Board].Numbering); ok {
		f.Remedies = append(f.Remedies, later("a breaker of %s", short(lower)))
	}
	f.Remedies = append(f.Remedies, later("home run, jumpers and panel feed-throughs rated for %s", short(c.Breaker)),
		later("name in the rig why it may be so, and who decided it"))
	return f, true
}

// weakest gives the lowest rating behind a breaker and what has it.
func (p *Plan) weakest(circuit int) (units.Amps, string) {
	c := p.Rig.Circuits[circuit]
	rating, what := c.HomeRun, "home run"
	if len(c.Panels) > 1 && c.Jumper < rating {
		rating, what = c.Jumper, "jumper"
	}
	if through := p.feedThrough(c.Panels); through < rating {
		rating, what = through, "panels' feed-through"
	}
	return rating, what
}

// feedThrough gives the lowest rating of the panels' own power in and out.
func (p *Plan) feedThrough(panels []int) units.Amps {
	var least units.Amps
	for i, panel := range panels {
		through := p.Rig.PanelTypes[p.Rig.Panels[panel].Type].FeedThrough
		if i == 0 || through < least {
			least = through
		}
	}
	return least
}

// restartOver finds the conductors that are void.
func (p *Plan) restartOver() []finding.Finding {
	var fs []finding.Finding
	for i, void := range p.Void {
		if !void {
			continue
		}
		c := p.Power.Conductors()[i]
		worst := p.Power.WorstOf(i, power.State{Levels: p.restart})
		f := finding.New(finding.RestartOver, placeOf(c), fmt.Sprintf("with every output at the level that it takes after a restart it would carry %s (%s): no promise is made here",
			against(worst, c.Limit), c.By))
		f.Computed, f.Limit = units.InAmps(worst), units.InAmps(c.Limit)
		f.Remedies = append(p.lowerRestart(i, func(restarts []units.Level) bool {
			return !slices.Contains(p.Power.Over(power.State{Levels: restarts}), i)
		}), p.rewire(i, p.restart, worst)...)
		fs = append(fs, f)
	}
	return fs
}

// outputsOn lists the outputs that load a conductor.
func (p *Plan) outputsOn(conductor int) []int {
	var on []int
	for o := range p.Rig.Outputs {
		if slices.Contains(p.Power.OfOutput(o), conductor) {
			on = append(on, o)
		}
	}
	return on
}

// unassessed says what is not known or not computed, so that nobody takes silence for an all-clear.
func (p *Plan) unassessed() []finding.Finding {
	var fs []finding.Finding
	note := func(kind, name, sentence, remedy string) {
		f := finding.New(finding.Unassessed, finding.Place{Kind: kind, Name: name}, sentence)
		f.Remedies = []finding.Remedy{later("%s", remedy)}
		fs = append(fs, f)
	}
	const sentence = "the displacement of its current is not known: in legs and neutrals it counts as whatever makes the worst sum that a power factor of %.3g allows"
	for _, t := range p.Rig.PanelTypes {
		if !t.DisplacementKnown && t.PF < 1 {
			note("panel type", t.Name, fmt.Sprintf(sentence, float64(t.PF)), "give its displacement in the rig, as measured or as the maker has it")
		}
	}
	for _, l := range p.Rig.Loads {
		if !l.DisplacementKnown && l.PF < 1 {
			note("load", l.Name, fmt.Sprintf(sentence, float64(l.PF)), "give its displacement in the rig, as measured or as the maker has it")
		}
	}
	return fs
}
