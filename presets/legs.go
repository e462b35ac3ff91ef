package presets

import (
	"fmt"

	"lookgate/presets/finding"
	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// swapHelps is how many points of unevenness a swap of two circuits has to take away to be worth a word: common practice, no source. Below it, meters do not
// agree with each other.
const swapHelps units.Share = 0.05

// Full gives the state with every output at level 1 and every circuit in.
func (p *Plan) Full() power.State {
	s := power.State{Levels: make([]units.Level, len(p.Rig.Outputs))}
	for o := range s.Levels {
		s.Levels[o] = 1
	}
	return s
}

// Black gives the state with every output at level 0 and every circuit in.
func (p *Plan) Black() power.State {
	return power.State{Levels: make([]units.Level, len(p.Rig.Outputs))}
}

// OutputsOf names the outputs that a circuit's panels are part of, in the rig's order.
func (p *Plan) OutputsOf(circuit int) []string {
	var names []string
	for _, o := range p.feeding[circuit] {
		names = append(names, p.Rig.Outputs[o].Name)
	}
	return names
}

// unbalanced finds the boards, and the supply, whose legs two circuits in each other's places would even out.
func (p *Plan) unbalanced() []finding.Finding {
	var fs []finding.Finding
	for _, b := range p.Power.Balance(p.Full()) {
		if b.Swap == nil || b.Figure-b.Swap.Figure < swapHelps {
			continue
		}
		f := finding.New(finding.LegsUnbalanced, p.legsPlace(b.Board), fmt.Sprintf("at full white its legs carry %s: the farthest is %v from their mean", LegWords(b.Legs), b.Figure))
		f.Computed, f.Limit = units.InShare(b.Figure), units.InShare(b.Swap.Figure+swapHelps)
		f.Remedies = []finding.Remedy{later("swap the places of %s and %s: %v to %v", p.Rig.Circuits[b.Swap.A].Name, p.Rig.Circuits[b.Swap.B].Name, b.Figure, b.Swap.Figure)}
		fs = append(fs, f)
	}
	return fs
}

// legsPlace names a board, or the supply for -1.
func (p *Plan) legsPlace(board int) finding.Place {
	if board < 0 {
		return p.supplyPlace()
	}
	return finding.Place{Kind: "board", Name: p.Rig.Boards[board].Name}
}

// LegWords prints the currents of legs: "102.2, 78.0 and 78.0 A".
func LegWords(legs []units.Amps) string {
	words := ""
	for i, a := range legs {
		switch {
		case i > 0 && i == len(legs)-1:
			words += " and "
		case i > 0:
			words += ", "
		}
		words += fmt.Sprintf("%.1f", float64(a))
	}
	return words + " A"
}

// lostNeutral says, once a board, what a neutral that opens does to what stands from line to neutral.
func (p *Plan) lostNeutral() []finding.Finding {
	var fs []finding.Finding
	for i := range p.Rig.Boards {
		fs = append(fs, p.lostNeutralOf(i)...)
	}
	if len(fs) == 0 { // boards of one leg each share the supply's neutral all the same
		fs = p.lostNeutralOf(-1)
	}
	return fs
}

func (p *Plan) lostNeutralOf(board int) []finding.Finding {
	s := p.Rig.Supply
	circuits, loads := p.Power.NeutralNeeded(board)
	if len(circuits)+len(loads) == 0 {
		return nil
	}
	f := finding.New(finding.LostNeutral, p.legsPlace(board), fmt.Sprintf("if its neutral is lost while the legs stay on, %s from line to neutral may see up to %v in place of %v: "+
		"over-voltage is possible, no breaker sees it, and with constant-power supplies how much comes is not computed", among(circuits, loads), power.MostWithoutNeutral(s), s.LineNeutral))
	f.Computed, f.Limit = units.Quantity{Value: float64(power.MostWithoutNeutral(s)), Unit: units.V}, units.Quantity{Value: float64(s.LineNeutral), Unit: units.V}
	if s.System == rig.SplitPhase {
		f.Remedies = append(f.Remedies, later("circuits of two poles, where the panels take %v, and no other load from line to neutral", s.LineLine))
	}
	f.Remedies = append(f.Remedies, later("%s", NeutralPractice))
	return []finding.Finding{f}
}

// NeutralPractice is what people do about a neutral that may be lost. It changes nothing in a rig.
const NeutralPractice = "have the joints of the neutral proved; connect it first and part it last"

// among counts circuits and other loads: "2 circuits and 1 other load".
func among(circuits, loads []int) string {
	c, l := counted(len(circuits), "circuit"), counted(len(loads), "other load")
	switch {
	case len(loads) == 0:
		return c
	case len(circuits) == 0:
		return l
	}
	return c + " and " + l
}
