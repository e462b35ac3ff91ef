package rig

import (
	"fmt"

	"lookgate/presets/units"
)

// Kind says what a conductor is.
type Kind uint8

// The kinds of conductor of this version.
const (
	CircuitWire  Kind = iota // a circuit at its breaker
	CableWire                // a circuit's home run, where its rating and not the breaker protects it
	BoardLeg                 // a leg of a board, at its main
	BoardNeutral             // the neutral of a board
	SupplyLeg                // a leg of the supply, over all boards
	SupplyNeutral
	FeederWire // a leg of the cable that feeds a board, where its rating and not the main protects it
)

// String gives the word that findings use for the kind.
func (k Kind) String() string {
	return [...]string{"circuit", "home run", "leg", "neutral", "supply leg", "supply neutral", "feeder"}[k]
}

// Conductor is anything with a current limit of its own.
type Conductor struct {
	Kind    Kind
	Name    string // "B7", "A L2", "A N"
	Circuit int    // of a circuit or home run, else -1
	Board   int    // of a leg or neutral of a board, or of its feeder, else -1
	Leg     int    // from 0, of a leg, else -1
	Limit   units.Amps
	By      string // what sets the limit: "breaker 20 A × 80 %"
}

// Conductors lists every conductor of the rig with its limit: circuits first, in the rig's order, each followed by its home run where that counts for
// itself; then each board's legs and neutral, and its feeder's legs where they count for themselves; then the supply's. A single-phase neutral carries what its
// leg carries and is listed as a neutral all the same; a delta has none.
func (r *Rig) Conductors() []Conductor {
	var cs []Conductor
	for i, c := range r.Circuits {
		cs = append(cs, Conductor{CircuitWire, c.Name, i, -1, -1, part(c.Breaker, c.Factor), by("breaker", c.Breaker, c.Factor)})
		if rating, what := r.weakest(c); rating < c.Breaker {
			cs = append(cs, Conductor{CableWire, c.Name, i, -1, -1, rating, what + " " + rating.String()})
		}
	}
	for i := range r.Boards {
		cs = r.boardConductors(cs, i)
	}
	s := r.Supply
	for leg := range s.System.Legs() {
		limit, what := s.leg()
		cs = append(cs, Conductor{SupplyLeg, legName(s.Name, leg), -1, -1, leg, limit, what})
	}
	if s.System.HasNeutral() {
		cs = append(cs, Conductor{SupplyNeutral, s.Name + " N", -1, -1, -1, part(s.Neutral, s.Factor), by("neutral", s.Neutral, s.Factor)})
	}
	return cs
}

// boardConductors adds a board's conductors. Its main's factor is no matter of its feeder: what a cable carries it carries for any time.
func (r *Rig) boardConductors(cs []Conductor, board int) []Conductor {
	b := r.Boards[board]
	for leg := range r.Supply.System.Legs() {
		cs = append(cs, Conductor{BoardLeg, legName(b.Name, leg), -1, board, leg, part(b.Main, b.Factor), by("main", b.Main, b.Factor)})
	}
	if r.Supply.System.HasNeutral() {
		cs = append(cs, Conductor{BoardNeutral, b.Name + " N", -1, board, -1, part(b.Neutral, b.Factor), by("neutral", b.Neutral, b.Factor)})
	}
	if b.Carries > 0 && b.Carries < b.Main {
		for leg := range r.Supply.System.Legs() {
			cs = append(cs, Conductor{FeederWire, legName(b.Name, leg), -1, board, leg, b.Carries, by("feeder", b.Carries, 1)})
		}
	}
	return cs
}

// leg gives the limit of a supply's leg and what sets it: the main, or the transformer or generator behind it.
func (s Supply) leg() (units.Amps, string) {
	main := part(s.Main, s.Factor)
	if line, known := s.Line(); known && line < main {
		return line, by(s.Origin.String(), s.Capacity.Power, s.Capacity.Factor)
	}
	return main, by("main", s.Main, s.Factor)
}

// weakest gives the lowest rating on the way of a circuit's whole current, and what has it. The first panel's feed-through carries all of it but
// that panel's own; it is counted with all of it, since its input does.
func (r *Rig) weakest(c Circuit) (units.Amps, string) {
	rating, what := c.HomeRun, "home run"
	if len(c.Panels) > 1 && c.Jumper < rating {
		rating, what = c.Jumper, "jumper"
	}
	for _, p := range c.Panels {
		if through := r.PanelTypes[r.Panels[p].Type].FeedThrough; through < rating {
			rating, what = through, "feed-through"
		}
	}
	return rating, what
}

func part(a units.Amps, f units.Share) units.Amps { return units.Amps(float64(a) * float64(f)) }

func by(what string, a fmt.Stringer, f units.Share) string {
	if f == 1 {
		return fmt.Sprintf("%s %v", what, a)
	}
	return fmt.Sprintf("%s %v × %v", what, a, f)
}

func legName(of string, leg int) string { return fmt.Sprintf("%s L%d", of, leg+1) }

// Legs gives the legs, from 0, that a circuit's poles stand on.
func (r *Rig) Legs(c Circuit) []int {
	legs := make([]int, len(c.Poles))
	for i, p := range c.Poles {
		legs[i] = r.Boards[c.Board].LegOf(p, r.Supply.System)
	}
	return legs
}

// Volts gives the voltage across a load on so many legs: line to neutral for one, which a delta does not have, line to line for two.
func (s Supply) Volts(legs int) units.Volts {
	if legs == 1 {
		return s.LineNeutral
	}
	return s.LineLine
}
