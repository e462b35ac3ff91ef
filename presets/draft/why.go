package draft

import (
	"fmt"
	"strings"

	"lookgate/presets/power"
	"lookgate/presets/units"
)

// whyWall says how a wall's circuits are made, and why.
func (p *planner) whyWall(wall int) []string {
	f, w := p.feeds[wall], p.rig.Walls[wall]
	n := len(f.chains)
	says := []string{fmt.Sprintf("%s: %s in %s of at most %d, each of %s with a breaker of %s.", w.Name, plural(p.panelsOn(wall), "panel"), plural(n, "circuit"), longest(f.chains),
		plural(f.poles, "pole"), amps(f.breaker))}
	if n == 1 {
		says = append(says, "Fewest: one circuit carries the whole wall.")
	} else {
		says = append(says, p.whyFewest(wall), fmt.Sprintf("What binds: %s.", f.binds))
	}
	if f.home.run != nil || f.link.run != nil {
		says = append(says, p.whyCables(wall, f))
	}
	if f.other != "" {
		says = append(says, f.other)
	}
	if len(f.against) > 0 {
		says = append(says, "Left out: "+strings.Join(f.against, "; ")+".")
	}
	return says
}

// whyFewest holds the number of a wall's circuits against the fewest that there could be.
func (p *planner) whyFewest(wall int) string {
	f := p.feeds[wall]
	says := fmt.Sprintf("Fewest: a circuit carries %d, so %d panels take at least %d.", f.carries, p.panelsOn(wall), f.bounds.ByPanels)
	switch by := f.bounds.ByColumn; {
	case by == 0:
		return says + " It carries no whole column."
	case by > len(f.chains):
		return says + fmt.Sprintf(" Of whole columns it would be %d: columns_each: most in the brief asks for them.", by)
	default:
		return says + fmt.Sprintf(" Of whole columns it is at least %d.", by)
	}
}

// whyCables says what home runs and jumpers are made of.
func (p *planner) whyCables(wall int, f feed) string {
	var words []string
	for i, l := range []lead{f.home, f.link} {
		if l.run == nil {
			continue
		}
		c := p.rig.Cables[l.run.Cable]
		words = append(words, fmt.Sprintf("%s of %v of %s (%v, carries %v)", [...]string{"home runs", "jumpers"}[i], l.run.Length, c.Name, c.Size, l.rating))
	}
	r := p.single(wall, f.option, longest(f.chains))
	return fmt.Sprintf("Cables: %s, the smallest at hand with which a circuit carries as many. The longest circuit loses %v of at most %v.", strings.Join(words, ", "),
		lostIn(power.New(r), r), p.mostDrop())
}

// whyBoard says what hangs on a board.
func (p *planner) whyBoard(board int) string {
	circuits, places := 0, 0
	for _, c := range p.circuits {
		if c.at.board == board {
			circuits++
			places += c.poles
		}
	}
	b := p.rig.Boards[board]
	says := fmt.Sprintf("%s: %s on %d of %s.", b.Name, plural(circuits, "circuit"), places, plural(b.Poles, "place"))
	if legs := p.legsAt(board); circuits > 0 {
		says += fmt.Sprintf(" At full white %s, at most %v (main %s × %v).", legs, units.Amps(float64(b.Main)*float64(b.Factor)), amps(b.Main), b.Factor)
	}
	return says
}

// legsAt gives the worst currents of a board's legs at full white, or of the supply's behind all boards, and how even they are.
func (p *planner) legsAt(board int) string {
	var words []string
	for i, a := range p.legs[board] {
		words = append(words, fmt.Sprintf("L%d %v", i+1, a))
	}
	says := strings.Join(words, ", ")
	if len(words) > 1 {
		says += fmt.Sprintf(", %v from even", power.Unevenness(p.legs[board]))
	}
	return says
}

// whyRuns says how a wall's data runs are made.
func (p *planner) whyRuns(wall int) string {
	r, w, m := p.runs[wall], p.rig.Walls[wall], p.heaviest()
	size := plural(r.each, "panel")
	if r.columns {
		size = fmt.Sprintf("%s (%d panels)", plural(r.each, "column"), r.each*w.Rows)
	}
	says := fmt.Sprintf("%s: %s of %s. A port carries %d panels in mode %s (%v frames a second, %d bits).", w.Name, plural(r.count, "data run"), size, r.fits, m.Name, m.WallRate, m.BitDepth)
	if r.columns && w.Rows > 1 {
		says += " Runs are of whole columns."
	}
	return says
}

// whyProcessors says how many processors there are, and whether walls share them.
func (p *planner) whyProcessors() string {
	total := 0
	for _, r := range p.runs {
		total += r.count
	}
	says := fmt.Sprintf("Processors: %d, for %s on %s each.", p.needed, plural(total, "data run"), plural(p.brief.Runs, "port"))
	if len(p.runs) > 1 && p.shares() {
		says += " Walls share them, which saves some."
	}
	return says
}

// whyFull says whether full white passes, and what would carry it.
func (p *planner) whyFull() []string {
	s := p.rig.Supply
	says := []string{fmt.Sprintf("At full white the supply carries %s, at most %v (main %s × %v).", p.legsAt(p.boards), units.Amps(float64(s.Main)*float64(s.Factor)), amps(s.Main), s.Factor)}
	if p.full < 1 {
		says = append(says, fmt.Sprintf("Full white does not pass: the plant carries %s of it. The next step up, %s.", percent(p.full), p.binds))
		says = append(says, p.remedies...)
	}
	return says
}

// why lists all reasons.
func (p *planner) why() []string {
	says := p.whyFull()[:1]
	if p.fade > 0 {
		says = append(says, fmt.Sprintf("Presets fade up over %s: the generator cannot follow a faster one.", lasting(fades[p.fade])))
	}
	for wall := range p.rig.Walls {
		says = append(says, p.whyWall(wall)...)
	}
	for b := range p.boards {
		says = append(says, p.whyBoard(b))
	}
	if p.moved > 0 {
		says = append(says, fmt.Sprintf("To make the legs even: %s of place.", plural(p.moved, "change")))
	}
	for wall := range p.rig.Walls {
		says = append(says, p.whyRuns(wall))
	}
	return append(says, p.whyProcessors())
}

// summary says in a line a thing what was planned.
func (p *planner) summary() []string {
	panels, runs := len(p.rig.Panels), 0
	for _, r := range p.runs {
		runs += r.count
	}
	says := []string{fmt.Sprintf("%s: %s, %s on %s, %s on %s", p.rig.Name, plural(panels, "panel"), plural(len(p.circuits), "circuit"), plural(p.boards, "board"),
		plural(runs, "data run"), plural(p.needed, "processor"))}
	for wall, f := range p.feeds {
		each := plural(f.each, "panel")
		if f.columns {
			each = plural(f.each, "column")
		}
		says = append(says, fmt.Sprintf("%s: %s of %s, %s, %s; at least %d by panels%s", p.rig.Walls[wall].Name, plural(len(f.chains), "circuit"), each, plural(f.poles, "pole"),
			amps(f.breaker), f.bounds.ByPanels, byColumn(f.bounds)))
	}
	if p.full < 1 {
		return append(append(says, fmt.Sprintf("full white does not pass: %s of it does. The next step up, %s", percent(p.full), p.binds)), p.remedies...)
	}
	return append(says, "full white passes")
}

func byColumn(c Count) string {
	if c.ByColumn == 0 {
		return ""
	}
	return fmt.Sprintf(", %d of whole columns", c.ByColumn)
}
