package rig

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

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

// pole is one place of one board.
type pole struct{ board, number int }

func (f *finder) circuits() {
	taken := map[pole]string{}
	for i, c := range f.Circuits {
		of := "circuit " + c.Name
		positive(f, "circuits", i, "breaker_a", of, c.Breaker)
		f.factor("circuits", i, of, c.Factor)
		f.ways(i, c)
		f.above(i, c)
		f.residual("circuits", i, of, c.Residual)
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
	if len(c.Poles) == 1 && !f.Supply.System.HasNeutral() {
		f.add("needs-neutral", "circuits", i, "poles", "circuit "+c.Name, "poles")
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

// above checks what a circuit may carry above its continuous limit.
func (f *finder) above(i int, c Circuit) {
	a := c.Above
	if a == nil {
		return
	}
	if a.For <= 0 || a.For >= continuousFrom {
		f.add("above-for", "circuits", i, "above_continuous.for", c.Name, inMinutes(a.For))
	}
	if a.Rest <= 0 {
		f.add("above-rest", "circuits", i, "above_continuous.rest", c.Name, inMinutes(a.Rest))
	}
}

// continuousFrom is how long a load must be on to be a continuous one (NEC Article 100).
const continuousFrom = 3 * time.Hour

// inMinutes prints a time as people speak of rests.
func inMinutes(d time.Duration) string {
	return strconv.FormatFloat(d.Minutes(), 'f', -1, 64) + " min"
}

// residual finds a residual-current device that is rated for nothing. 0 is none.
func (f *finder) residual(part string, i int, of string, a units.Amps) {
	if a != 0 {
		positiveAs(f, part, i, "residual_ma", of, a*1000, units.InMilliamps(a))
	}
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
		} else if len(l.Legs) == 1 && f.Supply.System == Delta {
			f.add("needs-neutral", "loads", i, "legs", of, "legs")
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
