package site

import (
	"fmt"
	"math"

	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// circuit reads one item of the circuits: a circuit with its name and panels, or a rule with a wall that makes many.
func (r *reader) circuit(f *fields) {
	if !f.has("prefix") && !f.has("wall") {
		r.oneCircuit(f)
		return
	}
	before := len(r.rig.Circuits)
	base := r.circuitFigures(f)
	prefix, first := f.need("prefix").name(), f.firstNumber()
	pole, each := f.need("first_pole").anyCount(), f.opt("poles_each").countOr(1, 1, 2)
	from, w := f.walk()
	a, ok := r.pick(f)
	var chains [][]int
	if ok {
		chains = r.portions(f, a, from, w, func() int { return r.most(base, a.wall, each) })
	} else {
		r.portionKeysSeen(f)
	}
	if len(chains) == 0 {
		r.unsure["circuits"] = true
	}
	for k, panels := range chains {
		c := base
		c.Name = fmt.Sprintf("%s%d", prefix, first+k)
		c.Panels = panels
		c.Poles = r.polesOf(base.Board, pole, each, k)
		r.rig.Circuits = append(r.rig.Circuits, c)
		r.from("circuits", f, nil)
	}
	r.circuitExceptions(f, before, len(chains) == 0)
}

// circuitFigures reads what a single circuit and a rule have alike.
func (r *reader) circuitFigures(f *fields) rig.Circuit {
	return rig.Circuit{
		Board:     f.need("board").ref("boards", "board", r.boards),
		Breaker:   f.need("breaker_a").amps(),
		Factor:    f.opt("factor").shareOr(r.factor),
		HomeRun:   f.need("home_run_a").amps(),
		Jumper:    f.need("jumper_a").amps(),
		Exception: exceptionOf(f.opt("larger_breaker")),
	}
}

// exceptionOf reads who decided that a breaker may be larger than what hangs behind it.
func exceptionOf(v value) *rig.Decision {
	if !v.here() {
		return nil
	}
	f := v.fields()
	e := &rig.Decision{Reason: f.need("reason").text(), By: f.need("by").text()}
	f.done()
	return e
}

// oneCircuit reads a circuit with its name, poles and panels in feeding order.
func (r *reader) oneCircuit(f *fields) {
	c := r.circuitFigures(f)
	c.Name = f.need("name").name()
	c.Poles = poles(f.need("poles"))
	c.Panels = f.need("panels").panels()
	if f.failedAt("panels") {
		r.unsure["circuits"] = true
	}
	r.rig.Circuits = append(r.rig.Circuits, c)
	r.from("circuits", f, nil)
}

func poles(v value) []int {
	var out []int
	for _, p := range v.some() {
		out = append(out, p.anyCount())
	}
	return out
}

// polesOf gives the poles of a rule's circuit, counted from 0. One-pole breakers take the next pole each. Two-pole breakers of an odd-even board take two
// rows of one column, left and right in turn going down: 1 3, 2 4, 5 7, 6 8; those of a board by ways take the next two.
func (r *reader) polesOf(board, first, each, k int) []int {
	if each == 1 {
		return []int{first + k}
	}
	if board < 0 || r.rig.Boards[board].Numbering == rig.ByWays {
		return []int{first + 2*k, first + 2*k + 1}
	}
	side := (first+1)%2 + k
	p := first - (first+1)%2 + 4*(side/2) + side%2
	return []int{p, p + 2}
}

// most gives how many panels of a wall a circuit carries continuously with all of them at full white. Where a figure for it is missing it gives what
// any circuit carries, since the missing figure is told by itself.
func (r *reader) most(c rig.Circuit, wall, poles int) int {
	amps := 0.0
	for _, i := range r.typesOn[wall] {
		t := r.rig.PanelTypes[i]
		amps = max(amps, float64(t.White)/(float64(r.rig.Supply.Volts(poles))*float64(t.PF)))
	}
	n := float64(c.Breaker) * float64(c.Factor) / amps
	if !units.Finite(n) || n < 0 || n > maxPanels {
		return maxPanels
	}
	return int(math.Floor(n + 1e-9))
}

// circuitExceptions reads what differs from the rule on single circuits.
func (r *reader) circuitExceptions(f *fields, before int, unsure bool) {
	made := indexed(r.rig.Circuits[before:], func(c rig.Circuit) string { return c.Name })
	for _, item := range f.opt("except").items() {
		e := item.fields()
		v := e.need("circuit")
		i := -1
		if !unsure {
			i = v.ref("", "circuit of this rule", made)
		}
		c := &rig.Circuit{}
		if i >= 0 {
			c = &r.rig.Circuits[before+i]
			r.origins["circuits"][before+i].exception = e
		}
		r.circuitException(e, c)
		e.done()
	}
}

// circuitException reads one exception into its circuit.
func (r *reader) circuitException(e *fields, c *rig.Circuit) {
	if v := e.opt("board"); v.here() {
		c.Board = v.ref("boards", "board", r.boards)
	}
	if v := e.opt("breaker_a"); v.here() {
		c.Breaker = v.amps()
	}
	if v := e.opt("factor"); v.here() {
		c.Factor = v.share()
	}
	if v := e.opt("home_run_a"); v.here() {
		c.HomeRun = v.amps()
	}
	if v := e.opt("jumper_a"); v.here() {
		c.Jumper = v.amps()
	}
	if v := e.opt("poles"); v.here() {
		c.Poles = poles(v)
	}
	if v := e.opt("panels"); v.here() {
		c.Panels = v.panels()
	}
	if v := e.opt("larger_breaker"); v.here() {
		c.Exception = exceptionOf(v)
	}
	if e.failedAt("panels") {
		r.unsure["circuits"] = true
	}
}

// firstNumber reads the number that a rule's names count from.
func (f *fields) firstNumber() int { return f.opt("first_number").countOr(1, 0, 1_000_000) }

// portionKeysSeen asks for the keys that a rule may have, where it cannot be carried out, so that they are not told as unknown.
func (r *reader) portionKeysSeen(f *fields) {
	for _, k := range portionKeys {
		f.opt(k)
	}
}
