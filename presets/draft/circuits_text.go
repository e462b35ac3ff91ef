package draft

import (
	"fmt"
	"slices"

	"lookgate/presets/rig"
)

// segment is a stretch of a wall's circuits that one rule says.
type segment struct {
	circuits    []circuit
	left, right int // columns; 0 for the whole wall
}

// writeCircuits writes the rules of all walls.
func (p *planner) writeCircuits(g *page) {
	g.line("circuits:")
	prefixes := p.prefixes()
	for wall := range p.rig.Walls {
		for _, why := range p.whyWall(wall) {
			g.note("  ", "%s", why)
		}
		for _, s := range p.segments(wall) {
			p.writeRule(g, prefixes[wall], s)
		}
	}
}

// segments cuts a wall's circuits where they go from one board to the next, if that is between columns.
func (p *planner) segments(wall int) []segment {
	f := p.feeds[wall]
	var all []circuit
	for _, c := range p.circuits {
		if c.wall == wall {
			all = append(all, c)
		}
	}
	if !f.columns || len(all) != ceil(p.rig.Walls[wall].Columns, f.each) {
		return []segment{{circuits: all}}
	}
	var out []segment
	for i, c := range all {
		if i == 0 || c.home != all[i-1].home {
			out = append(out, segment{})
		}
		s := &out[len(out)-1]
		s.circuits = append(s.circuits, c)
	}
	if len(out) > 1 {
		for i := range out {
			out[i].left, out[i].right = p.columnsOf(out[i], wall)
		}
	}
	return out
}

// columnsOf gives the columns of a stretch of circuits that are whole columns.
func (p *planner) columnsOf(s segment, wall int) (left, right int) {
	f, w := p.feeds[wall], p.rig.Walls[wall]
	first, last := s.circuits[0].index*f.each, min((s.circuits[len(s.circuits)-1].index+1)*f.each, w.Columns)
	if f.right {
		return w.Columns - last + 1, w.Columns - first
	}
	return first + 1, last
}

// writeRule writes one rule with its exceptions.
func (p *planner) writeRule(g *page, prefix string, s segment) {
	first := s.circuits[0]
	f := p.feeds[first.wall]
	board := p.rig.Boards[first.home]
	start := p.startOf(s, first.home)
	head := fmt.Sprintf("prefix: %s, wall: %s", word(prefix), word(p.rig.Walls[first.wall].Name))
	if first.index > 0 {
		head = fmt.Sprintf("prefix: %s, first_number: %d, wall: %s", word(prefix), first.index+1, word(p.rig.Walls[first.wall].Name))
	}
	if s.left > 0 {
		head += fmt.Sprintf(", columns: %d-%d", s.left, s.right)
	}
	size := "panels_each"
	if f.columns {
		size = "columns_each"
	}
	g.line("  - {%s, board: %s, %s: %d, start: %s, path: up-down,", head, word(board.Name), size, f.each, f.start)
	tail := fmt.Sprintf("     first_pole: %d, poles_each: %d, breaker_a: %s, %s", slotPoles(board, f.poles, start)[0], f.poles, figure(f.breaker), p.behind(f))
	p.writeExceptions(g, tail, prefix, s, start)
}

// behind gives the keys of a rule that say what stands behind its breakers.
func (p *planner) behind(f feed) string {
	text := p.leadText("home_run", f.home) + ", " + p.leadText("jumper", f.link)
	c := p.brief.Circuits
	if c.Curve != rig.NoCurve {
		text += fmt.Sprintf(", curve: %v", c.Curve)
	}
	if c.Residual > 0 {
		text += fmt.Sprintf(", residual_ma: %s", figure(c.Residual*1000))
	}
	return text
}

func (p *planner) leadText(key string, l lead) string {
	if l.run == nil {
		return fmt.Sprintf("%s_a: %s", key, figure(l.rating))
	}
	return fmt.Sprintf("%s: {cable: %s, length_m: %s}", key, word(p.rig.Cables[l.run.Cable].Name), figure(l.run.Length))
}

// writeExceptions ends a rule with the circuits that stand elsewhere than it says.
func (p *planner) writeExceptions(g *page, tail, prefix string, s segment, start int) {
	home := s.circuits[0].home
	var lines []string
	for k, c := range s.circuits {
		name := word(fmt.Sprintf("%s%d", prefix, c.index+1))
		switch {
		case c.at.board != home:
			lines = append(lines, fmt.Sprintf("{circuit: %s, board: %s, poles: %s}", name, word(p.rig.Boards[c.at.board].Name), list(c.at.poles)))
		case !slices.Equal(c.at.poles, slotPoles(p.rig.Boards[home], c.poles, start+k)):
			lines = append(lines, fmt.Sprintf("{circuit: %s, poles: %s}", name, list(c.at.poles)))
		}
	}
	if len(lines) == 0 {
		g.line("%s}", tail)
		return
	}
	g.line("%s,", tail)
	g.line("     except: [      # these stand elsewhere: on another board, or where the legs are more even")
	for i, l := range lines {
		if i < len(lines)-1 {
			l += ","
		}
		g.line("       %s", l)
	}
	g.line("     ]}")
}

// startOf gives the slot that a rule's first circuit stands on, so that as many circuits as can be stand where the rule says.
func (p *planner) startOf(s segment, home int) int {
	best, most := 0, -1
	for k, c := range s.circuits {
		if c.at.board != home {
			continue
		}
		start := slotOf(p.rig.Boards[home], c.at.poles) - k
		if start < 0 {
			continue
		}
		n := 0
		for i, d := range s.circuits {
			if d.at.board == home && slotOf(p.rig.Boards[home], d.at.poles)-i == start {
				n++
			}
		}
		if n > most {
			best, most = start, n
		}
	}
	return best
}

// slotOf gives the number of a place in the order of a rule, from 0.
func slotOf(b rig.Board, poles []int) int {
	first := poles[0] - 1
	switch {
	case len(poles) == 1:
		return first
	case b.Numbering == rig.OddEven:
		return 2*(first/4) + first%2
	default:
		return first / 2
	}
}

// slotPoles gives the poles of a place by its number in the order of a rule.
func slotPoles(b rig.Board, poles, slot int) []int {
	if poles == 1 {
		return []int{slot + 1}
	}
	return pair(b, slot)
}
