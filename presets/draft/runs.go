package draft

import (
	"fmt"
	"math/big"

	"lookgate/presets/picture"
	"lookgate/presets/rig"
)

// runs is how one wall's data runs are made.
type runs struct {
	columns bool // each is so many columns, else so many panels
	each    int
	wide    int // columns that one processor has ports for
	count   int
	fits    int // panels that a port carries in every mode
	start   string
}

// span is the part of a wall that one processor drives.
type span struct{ wall, left, right, processor int }

// planRuns gives every wall its data runs and processors.
func (p *planner) planRuns() error {
	p.runs, p.spans, p.needed = nil, nil, 0
	for wall := range p.rig.Walls {
		r, err := p.runsOf(wall)
		if err != nil {
			return err
		}
		p.runs = append(p.runs, r)
	}
	if p.shares() {
		p.spanTogether()
	} else {
		p.spanApart()
	}
	if have := p.brief.AtHand; have > 0 && p.needed > have {
		total := 0
		for _, r := range p.runs {
			total += r.count
		}
		return impossible("name more of them, or some with more or faster ports; or take the heaviest mode out",
			"%s of the walls need %s, and %d are at hand: a processor has %s", plural(total, "data run"), plural(p.needed, "processor"), have, plural(p.brief.Runs, "port"))
	}
	return nil
}

// runsOf finds how a wall is cut into data runs: whole columns where a port carries one.
func (p *planner) runsOf(wall int) (runs, error) {
	w, start := p.rig.Walls[wall], "bottom-left"
	if p.feeds[wall].top {
		start = "top-left"
	}
	n := p.fitting(wall)
	if n < 1 {
		m := p.heaviest()
		return runs{}, impossible("give faster ports, or take the mode out", "wall %s: one panel is more than a port carries in mode %s (%v frames a second, %d bits)", w.Name, m.Name, m.WallRate, m.BitDepth)
	}
	ports := p.brief.Runs
	whole := min(n/w.Rows, w.Columns)
	if asked := p.brief.Columns; asked > 0 && asked > n/w.Rows {
		m := p.heaviest()
		return runs{}, impossible(fmt.Sprintf("ask for fewer columns_each under processors, or leave it out: a port carries %s", plural(n, "panel")),
			"wall %s: %s are %d panels, more than a port carries in mode %s (%v frames a second, %d bits)", w.Name, plural(asked, "column"), asked*w.Rows, m.Name, m.WallRate, m.BitDepth)
	}
	if whole > 0 {
		each := evenColumns(w.Columns, whole).each
		if p.brief.Columns > 0 {
			each = min(p.brief.Columns, w.Columns)
		}
		return runs{true, each, each * ports, ceil(w.Columns, each), n, start}, nil
	}
	wide := min(ports*n/w.Rows, w.Columns)
	if wide < 1 {
		return runs{}, impossible("give processors with more or faster ports, or take the heaviest mode out",
			"wall %s: a column of %d panels takes %s of %d panels, and a processor has %d", w.Name, w.Rows, plural(ceil(w.Rows, n), "port"), n, ports)
	}
	wide = evenColumns(w.Columns, wide).each
	count := 0
	for left := 0; left < w.Columns; left += wide {
		count += ceil(min(wide, w.Columns-left)*w.Rows, n)
	}
	return runs{false, n, wide, count, n, start}, nil
}

// fitting gives how many panels of a wall a port carries in every mode, as the check of a site reckons it.
func (p *planner) fitting(wall int) int {
	n := p.fewer
	r := *p.rig
	all := []int{}
	for i, panel := range p.rig.Panels {
		if panel.Wall == wall {
			all = append(all, i)
		}
	}
	low, high := 0, len(all)+1 // fits, does not
	for high-low > 1 {
		middle := (low + high) / 2
		if over(&r, all[:middle]) {
			high = middle
		} else {
			low = middle
		}
	}
	return low - n
}

// over reports whether a run of some panels is more than its port carries in some mode.
func over(r *rig.Rig, panels []int) bool {
	r.DataRuns = []rig.DataRun{{Name: "r", Port: 1, Panels: panels}}
	for m := range r.Modes {
		if picture.RunLoads(r, m)[0].Over {
			return true
		}
	}
	return false
}

// heaviest gives the mode that puts the most on a port.
func (p *planner) heaviest() rig.Mode {
	best, most := rig.Mode{}, new(big.Rat)
	for _, m := range p.rig.Modes {
		load := big.NewRat(m.WallRate.Num*int64(p.rig.Processors[0].WireBits(m.BitDepth)), m.WallRate.Den)
		if load.Cmp(most) > 0 {
			best, most = m, load
		}
	}
	return best
}

// shares reports whether walls should share processors: where that saves some, and all runs are of whole columns.
func (p *planner) shares() bool {
	apart, total := 0, 0
	for wall, r := range p.runs {
		if !r.columns {
			return false
		}
		apart += ceil(p.rig.Walls[wall].Columns, r.wide)
		total += r.count
	}
	return ceil(total, p.brief.Runs) < apart
}

// spanApart gives each wall processors of its own.
func (p *planner) spanApart() {
	for wall, r := range p.runs {
		columns := p.rig.Walls[wall].Columns
		for left := 1; left <= columns; left += r.wide {
			p.spans = append(p.spans, span{wall, left, min(left+r.wide-1, columns), p.needed})
			p.needed++
		}
	}
}

// spanTogether fills one processor after the other, over the walls.
func (p *planner) spanTogether() {
	free := 0
	for wall, r := range p.runs {
		columns := p.rig.Walls[wall].Columns
		for left := 1; left <= columns; {
			if free == 0 {
				p.needed++
				free = p.brief.Runs
			}
			right := min(left+free*r.each-1, columns)
			p.spans = append(p.spans, span{wall, left, right, p.needed - 1})
			free -= ceil(right-left+1, r.each)
			left = right + 1
		}
	}
}

// processor gives the name of a processor.
func (p *planner) processor(i int) string { return fmt.Sprintf("%s%d", p.rig.Processors[0].Name, i+1) }

// byRule reports whether one rule says all processors: several on one wall, each for as many columns.
func (p *planner) byRule() bool { return len(p.rig.Walls) == 1 && p.needed > 1 && p.runs[0].columns }
