package main

import (
	"fmt"
	"strings"

	"lookgate/presets"
	"lookgate/presets/power"
	"lookgate/presets/units"
)

// legsReport is how evenly the legs of a board, or of the supply, are loaded.
type legsReport struct {
	Of     string     `json:"of"`
	Amps   []float64  `json:"amps"`
	Figure float64    `json:"unevenness"` // largest deviation from the mean, as a share of it
	Swap   *swapEntry `json:"bestSwap"`   // null where no two circuits in each other's places make it more even
}

type swapEntry struct {
	Circuits [2]string `json:"circuits"`
	Figure   float64   `json:"unevenness"`
}

// loadReport is a load that is no panel.
type loadReport struct {
	Name string  `json:"name"`
	Amps float64 `json:"connectedMaximumAmps"`
}

// legsOf gives the balance of every board and of the supply in a state.
func legsOf(p *presets.Plan, s power.State) []legsReport {
	reports := []legsReport{}
	for _, b := range p.Power.Balance(s) {
		r := legsReport{Of: "supply " + p.Rig.Supply.Name, Figure: float64(b.Figure)}
		if b.Board >= 0 {
			r.Of = "board " + p.Rig.Boards[b.Board].Name
		}
		for _, a := range b.Legs {
			r.Amps = append(r.Amps, float64(a))
		}
		if b.Swap != nil {
			r.Swap = &swapEntry{[2]string{p.Rig.Circuits[b.Swap.A].Name, p.Rig.Circuits[b.Swap.B].Name}, float64(b.Swap.Figure)}
		}
		reports = append(reports, r)
	}
	return reports
}

func loadsOf(p *presets.Plan) []loadReport {
	reports := []loadReport{}
	for _, l := range p.Rig.Loads {
		reports = append(reports, loadReport{l.Name, float64(l.Current)})
	}
	return reports
}

// drawLegs prints the balance, and that other loads count whole.
func drawLegs(legs []legsReport, loads []loadReport) string {
	var b strings.Builder
	if len(legs) > 0 {
		b.WriteString("  legs as a meter would read them, all at full white, and the farthest from their mean:\n")
	}
	name, amps := 0, 0
	for _, l := range legs {
		name, amps = max(name, len(l.Of)), max(amps, len(legWords(l.Amps)))
	}
	for _, l := range legs {
		line := fmt.Sprintf("    %-*s  %*s  %6s", name, l.Of, amps, legWords(l.Amps), units.Share(l.Figure))
		if l.Swap != nil {
			line += fmt.Sprintf("; %s and %s in each other's places: %v", l.Swap.Circuits[0], l.Swap.Circuits[1], units.Share(l.Swap.Figure))
		}
		b.WriteString(line + "\n")
	}
	if len(loads) > 0 {
		b.WriteString(wrapped(loadWords(loads), "  ", "    "))
	}
	return b.String()
}

func legWords(amps []float64) string {
	var legs []units.Amps
	for _, a := range amps {
		legs = append(legs, units.Amps(a))
	}
	return presets.LegWords(legs)
}

// loadWords names the other loads, the first few of many.
func loadWords(loads []loadReport) string {
	const most = 6
	var names []string
	for _, l := range loads[:min(most, len(loads))] {
		names = append(names, fmt.Sprintf("%s %v", l.Name, units.Amps(l.Amps)))
	}
	words := strings.Join(names, ", ")
	if len(loads) > most {
		words += fmt.Sprintf(" and %d more", len(loads)-most)
	}
	if len(loads) == 1 {
		return "1 other load counts at its connected maximum under every look: " + words
	}
	return fmt.Sprintf("%d other loads count at their connected maximum under every look: %s", len(loads), words)
}
