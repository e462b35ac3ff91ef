package presets

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// DrawOptions says what [DrawConductors] draws.
type DrawOptions struct {
	All   bool        // every conductor in the model's order, however little it carries
	Above units.Share // without All: only what carries more than this share of its limit; 0 stands for 60 %
	Most  int         // without All: at most so many circuits and so many other conductors; 0 stands for 12
}

const (
	tableWidth = 100
	barMost    = 20 // cells up to the limit
	barLeast   = 6
	barOver    = 4 // cells beyond it, for what is over
)

// DrawConductors draws a table of conductors for people: worst current, limit, a bar whose mark is the limit, share and headroom, and what sets the limit.
// Circuits and home runs come first, then legs and neutrals, each group from the highest share of its limit down; those that read alike share a row, and
// a line counts those that are left out. Bars shrink where names are long, so that the table stays within 100 columns.
func DrawConductors(m *power.Model, loads []ConductorLoad, o DrawOptions) string {
	if o.Above == 0 {
		o.Above = 0.6
	}
	if o.Most == 0 {
		o.Most = 12
	}
	var circuits, others []ConductorLoad
	for _, l := range loads {
		if m.Conductors()[l.Conductor].Circuit >= 0 {
			circuits = append(circuits, l)
		} else {
			others = append(others, l)
		}
	}
	t := table{m: m, options: o}
	t.group(circuits, "circuit", "circuits")
	t.group(others, "leg or neutral", "legs and neutrals")
	return t.String()
}

// table collects lines.
type table struct {
	m       *power.Model
	options DrawOptions
	rows    []row
}

// row is one conductor; or a sentence, which has only a name.
type row struct {
	name, alike, amps, headroom, by string
	share                           float64
}

// group adds the rows of one kind of conductor and the line that counts the rest.
func (t *table) group(loads []ConductorLoad, one, many string) {
	if len(loads) == 0 {
		return
	}
	shown := slices.Clone(loads)
	if !t.options.All {
		slices.SortStableFunc(shown, func(a, b ConductorLoad) int { return cmp.Compare(b.share(), a.share()) })
		t.busiest(shown, one, many)
		return
	}
	for _, l := range shown {
		t.rows = append(t.rows, t.row(l))
	}
}

// busiest adds rows from the highest share down. Conductors that would read the same share a row, which counts them.
func (t *table) busiest(sorted []ConductorLoad, one, many string) {
	first, alike, n := len(t.rows), 0, 0
	for ; n < len(sorted) && sorted[n].share() > float64(t.options.Above); n++ {
		r := t.row(sorted[n])
		if last := len(t.rows) - 1; last >= first && t.rows[last].reads(r) {
			alike++
			t.rows[last].alike = fmt.Sprintf(" and %d alike", alike)
			continue
		}
		if len(t.rows)-first == t.options.Most {
			break
		}
		t.rows, alike = append(t.rows, r), 0
	}
	t.rest(sorted[n:], n > 0, one, many)
}

// reads reports whether two rows differ in nothing but their names.
func (r row) reads(o row) bool {
	return r.amps == o.amps && r.headroom == o.headroom && r.by == o.by && percent(r.share) == percent(o.share)
}

// share gives the current as a part of the limit; a limit of nothing is all used up.
func (l ConductorLoad) share() float64 {
	if l.Limit <= 0 {
		return math.Inf(1)
	}
	return float64(l.Worst) / float64(l.Limit)
}

func (t *table) row(l ConductorLoad) row {
	c := t.m.Conductors()[l.Conductor]
	r := row{name: nameOf(c), by: strings.ReplaceAll(c.By, ".0 A", " A"), share: l.share(), headroom: headroom(l)}
	r.amps = strings.TrimSuffix(l.Worst.String(), " A") + " / " + l.Limit.String()
	if l.For > 0 {
		r.by = fmt.Sprintf("breaker %s for %s", short(l.Limit), units.Spoken(l.For))
	}
	if l.Void {
		r.headroom = "no promise" // what is left says nothing where a restart alone would be over
	}
	return r
}

// headroom gives the amps that are left, with a second decimal where the first would hide that they are gone.
func headroom(l ConductorLoad) string {
	if left := l.Limit - l.Worst; left < 0 && left > -0.05 {
		return fmt.Sprintf("%+.2f A", float64(min(left, -0.01)))
	}
	return fmt.Sprintf("%+.1f A", float64(l.Limit-l.Worst))
}

func nameOf(c rig.Conductor) string { return c.Kind.String() + " " + c.Name }

// percent gives whole per cent, never rounded across the limit: what is over shows more than 100, what is not shows no more.
func percent(share float64) string {
	p := math.Round(share * 100)
	if share > 1 && p <= 100 {
		p = 101
	}
	if p > 999 || math.IsNaN(p) {
		return ">999"
	}
	return fmt.Sprintf("%.0f", p)
}

// bar draws a share of a limit in eighths of a cell, with a mark at the limit and an arrow beyond what fits.
func bar(share float64, cells int) string {
	eighths := int(math.Floor(min(max(share, 0), 9) * float64(cells*8)))
	if share > 1 {
		eighths = max(eighths, cells*8+1)
	}
	inside := fill(min(eighths, cells*8), cells, "·")
	outside := fill(min(max(eighths-cells*8, 0), barOver*8), barOver, " ")
	if eighths > (cells+barOver)*8 {
		outside = strings.Repeat("█", barOver-1) + "▶"
	}
	return inside + "│" + outside
}

func fill(eighths, cells int, empty string) string {
	s := strings.Repeat("█", eighths/8)
	if rest := eighths % 8; rest > 0 {
		s += string([]rune("▏▎▍▌▋▊▉")[rest-1])
	}
	return s + strings.Repeat(empty, cells-utf8.RuneCountInString(s))
}

// rest adds the line that counts what was left out, with the highest of it.
func (t *table) rest(left []ConductorLoad, some bool, one, many string) {
	if len(left) == 0 {
		return
	}
	what := fmt.Sprintf("%d %s", len(left), many)
	if len(left) == 1 {
		what = "1 " + one
	}
	if some {
		what = strings.Replace(what, " ", " more ", 1)
	}
	top := left[0]
	where := fmt.Sprintf("at %s %% or less", percent(max(top.share(), 0)))
	t.rows = append(t.rows, row{name: fmt.Sprintf("%s %s, the highest: %s, %v of %v", what, where, nameOf(t.m.Conductors()[top.Conductor]), top.Worst, top.Limit)})
}

// String lays the rows out in columns.
func (t *table) String() string {
	var name, amps, headroom, by int
	for _, r := range t.rows {
		if r.amps != "" {
			name, amps = max(name, letters(r.name+r.alike)), max(amps, letters(r.amps))
			headroom, by = max(headroom, letters(r.headroom)), max(by, letters(r.by))
		}
	}
	const between = 2 + 2 + 2 + 1 + barOver + 1 + len("100 %") + 2 + 2 // all that is neither a column of words nor the bar up to its mark
	cells := min(max(tableWidth-between-name-amps-headroom-by, barLeast), barMost)
	var b strings.Builder
	for _, r := range t.rows {
		line := r.name
		if r.amps != "" {
			line = left(r.name+r.alike, name) + "  " + right(r.amps, amps) + "  " + bar(r.share, cells) + fmt.Sprintf("%4s %%  ", percent(r.share)) +
				right(r.headroom, headroom) + "  " + r.by
		}
		b.WriteString("  " + strings.TrimRight(line, " ") + "\n")
	}
	return b.String()
}

func letters(s string) int { return utf8.RuneCountInString(s) }

func left(s string, n int) string { return s + strings.Repeat(" ", max(0, n-letters(s))) }

func right(s string, n int) string { return strings.Repeat(" ", max(0, n-letters(s))) + s }
