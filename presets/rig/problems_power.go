package rig

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"lookgate/presets/units"
)

// Bounds of what a rig may say. They are far beyond any plant and keep a mistyped figure from being believed.
const (
	maxPoles = 1000
	maxSteps = 1<<24 - 1 // what the 24 bits of a 32-bit float's fraction still tell apart
)

func quoted(s string) string {
	if len(s) > 2*maxName {
		s = s[:2*maxName] + "..."
	}
	return strconv.Quote(s)
}

func (f *finder) supply() {
	s := f.Supply
	positive(f, "supply", -1, "line_neutral_v", "the supply", s.LineNeutral)
	positive(f, "supply", -1, "main_a", "the supply", s.Main)
	positive(f, "supply", -1, "neutral_a", "the supply", s.Neutral)
	f.factor("supply", -1, "the supply", s.Factor)
	f.neutral("supply", -1, "the supply", s.Main, s.Neutral)
	f.voltages()
}

// voltages checks that the two voltages belong to the system. Both sag together, so their ratio holds under load; three per cent leaves room for
// rounded nominal figures such as 208Y/120 and 400/230.
func (f *finder) voltages() {
	s, want := f.Supply, 0.0
	switch s.System {
	case SinglePhase:
		if s.LineLine != 0 {
			f.add("line-line-unused", "supply", -1, "line_line_v")
		}
		return
	case SplitPhase:
		want = 2
	case Wye:
		want = math.Sqrt(3)
	default:
		f.add("no-system", "supply", -1, "system")
		return
	}
	positive(f, "supply", -1, "line_line_v", "the supply", s.LineLine)
	ratio := float64(s.LineLine) / float64(s.LineNeutral)
	if s.LineLine > 0 && s.LineNeutral > 0 && math.Abs(ratio/want-1) > 0.03 {
		f.add("voltages-disagree", "supply", -1, "line_line_v", s.LineNeutral, s.LineLine, s.System, fmt.Sprintf("%.3g", want))
	}
}

func (f *finder) neutral(part string, index int, of string, main, neutral units.Amps) {
	if neutral > 0 && neutral < main {
		f.add("neutral-below-main", part, index, "neutral_a", of, neutral, main)
	}
}

func (f *finder) boards() {
	for i, b := range f.Boards {
		of := "board " + b.Name
		positive(f, "boards", i, "main_a", of, b.Main)
		positive(f, "boards", i, "neutral_a", of, b.Neutral)
		f.factor("boards", i, of, b.Factor)
		f.neutral("boards", i, of, b.Main, b.Neutral)
		if b.Poles < 1 || b.Poles > maxPoles {
			f.add("board-poles", "boards", i, "poles", b.Name, b.Poles, maxPoles)
		}
	}
}

// pole is one place of one board.
type pole struct{ board, number int }

func (f *finder) circuits() {
	taken := map[pole]string{}
	for i, c := range f.Circuits {
		of := "circuit " + c.Name
		positive(f, "circuits", i, "breaker_a", of, c.Breaker)
		positive(f, "circuits", i, "home_run_a", of, c.HomeRun)
		if len(c.Panels) > 1 {
			positive(f, "circuits", i, "jumper_a", of, c.Jumper)
		}
		f.factor("circuits", i, of, c.Factor)
		if has(c.Board, len(f.Boards)) && f.Supply.System != NoSystem {
			f.poles(i, c, taken)
		}
	}
	chains := make([]chain, len(f.Circuits))
	for i, c := range f.Circuits {
		chains[i] = chain{c.Name, c.Panels}
	}
	f.chains("circuits", "circuit", "feeds", chains)
}

// poles checks where a circuit's breaker stands.
func (f *finder) poles(i int, c Circuit, taken map[pole]string) {
	if n := len(c.Poles); n < 1 || n > 2 || n > f.Supply.System.Legs() {
		f.add("poles-count", "circuits", i, "poles", c.Name, plural(n, "pole"), f.Supply.System)
		return
	}
	b := f.Boards[c.Board]
	for _, p := range c.Poles {
		if b.Poles > 0 && (p < 1 || p > b.Poles) {
			f.add("pole-beyond", "circuits", i, "poles", c.Name, p, b.Name, b.Poles)
			continue
		}
		if by, used := taken[pole{c.Board, p}]; used {
			f.add("pole-taken", "circuits", i, "poles", c.Name, p, b.Name, by)
			continue
		}
		taken[pole{c.Board, p}] = "circuit " + c.Name
	}
	f.pair(i, c, b)
}

// pair checks the two poles of a line-to-line breaker against each other.
func (f *finder) pair(i int, c Circuit, b Board) {
	if len(c.Poles) != 2 || c.Poles[0] < 1 || c.Poles[1] < 1 || c.Poles[0] == c.Poles[1] {
		return
	}
	p, q := c.Poles[0], c.Poles[1]
	if leg := b.LegOf(p, f.Supply.System); leg == b.LegOf(q, f.Supply.System) {
		f.add("same-leg", "circuits", i, "poles", c.Name, p, q, leg+1)
		return
	}
	step := 1
	if b.Numbering == OddEven {
		step = 2
	}
	if q-p != step && p-q != step {
		f.add("poles-apart", "circuits", i, "poles", c.Name, p, q)
	}
}

func (f *finder) loads() {
	for i, l := range f.Loads {
		of := "load " + l.Name
		positive(f, "loads", i, "current_a", of, l.Current)
		f.nature("loads", i, of, l.PF, l.Displacement, l.DisplacementKnown, l.Third)
		if f.Supply.System != NoSystem && !f.goodLegs(l.Legs) {
			f.add("load-legs", "loads", i, "legs", l.Name, legNames(l.Legs), f.Supply.System)
		}
	}
}

// goodLegs reports whether legs are different ones of the supply.
func (f *finder) goodLegs(legs []int) bool {
	for i, l := range legs {
		if !has(l, f.Supply.System.Legs()) || slices.Contains(legs[:i], l) {
			return false
		}
	}
	return len(legs) > 0
}

// nature checks the figures that say how a load draws its current.
func (f *finder) nature(part string, i int, of string, pf units.Share, d units.Degrees, known bool, third units.Share) {
	if !partOf(pf) {
		f.add("pf-range", part, i, "pf", of, strconv.FormatFloat(float64(pf), 'g', 4, 64))
	} else if most := math.Acos(float64(pf)) * 180 / math.Pi; known && !(math.Abs(float64(d)) <= most+0.05) {
		f.add("displacement-beyond-pf", part, i, "displacement_deg", of, d, strconv.FormatFloat(float64(pf), 'g', 4, 64), units.Degrees(most))
	}
	if !(third >= 0 && third <= 1) {
		f.add("third-range", part, i, "third_harmonic", of, third)
	}
}

func legNames(legs []int) string {
	var names []string
	for _, l := range legs {
		names = append(names, fmt.Sprintf("L%d", l+1))
	}
	if len(names) == 0 {
		return "none"
	}
	return strings.Join(names, " ")
}

func plural(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return fmt.Sprintf("%d %ss", n, word)
}
