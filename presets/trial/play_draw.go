package trial

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"lookgate/presets"
	"lookgate/presets/engine"
	"lookgate/presets/power"
	"lookgate/presets/units"
)

// playMark is a command or event on the time line.
type playMark struct {
	at   time.Duration
	text string
}

// chart is a time line being drawn: since the last one, up to now.
type chart struct {
	from, to time.Duration
	cells    int
	label    int
	zero     time.Duration
}

// draw draws a time line of conductors: what they truly carried, by the plant's own arithmetic, and below it the most that the daemon held possible. Without
// names it draws the four that came closest to their limits.
func (p *player) draw(names string) {
	history := p.since(p.drawn)
	which, ok := p.chosen(names, history)
	if !ok {
		p.cannot("there is no conductor %q", names)
		return
	}
	ch := chart{from: p.drawn, to: p.now, zero: p.zero}
	for _, i := range which {
		ch.label = max(ch.label, len(p.limits[i].Kind.String())+1+len(p.limits[i].Name))
	}
	ch.cells = max(20, wrapAt-len("    ")-ch.label-len(" true    100.0 A of 100.0 A (!)"))
	lines := []string{fmt.Sprintf("amps from %.3f s to %.3f s; ▁ to █ fill up to the limit, ▲ is over it; may: the most that the daemon holds possible",
		(ch.from - p.zero).Seconds(), (ch.to - p.zero).Seconds())}
	if marks := ch.marks(p.marks); marks != "" {
		lines = append(lines, marks)
	}
	for _, i := range which {
		c := p.limits[i]
		lines = append(lines, ch.row(c.Kind.String()+" "+c.Name, "true", history, c.Limit, func(s playSample) units.Amps { return s.amps[i] }))
		if c.index >= 0 && !c.void {
			lines = append(lines, ch.row("", "may", history, c.Limit, func(s playSample) units.Amps { return p.possible(s, c.index) }))
		}
	}
	lines = append(lines, ch.axis())
	p.add(playEntry{kind: "plain", under: lines})
	p.drawn = p.now
	p.history = p.history[len(p.history)-1:]
	p.marks = nil
}

// since gives the samples that hold from a time on.
func (p *player) since(from time.Duration) []playSample {
	first := 0
	for i, s := range p.history {
		if s.at <= from {
			first = i
		}
	}
	return p.history[first:]
}

// chosen gives the conductors of those names, or the fullest.
func (p *player) chosen(names string, history []playSample) ([]int, bool) {
	var which []int
	if names != "" {
		for name := range strings.SplitSeq(names, ",") {
			i := slices.IndexFunc(p.limits, func(l playLimit) bool { return l.Kind.String()+" "+l.Name == strings.TrimSpace(name) })
			if i < 0 {
				return nil, false
			}
			which = append(which, i)
		}
		return which, true
	}
	peaks := make([]float64, len(p.limits))
	for i, l := range p.limits {
		which = append(which, i)
		for _, s := range history {
			peaks[i] = max(peaks[i], float64(s.amps[i])/float64(l.Limit))
		}
	}
	slices.SortStableFunc(which, func(a, b int) int { return cmp.Compare(peaks[b], peaks[a]) })
	which = different(which, history)
	slices.Sort(which)
	return which, true
}

// different gives the first four conductors that carry something, and each something else.
func different(which []int, history []playSample) []int {
	var out []int
	for _, i := range which {
		same := func(k int) bool {
			return !slices.ContainsFunc(history, func(s playSample) bool { return math.Abs(float64(s.amps[i]-s.amps[k])) > 1e-6 })
		}
		dead := !slices.ContainsFunc(history, func(s playSample) bool { return s.amps[i] > 0 })
		if len(out) < 4 && !dead && !slices.ContainsFunc(out, same) {
			out = append(out, i)
		}
	}
	return out
}

// possible gives the most that a conductor may have carried by what the daemon held possible; 0 while there was none.
func (p *player) possible(s playSample, conductor int) units.Amps {
	if s.highs == nil {
		return 0
	}
	return s.plan.Power.WorstOf(conductor, power.State{Levels: s.highs, LockedOff: s.locked})
}

// row draws one conductor's peaks, a cell each, and the highest of them.
func (c chart) row(name, what string, history []playSample, limit units.Amps, of func(playSample) units.Amps) string {
	cells := make([]units.Amps, c.cells)
	highest := units.Amps(0)
	for i, s := range history {
		until := c.to
		if i+1 < len(history) {
			until = history[i+1].at
		}
		a := of(s)
		highest = max(highest, a)
		for k := c.cell(s.at); k <= c.cell(until); k++ {
			if k == c.cell(until) && i+1 < len(history) && c.at(k) >= until {
				break // the next sample begins with this cell
			}
			cells[k] = max(cells[k], a)
		}
	}
	line := fmt.Sprintf("%-*s %-4s│", c.label, name, what)
	for _, a := range cells {
		line += glyph(a, limit)
	}
	line += fmt.Sprintf("│ %v of %v", highest, limit)
	if float64(highest) > float64(limit)*(1+rounding) {
		line += " (!)"
	}
	return line
}

// glyph draws one peak.
func glyph(a, limit units.Amps) string {
	share := float64(a) / float64(limit)
	switch {
	case share > 1+rounding:
		return "▲"
	case share <= 0:
		return " "
	}
	return string([]rune("▁▂▃▄▅▆▇█")[min(7, int(math.Ceil(share*8-rounding))-1)])
}

// cell gives the cell that a time falls into.
func (c chart) cell(t time.Duration) int {
	if c.to <= c.from {
		return 0
	}
	k := int(int64(t-c.from) * int64(c.cells) / int64(c.to-c.from))
	return min(max(k, 0), c.cells-1)
}

// at gives when a cell begins.
func (c chart) at(cell int) time.Duration {
	return c.from + time.Duration(int64(c.to-c.from)*int64(cell)/int64(c.cells))
}

// marks puts commands and events over the rows, where there is room.
func (c chart) marks(marks []playMark) string {
	line := []rune(strings.Repeat(" ", c.cells+8))
	free := 0
	for _, m := range marks {
		k := max(c.cell(m.at), free)
		if m.at < c.from || k > c.cell(m.at)+6 {
			continue
		}
		copy(line[min(k, len(line)):], []rune(m.text))
		free = k + len(m.text) + 1
	}
	return strings.TrimRight(strings.Repeat(" ", c.label+6)+string(line), " ")
}

// axis draws the times under the rows.
func (c chart) axis() string {
	line := []rune(strings.Repeat(" ", c.cells+12))
	every := c.every()
	for t := (c.from - c.zero + every - 1) / every * every; t <= c.to-c.zero; t += every {
		copy(line[c.cell(t+c.zero):], []rune("'"+strings.TrimSuffix(fmt.Sprintf("%.1f", t.Seconds()), ".0")+" s"))
	}
	return strings.TrimRight(strings.Repeat(" ", c.label+6)+string(line), " ")
}

// every gives a round time that leaves room between the numbers.
func (c chart) every() time.Duration {
	for unit := 100 * time.Millisecond; ; unit *= 10 {
		for _, n := range []time.Duration{1, 2, 5} {
			if (c.to-c.from)/(n*unit) <= time.Duration(c.cells/9) {
				return n * unit
			}
		}
	}
}

// show tells what is wanted, what may be and what is, and what every conductor may carry by that.
func (p *player) show() {
	if p.engine == nil {
		p.say("there is no daemon to ask")
		return
	}
	v := p.engine.View()
	lines := []string{lookLine(v)}
	if d := v.Dip; d != nil {
		lines = append(lines, fmt.Sprintf("going there dips by %s for about %.1f s; waiting: %s", strings.TrimPrefix((-d.Depth).String(), "+"), d.About.Seconds(), strings.Join(d.Zones, ", ")))
	}
	if v.Running != nil {
		lines = append(lines, fmt.Sprintf("#%d %s waits for %s, until %.3f s", v.Running.ID, v.Running.Verb, v.Running.Waiting, (v.Running.Deadline+p.started-p.zero).Seconds()))
	}
	lines = append(lines, aboveLines(v)...)
	lines = append(lines, provedLine(v)...)
	for _, text := range v.Promise {
		lines = append(lines, text)
	}
	lines = append(lines, fmt.Sprintf("%-12s %8s %8s %19s %8s  %s", "output", "wanted", "cap", "may be", "true", "state"))
	for o, out := range v.Outputs {
		wanted := out.Wanted.String()
		if out.Black {
			wanted = "black"
		}
		lines = append(lines, fmt.Sprintf("%-12s %8s %8v %19s %8v  %s", out.Name, wanted, out.Cap, fmt.Sprintf("%v to %v", out.Low, out.High),
			p.plant.State(p.trueOutput(o)), out.State))
	}
	var loads []presets.ConductorLoad
	for i, c := range v.Conductors {
		loads = append(loads, presets.ConductorLoad{Conductor: i, Worst: c.Worst, Limit: c.Limit, Void: c.Void, For: whileOf(v, c)})
	}
	table := presets.DrawConductors(p.plan.Power, loads, presets.DrawOptions{})
	for line := range strings.SplitSeq(strings.TrimRight(table, "\n"), "\n") {
		lines = append(lines, strings.TrimPrefix(line, "  "))
	}
	p.add(playEntry{kind: "plain", under: lines})
}

// lookLine says what look is on, and what comes before and after it.
func lookLine(v *engine.View) string {
	look := "no look is on"
	if v.Look.Preset != 0 {
		look = fmt.Sprintf("look %d %s at %v: %s", v.Look.Preset, v.Look.Name, v.Look.Scale, v.Look.State)
	}
	if v.Look.Identify != "" {
		look = fmt.Sprintf("identify %s: %s", v.Look.Identify, v.Look.State)
	}
	if v.Look.Blackout {
		look += "; all of it is wanted black"
	}
	if v.Look.Previous != 0 {
		look += fmt.Sprintf("; before it %d", v.Look.Previous)
	}
	if v.Armed != 0 {
		look += fmt.Sprintf("; armed %d", v.Armed)
	}
	return look
}

// provedLine names the proved circuits, where there are any.
func provedLine(v *engine.View) []string {
	var names []string
	for _, c := range v.Circuits {
		if c.Proved == nil {
			continue
		}
		names = append(names, strings.TrimSuffix(c.Name+" by "+c.Proved.By, " by "))
	}
	if names == nil {
		return nil
	}
	return []string{"proved: " + strings.Join(names, ", ")}
}

// aboveLines tells the time that looks and circuits have above continuous limits.
func aboveLines(v *engine.View) []string {
	var lines []string
	if a := v.Look.Above; a != nil {
		runs := map[bool]string{true: "runs", false: "stands still"}[a.Runs]
		lines = append(lines, fmt.Sprintf("above the continuous limit on %s: %s left of %s; its time %s", strings.Join(a.Circuits, ", "), units.Spoken(units.UpToSeconds(a.Left)),
			units.Spoken(a.For), runs))
	}
	for _, c := range v.Circuits {
		if a := c.Above; a != nil && a.Used > 0 {
			line := fmt.Sprintf("circuit %s: %s left of %s above its continuous limit", c.Name, units.Spoken(a.Left.Truncate(time.Second)), units.Spoken(a.For))
			if !a.Now {
				line += "; rested in " + units.Spoken(units.UpToSeconds(a.Rested))
			}
			lines = append(lines, line)
		}
	}
	return lines
}

// whileOf gives for how long a conductor's limit holds, where that is only for a while.
func whileOf(v *engine.View, c engine.ConductorView) time.Duration {
	if c.While && v.Look.Above != nil {
		return v.Look.Above.For
	}
	return 0
}
