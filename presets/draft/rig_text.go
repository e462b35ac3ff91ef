package draft

import (
	"fmt"
	"slices"
	"strings"
)

// rigText writes rig.yaml.
func (p *planner) rigText() []byte {
	g := &page{}
	g.note("", "Planned by lookgate from a brief. It is a site like any other: edit it as the plant is built, and check it again.")
	g.note("", "lookgate computes and advises. It protects nothing and nobody: breakers do. Local codes, and licensed electricians who know the installation, "+
		"decide what may be built and switched on.")
	g.line("name: %s", sentence(p.rig.Name))
	g.line("hold: %-10s # what cannot be raised for so long is dropped", lasting(p.rig.Hold))
	g.line("factor: %-8s # what part of a breaker or main a continuous load may use, where nothing else is said", percent(p.brief.Factor))
	g.gap()
	p.writeSupply(g)
	g.gap()
	g.WriteString(p.brief.Given.PanelTypes)
	g.gap()
	p.writeWalls(g)
	g.gap()
	p.writeCircuits(g)
	g.gap()
	p.writePicture(g)
	g.gap()
	p.writeOutputs(g)
	return []byte(g.String())
}

func (p *planner) writeSupply(g *page) {
	for _, why := range p.whyFull() {
		g.note("", "%s", why)
	}
	g.WriteString(p.brief.Given.Supply)
	g.WriteString(p.brief.Given.Drop)
	g.gap()
	if used := p.usedCables(); slices.Contains(used, true) {
		g.line("cables:")
		for i, in := range used {
			if in {
				g.item(p.brief.Given.Cables[i])
			}
		}
		g.gap()
	}
	g.line("boards:")
	for i := range p.boards {
		g.note("  ", "%s", p.whyBoard(i))
		g.item(p.brief.Given.Boards[i])
	}
}

// item writes an item of a list that the brief gives.
func (g *page) item(text string) {
	for l := range strings.Lines(text) {
		g.WriteString("  " + l)
	}
}

// usedCables says which of the brief's cables something is made of.
func (p *planner) usedCables() []bool {
	used := make([]bool, len(p.rig.Cables))
	for _, b := range p.rig.Boards[:p.boards] {
		if b.Feeder != nil {
			used[b.Feeder.Cable] = true
		}
	}
	for _, f := range p.feeds {
		for _, l := range []lead{f.home, f.link} {
			if l.run != nil {
				used[l.run.Cable] = true
			}
		}
	}
	return used
}

func (p *planner) writeWalls(g *page) {
	g.line("walls:")
	for i, w := range p.rig.Walls {
		gaps := ""
		if s := p.brief.Wishes[i].Gaps; s != "" {
			gaps = ", gaps: " + s
		}
		g.line("  - {name: %s, columns: %d, rows: %d, panel: %s%s}", word(w.Name), w.Columns, w.Rows, word(p.rig.PanelTypes[w.Type].Name), gaps)
	}
}

// writePicture writes sources, modes, processors and data runs.
func (p *planner) writePicture(g *page) {
	g.line("sources:      # one for each wall, as large as its raster, until it is known what will feed them")
	for _, w := range p.rig.Walls {
		g.line("  - {name: %s, pixels: %d x %d, rate: %v}", word(w.Name), w.PixelsX, w.PixelsY, p.rig.Modes[0].WallRate)
	}
	g.gap()
	g.WriteString(p.brief.Given.Modes)
	g.gap()
	g.line("processors:   # each is driven by the device of its name")
	if p.byRule() {
		g.line("  - {prefix: %s, wall: %s, columns_each: %d, inputs: [%s], %s}", word(p.rig.Processors[0].Name), word(p.rig.Walls[0].Name), p.runs[0].wide,
			word(p.rig.Walls[0].Name), p.brief.Given.Processor)
	} else {
		for i := range p.needed {
			g.line("  - {name: %s, inputs: [%s], %s}", word(p.processor(i)), strings.Join(p.inputs(i), ", "), p.brief.Given.Processor)
		}
	}
	g.gap()
	p.writeRuns(g)
}

// inputs lists the sources of the walls that a processor drives.
func (p *planner) inputs(processor int) []string {
	var names []string
	for _, s := range p.spans {
		if n := word(p.rig.Walls[s.wall].Name); s.processor == processor && !slices.Contains(names, n) {
			names = append(names, n)
		}
	}
	return names
}

func (p *planner) writeRuns(g *page) {
	g.line("data_runs:    # named after processor and port")
	for wall, r := range p.runs {
		g.note("  ", "%s", p.whyRuns(wall))
		if p.byRule() {
			g.line("  - {wall: %s, columns_each: %d, start: %s}", word(p.rig.Walls[wall].Name), r.each, r.start)
			continue
		}
		for _, s := range p.spans {
			if s.wall != wall {
				continue
			}
			size := "panels_each"
			if r.columns {
				size = "columns_each"
			}
			columns := ""
			if s.left > 1 || s.right < p.rig.Walls[wall].Columns {
				columns = fmt.Sprintf(", columns: %d-%d", s.left, s.right)
			}
			g.line("  - {wall: %s%s, processor: %s, %s: %d, start: %s}", word(p.rig.Walls[wall].Name), columns, word(p.processor(s.processor)), size, r.each, r.start)
		}
	}
}

// writeOutputs writes outputs and zones: a zone a wall.
func (p *planner) writeOutputs(g *page) {
	g.line("outputs:")
	for wall, w := range p.rig.Walls {
		if p.processorsOf(wall) > 1 {
			g.line("  - {wall: %s, each: processor}", word(w.Name))
		} else {
			g.line("  - {name: %s, wall: %s}", word(w.Name), word(w.Name))
		}
	}
	g.gap()
	g.line("zones:")
	for _, w := range p.rig.Walls {
		g.line("  - {name: %s, walls: %s}", word(w.Name), word(w.Name))
	}
}

// processorsOf counts the processors of a wall. A span of columns without panels has none.
func (p *planner) processorsOf(wall int) int {
	n := 0
	for _, s := range p.spans {
		if s.wall == wall {
			n++
		}
	}
	return n
}
