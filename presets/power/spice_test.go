package power_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/rig/rigtest"
	"lookgate/presets/units"
)

// ngspice is the second opinion that nobody here wrote: a general-purpose circuit simulator (Debian's package ngspice). It solves the operating point of a network
// by Newton's method on all of its nodes at once, which is nothing like the sweeps of [power.Model.Flow].
//
// A phasor network becomes two networks of direct voltages, one for the real and one for the imaginary parts. With V = Vr + jVi across an impedance R + jX
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
	return complex(size, 0) * voltage(s.System, leg)
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

func sortedNames(m map[string]complex128) []string {
	var names []string
	for name := range m {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

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
		n.load(meter, to, back, float64(t.Watts(levelOf(n.r, p, s)))/float64(t.PF), lag, false)
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

// simulate runs ngspice and reads what it prints.
func simulate(t *testing.T, text string) map[string]float64 {
	file := t.TempDir() + "/plant.cir"
	require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
	out, err := exec.Command("ngspice", "-b", file).CombinedOutput()
	require.NoError(t, err, string(out))
	got := map[string]float64{}
	for _, m := range regexp.MustCompile(`(?m)^([iv]\([a-z0-9,]+\)) = (\S+)`).FindAllStringSubmatch(string(out), -1) {
		v, err := strconv.ParseFloat(m[2], 64)
		require.NoError(t, err)
		got[m[1]] = v
	}
	require.NotEmpty(t, got, string(out))
	return got
}

// magnitude gives the absolute value of a phasor that was asked for by its real part's name.
func magnitude(t *testing.T, got map[string]float64, re, im string) float64 {
	a, ok1 := got[re]
	b, ok2 := got[im]
	require.True(t, ok1 && ok2, "%s %s", re, im)
	return math.Hypot(a, b)
}

// longChains gives a random plant with chains of 1 to 40 panels that its supply can bear, all its cables laid.
func longChains(rng *rand.Rand) *rig.Rig {
	r := rigtest.RandomWired(rng, 2+rng.IntN(5))
	for i := range r.PanelTypes {
		t := &r.PanelTypes[i]
		t.Black, t.White, t.Third = units.Watts(rng.IntN(25)), units.Watts(50+rng.IntN(60)), 0
	}
	for i := range r.Loads {
		r.Loads[i].Third = 0
	}
	r.Panels = nil
	for i := range r.Circuits {
		c := &r.Circuits[i]
		most := int(18 * float64(r.Supply.Volts(len(c.Poles))) / 110)
		c.Panels = nil
		for range 1 + rng.IntN(min(40, most)) {
			c.Panels = append(c.Panels, len(r.Panels))
			r.Panels = append(r.Panels, rig.Panel{Column: i + 1, Row: len(c.Panels), Type: rng.IntN(len(r.PanelTypes))})
		}
		c.Home = &rig.Run{Cable: rng.IntN(2), Length: units.Metres(1 + 25*rng.Float64())}
		c.Link = &rig.Run{Cable: rng.IntN(2), Length: units.Metres(0.2 + 1.5*rng.Float64())}
	}
	for b := range r.Boards {
		if rng.IntN(4) > 0 {
			r.Boards[b].Feeder = &rig.Run{Cable: 4, Length: units.Metres(40 * rng.Float64()), Sets: 1 + rng.IntN(2)}
		}
	}
	r.Outputs = []rig.Output{{Name: "all", Panels: span(0, len(r.Panels))}}
	return r
}

// TestNgspiceAgrees holds currents and voltages of whole plants, constant power and all, to ngspice's: within 0.1 %, as was asked, and in fact far closer.
func TestNgspiceAgrees(t *testing.T) {
	if _, err := exec.LookPath("ngspice"); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("ngspice is missing, and CI is set")
		}
		t.Skip("ngspice is missing: the second opinion is not asked for")
	}
	seen := map[rig.System]int{}
	longest, off := 0, 0.0
	for seed := range uint64(32) {
		rng := rand.New(rand.NewPCG(seed, 99))
		r := longChains(rng)
		seen[r.Supply.System]++
		s := power.State{Levels: []units.Level{units.Level(rng.Float64())}, LockedOff: make([]bool, len(r.Circuits))}
		s.LockedOff[rng.IntN(len(r.Circuits))] = rng.IntN(3) == 0
		n := &netlist{r: r, nodes: map[string]complex128{}}
		got := simulate(t, n.write(s))
		var f power.Flow
		m := power.New(r)
		m.Flow(s, &f)
		require.Empty(t, f.Collapsed, "seed %d", seed)
		same := func(want float64, is float64, what string) {
			off = max(off, math.Abs(is-want)/max(math.Abs(want), 0.1))
			require.InDelta(t, want, is, max(0.001*math.Abs(want), 1e-4), "seed %d, %s", seed, what)
		}
		for i, c := range r.Circuits {
			if s.LockedOff[i] {
				continue
			}
			legs := r.Legs(c)
			_, back := n.ends(c.Board, legs)
			longest = max(longest, len(c.Panels))
			for k, p := range c.Panels {
				at := fmt.Sprintf("c%dp%d", i, k)
				same(magnitude(t, got, "i(v"+at+"r)", "i(v"+at+"i)"), float64(f.Panel[p].In), at+" in")
				same(magnitude(t, got, spread(at, back, "r"), spread(at, back, "i")), float64(f.Panel[p].Volts), at+" volts")
			}
		}
		for i, c := range m.Conductors() {
			at := ""
			switch c.Kind {
			case rig.CircuitWire, rig.CableWire:
				if s.LockedOff[c.Circuit] {
					continue
				}
				at = fmt.Sprintf("c%dp0", c.Circuit)
			case rig.BoardLeg, rig.FeederWire:
				at = fmt.Sprintf("b%dl%d", c.Board, c.Leg)
			case rig.BoardNeutral:
				at = fmt.Sprintf("b%dn", c.Board)
			case rig.SupplyLeg:
				at = fmt.Sprintf("s%d", c.Leg)
				n.ask(at)
			default:
				continue // the supply's neutral is the sum of what comes back from the boards
			}
			if c.Kind == rig.SupplyLeg {
				continue
			}
			same(magnitude(t, got, "i(v"+at+"r)", "i(v"+at+"i)"), float64(f.Amps[i]), c.Kind.String()+" "+c.Name)
		}
	}
	t.Logf("systems %v, longest chain %d panels, furthest apart %.2g %%", seen, longest, 100*off)
	for _, system := range []rig.System{rig.SinglePhase, rig.SplitPhase, rig.Wye, rig.Delta} {
		require.Greater(t, seen[system], 2, "%v", system)
	}
	require.Greater(t, longest, 35)
}
