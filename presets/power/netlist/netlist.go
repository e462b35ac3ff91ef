// Package netlist writes a plant as a network for ngspice, a general-purpose circuit simulator (Debian's package ngspice): a second opinion on [power.Model.Flow] that
// nobody here wrote. It is for tests and for cmd/measure.
package netlist

import (
	"fmt"
	"maps"
	"math"
	"math/cmplx"
	"slices"
	"strings"

	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// Write gives the network of a rig in a state, with a command that solves it and prints what [Circuit], [Leg], [Neutral] and [Across] name.
func Write(r *rig.Rig, s power.State) string {
	n := &netlist{r: r, nodes: map[string]complex128{}}
	return n.write(s)
}

// Phasor names the two parts of a phasor in what is printed.
type Phasor struct{ Re, Im string }

func current(meter string) Phasor { return Phasor{"i(v" + meter + "r)", "i(v" + meter + "i)"} }

// Circuit names the current that enters the panel at place k of a circuit's chain.
func Circuit(circuit, k int) Phasor { return current(fmt.Sprintf("c%dp%d", circuit, k)) }

// Leg and Neutral name the currents in a board's feeder.
func Leg(board, leg int) Phasor { return current(fmt.Sprintf("b%dl%d", board, leg)) }

// Neutral names the current in the neutral of a board's feeder.
func Neutral(board int) Phasor { return current(fmt.Sprintf("b%dn", board)) }

// Across names the voltage of the panel at place k of a circuit's chain.
func Across(r *rig.Rig, circuit, k int) Phasor {
	n := &netlist{r: r}
	c := r.Circuits[circuit]
	_, back := n.ends(c.Board, r.Legs(c))
	at := fmt.Sprintf("c%dp%d", circuit, k)
	return Phasor{spread(at, back, "r"), spread(at, back, "i")}
}

// netlist is a network being written. ngspice solves its operating point by Newton's method on all nodes at once, which is nothing like the sweeps of
// [power.Model.Flow]. A phasor network becomes two networks of direct voltages, one for the real and one for the imaginary parts. With V = Vr + jVi across an impedance R + jX
// that carries I = Ir + jIi,
//
//	Vr = R·Ir − X·Ii    Vi = R·Ii + X·Ir
//
// which is a resistor in each, and a source in each that the current in the other controls. A load of constant apparent power S that lags by φ draws a current
// of size S/|V| along V turned back by φ: I = S/|V|² · V·(cos φ − j sin φ), so
//
//	Ir = S/|V|² · (Vr cos φ + Vi sin φ)    Ii = S/|V|² · (Vi cos φ − Vr sin φ)
//
// and one of constant current A has A/|V| in place of S/|V|².
type netlist struct {
	text  strings.Builder
	r     *rig.Rig
	nodes map[string]complex128 // where the solver begins: nominal voltages
	asks  []string
}

// source gives the voltage of the source's legs, by the larger reading of the supply's two rounded figures.
func source(s rig.Supply, leg int) complex128 {
	size := float64(s.LineNeutral)
	switch s.System {
	case rig.SplitPhase:
		return complex(math.Max(size, float64(s.LineLine)/2)*float64(1-2*leg), 0)
	case rig.Wye, rig.Delta:
		size = math.Max(size, float64(s.LineLine)/math.Sqrt(3))
	}
	return cmplx.Rect(size, float64(-120*leg)*math.Pi/180)
}

// ask has the current through an ammeter printed, and gives the names of its parts.
func (n *netlist) ask(meter string) {
	n.asks = append(n.asks, "i(v"+meter+"r)", "i(v"+meter+"i)")
}

// node notes where a node begins. Ground is 0 in both networks.
func (n *netlist) node(name string, v complex128) string {
	n.nodes[name] = v
	return name
}

func of(node, part string) string {
	if node == "0" {
		return "0"
	}
	return node + part
}

// impedance puts R + jX between two nodes, with an ammeter in each network.
func (n *netlist) impedance(name, from, to string, z complex128) {
	for _, p := range []struct{ part, other, sign string }{{"r", "i", "-"}, {"i", "r", ""}} {
		at := name + p.part
		fmt.Fprintf(&n.text, "v%s %s %sa 0\n", at, of(from, p.part), at)
		if z == 0 {
			fmt.Fprintf(&n.text, "v%sx %sa %s 0\n", at, at, of(to, p.part))
			continue
		}
		fmt.Fprintf(&n.text, "r%s %sa %sb %.12g\n", at, at, at, real(z))
		fmt.Fprintf(&n.text, "h%s %sb %s v%s%s %s%.12g\n", at, at, of(to, p.part), name, p.other, p.sign, imag(z))
	}
}

// load draws a current between two nodes, or between a node and the middle of the source: constant power, or constant current.
func (n *netlist) load(name, from, to string, size, lag float64, constantCurrent bool) {
	re, im := fmt.Sprintf("v(%s,%s)", of(from, "r"), of(to, "r")), fmt.Sprintf("v(%s,%s)", of(from, "i"), of(to, "i"))
	if to == "0" {
		re, im = fmt.Sprintf("v(%sr)", from), fmt.Sprintf("v(%si)", from)
	}
	square := fmt.Sprintf("(%s*%s+%s*%s)", re, re, im, im)
	if constantCurrent {
		square = "sqrt" + square
	}
	sin, cos := math.Sincos(lag * math.Pi / 180)
	fmt.Fprintf(&n.text, "b%sr %s %s i=%.12g*(%s*(%.12g)+%s*(%.12g))/%s\n", name, of(from, "r"), of(to, "r"), size, re, cos, im, sin, square)
	fmt.Fprintf(&n.text, "b%si %s %s i=%.12g*(%s*(%.12g)-%s*(%.12g))/%s\n", name, of(from, "i"), of(to, "i"), size, im, cos, re, sin, square)
}

func (n *netlist) run(run *rig.Run) complex128 {
	z := n.r.Impedance(run)
	return complex(float64(z.R), float64(z.X))
}

// write makes the netlist of a plant in a state.
func (n *netlist) write(s power.State) string {
	sup := n.r.Supply
	for leg := range sup.System.Legs() {
		v := source(sup, leg)
		at := n.node(fmt.Sprintf("s%d", leg), v)
		fmt.Fprintf(&n.text, "vs%dr %sr 0 %.15g\nvs%di %si 0 %.15g\n", leg, at, real(v), leg, at, imag(v))
	}
	for b := range n.r.Boards {
		n.board(b)
	}
	for i := range n.r.Circuits {
		n.circuit(i, s)
	}
	for i, l := range n.r.Loads {
		n.otherLoad(i, l)
	}
	var out strings.Builder
	out.WriteString("lookgate second opinion\n.options reltol=1e-10 abstol=1e-10 vntol=1e-10 gmin=1e-18 itl1=1000 itl2=1000\n")
	out.WriteString(n.text.String())
	for _, name := range sortedNames(n.nodes) {
		fmt.Fprintf(&out, ".nodeset v(%sr)=%.6g v(%si)=%.6g\n", name, real(n.nodes[name]), name, imag(n.nodes[name]))
	}
	out.WriteString(".control\nset numdgt=12\nop\n")
	for _, ask := range n.asks {
		out.WriteString("print " + ask + "\n")
	}
	out.WriteString("quit 0\n.endc\n.end\n")
	return out.String()
}

// sortedNames gives the nodes in an order that is the same each time.
func sortedNames(m map[string]complex128) []string { return slices.Sorted(maps.Keys(m)) }

// board hangs a board's legs and neutral on those of what feeds it.
func (n *netlist) board(b int) {
	from, neutral := "s", "0"
	if up, fed := n.r.Fed(b); fed {
		from, neutral = fmt.Sprintf("b%dl", up), fmt.Sprintf("b%dn", up)
	}
	z := n.run(n.r.Boards[b].Feeder)
	for leg := range n.r.Supply.System.Legs() {
		to := n.node(fmt.Sprintf("b%dl%d", b, leg), source(n.r.Supply, leg))
		meter := fmt.Sprintf("b%dl%d", b, leg)
		n.impedance(meter, fmt.Sprintf("%s%d", from, leg), to, z)
		n.ask(meter)
	}
	if n.r.Supply.System.HasNeutral() {
		meter := fmt.Sprintf("b%dn", b)
		n.impedance(meter, n.node(fmt.Sprintf("b%dn", b), 0), neutral, z)
		n.ask(meter)
	}
}

// ends gives the nodes that a load on these legs of a board stands between.
func (n *netlist) ends(board int, legs []int) (from, to string) {
	from = fmt.Sprintf("b%dl%d", board, legs[0])
	if len(legs) == 2 {
		return from, fmt.Sprintf("b%dl%d", board, legs[1])
	}
	return from, fmt.Sprintf("b%dn", board)
}

// circuit writes a chain. The impedance of both ways stands in the way out.
func (n *netlist) circuit(i int, s power.State) {
	c := n.r.Circuits[i]
	if s.LockedOff != nil && s.LockedOff[i] {
		return
	}
	legs := n.r.Legs(c)
	from, back := n.ends(c.Board, legs)
	run := c.Home
	for k, p := range c.Panels {
		to := n.node(fmt.Sprintf("c%dp%d", i, k), n.nodes[from])
		meter := fmt.Sprintf("c%dp%d", i, k)
		n.impedance(meter, from, to, 2*n.run(run))
		n.ask(meter)
		t := n.r.PanelTypes[n.r.Panels[p].Type]
		lag := 0.0
		if t.DisplacementKnown {
			lag = float64(t.Displacement)
		}
		n.load(meter, to, back, float64(t.Watts(n.levelOf(p, s)))/float64(t.PF), lag, false)
		n.asks = append(n.asks, spread(to, back, "r"), spread(to, back, "i"))
		from, run = to, c.Link
	}
}

func spread(from, to, part string) string {
	return fmt.Sprintf("v(%s,%s)", from+part, to+part)
}

func (n *netlist) otherLoad(i int, l rig.OtherLoad) {
	lag := 0.0
	if l.DisplacementKnown {
		lag = float64(l.Displacement)
	}
	if len(l.Legs) == 3 {
		for _, leg := range l.Legs {
			n.load(fmt.Sprintf("l%dx%d", i, leg), fmt.Sprintf("b%dl%d", l.Board, leg), "0", float64(l.Current), lag, true)
		}
		return
	}
	from, to := n.ends(l.Board, l.Legs)
	n.load(fmt.Sprintf("l%d", i), from, to, float64(l.Current), lag, true)
}

// levelOf gives the level that a panel stands at: its output's, or full white where it has none.
func (n *netlist) levelOf(panel int, s power.State) units.Level {
	for o, out := range n.r.Outputs {
		if slices.Contains(out.Panels, panel) {
			return s.Levels[o]
		}
	}
	return 1
}
