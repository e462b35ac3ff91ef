package draft

import "slices"

// walk says where the chains of a wall start, in the words of a site file; they go up one column and down the next.
type walk struct {
	start      string
	right, top bool
}

var walks = []walk{{start: "bottom-left"}, {start: "bottom-right", right: true}, {start: "top-left", top: true}, {start: "top-right", right: true, top: true}}

// walksOf gives the walks that a wall may have.
func (p *planner) walksOf(wall int) []walk {
	if s := p.brief.Wishes[wall].Start; s != "" {
		i := slices.IndexFunc(walks, func(w walk) bool { return w.start == s })
		return walks[i : i+1]
	}
	return walks
}

// grid gives a wall's panels by column and row, from 0; -1 for a gap.
func (p *planner) grid(wall int) [][]int {
	w := p.rig.Walls[wall]
	g := make([][]int, w.Columns)
	for c := range g {
		g[c] = slices.Repeat([]int{-1}, w.Rows)
	}
	for i, panel := range p.rig.Panels {
		if panel.Wall == wall {
			g[panel.Column-1][panel.Row-1] = i
		}
	}
	return g
}

// through gives the panels of some columns of a grid in the order of the walk: it turns back at each end and passes over gaps.
func (w walk) through(columns [][]int) []int {
	var out []int
	for i := range columns {
		c := columns[i]
		if w.right {
			c = columns[len(columns)-1-i]
		}
		c = slices.Clone(c)
		if w.top != (i%2 == 1) {
			slices.Reverse(c)
		}
		for _, panel := range c {
			if panel >= 0 {
				out = append(out, panel)
			}
		}
	}
	return out
}

// byColumns cuts a wall into chains of so many columns, from the side where the walk starts.
func (w walk) byColumns(g [][]int, each int) [][]int {
	var out [][]int
	for k := 0; k < len(g); k += each {
		part := g[k:min(k+each, len(g))]
		if w.right {
			part = g[max(len(g)-k-each, 0) : len(g)-k]
		}
		if panels := w.through(part); len(panels) > 0 {
			out = append(out, panels)
		}
	}
	return out
}

// byPanels cuts a wall into chains of so many panels.
func (w walk) byPanels(g [][]int, each int) [][]int {
	var out [][]int
	for part := range slices.Chunk(w.through(g), each) {
		out = append(out, part)
	}
	return out
}

// jumps reports whether a chain has two panels after each other that do not touch along a side.
func (p *planner) jumps(chain []int) bool {
	for i := 1; i < len(chain); i++ {
		a, b := p.rig.Panels[chain[i-1]], p.rig.Panels[chain[i]]
		if max(a.Column-b.Column, b.Column-a.Column)+max(a.Row-b.Row, b.Row-a.Row) != 1 {
			return true
		}
	}
	return false
}

func (p *planner) anyJumps(chains [][]int) bool { return slices.ContainsFunc(chains, p.jumps) }
