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
	c := rig.Circuit{
		Board:     f.need("board").ref("boards", "board", r.boards),
		Breaker:   f.need("breaker_a").amps(),
		Factor:    f.opt("factor").shareOr(r.factor),
		Home:      r.run(f.opt("home_run"), false),
		Link:      r.run(f.opt("jumper"), false),
		Exception: decision(f.opt("larger_breaker")),
		Curve:     f.opt("curve").curve(),
		Above:     aboveOf(f.opt("above_continuous")),
	}
	residual := f.opt("residual_ma")
	c.Residual = known(residual, residual.milliamps())
	c.HomeRun, c.Jumper = r.rated(f, "home_run", c.Home), r.rated(f, "jumper", c.Link)
	return c
}

// rated reads the rating of a circuit's home run or jumpers. It may be left out where their cable is named: then it is what that cable carries as it is laid.
func (r *reader) rated(f *fields, way string, run *rig.Run) units.Amps {
	if key := way + "_a"; f.has(key) || !f.has(way) {
		return f.need(key).amps()
	}
	f.opt(way + "_a")
	return r.carried(run)
}

// aboveOf reads how long a circuit may be above its continuous limit, and who decided it; nil where it may not.
func aboveOf(v value) *rig.AboveContinuous {
	if !v.here() {
		return nil
	}
	f := v.fields()
	a := rig.AboveContinuous{For: f.need("for").timeTo(maxRest), Rest: f.need("rest").timeTo(maxRest), Decision: signed(f)}
	f.done()
	return &a
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
	if !units.Finite(n) || !units.Finite(amps) || n < 0 || n > maxPanels {
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
		r.circuitException(e, f, c)
		e.done()
	}
}

// circuitException reads one exception into its circuit.
func (r *reader) circuitException(e, rule *fields, c *rig.Circuit) {
	if v := e.opt("board"); v.here() {
		c.Board = v.ref("boards", "board", r.boards)
	}
	if v := e.opt("breaker_a"); v.here() {
		c.Breaker = v.amps()
	}
	if v := e.opt("factor"); v.here() {
		c.Factor = v.share()
	}
	c.Home, c.HomeRun = r.otherWay(e, rule, "home_run", c.Home, c.HomeRun)
	c.Link, c.Jumper = r.otherWay(e, rule, "jumper", c.Link, c.Jumper)
	if v := e.opt("poles"); v.here() {
		c.Poles = poles(v)
	}
	if v := e.opt("panels"); v.here() {
		c.Panels = v.panels()
	}
	if v := e.opt("larger_breaker"); v.here() {
		c.Exception = decision(v)
	}
	r.circuitDevices(e, c)
	if e.failedAt("panels") {
		r.unsure["circuits"] = true
	}
}

// otherWay reads how one circuit's home run or jumpers differ from the rule's. Where only the cable does, the rating is what that cable carries as it is laid, and
// not more than a rating that the rule gives by itself: it may be a connector's.
func (r *reader) otherWay(e, rule *fields, way string, run *rig.Run, rating units.Amps) (*rig.Run, units.Amps) {
	v, figure := e.opt(way), e.opt(way+"_a")
	if v.here() {
		run = r.run(v, false)
		switch carries := r.carried(run); {
		case run == nil:
		case rule.has(way + "_a"):
			rating = min(rating, carries)
		default:
			rating = carries
		}
	}
	if figure.here() {
		rating = figure.amps()
	}
	return run, rating
}

// circuitDevices reads what an exception says of its circuit's breaker and residual-current device.
func (r *reader) circuitDevices(e *fields, c *rig.Circuit) {
	if v := e.opt("curve"); v.here() {
		c.Curve = v.curve()
	}
	if v := e.opt("residual_ma"); v.here() {
		c.Residual = known(v, v.milliamps())
	}
	if v := e.opt("above_continuous"); v.here() {
		c.Above = aboveOf(v)
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
