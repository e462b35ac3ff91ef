package papers

import (
	"fmt"
	"html"
	"html/template"
	"strconv"
	"strings"

	"lookgate/presets/hatch"
)

// A drawing is cut into parts of at most so many columns and rows, so that addresses stay readable on paper.
const (
	mostColumns = 20
	mostRows    = 22
)

// What a part may take on a page, in millimetres: A4 is the narrower of the two papers and Letter the shorter.
const (
	partWidth  = 170.0
	partHeight = 190.0
	largest    = 14.0 // a panel
	margin     = 6.0  // for the numbers of columns and rows
)

// view is one way to look at a wall: from which side, and by which chains.
type view struct {
	s       *sheet
	wall    int
	back    bool
	what    string // "circuit" or "data run"
	places  []chainPlace
	chains  [][]int
	hatches []int
	label   func(chain, at int) (name, below string)
}

// elevations draws every wall from the front and from the back, by circuit and by data run.
func (s *sheet) elevations() []section {
	power := view{s: s, what: "circuit", places: s.feeds, chains: s.circuitChains(), label: func(chain, at int) (string, string) {
		return s.rig.Circuits[chain].Name, strconv.Itoa(at + 1)
	}}
	data := view{s: s, what: "data run", places: s.runs, chains: s.runChains(), label: func(chain, at int) (string, string) {
		d := s.rig.DataRuns[chain]
		return s.rig.Processors[d.Processor].Name, fmt.Sprintf("%d.%d", d.Port, at+1)
	}}
	var sections []section
	for wall := range s.rig.Walls {
		for _, v := range []view{power, data} {
			v.wall, v.hatches = wall, s.hatches(v.chains)
			for _, back := range []bool{false, true} {
				v.back = back
				sections = append(sections, v.section())
			}
		}
	}
	return sections
}

func (v view) section() section {
	side := "from the FRONT"
	if v.back {
		side = "from the BACK"
	}
	key := "In each panel: its address, its circuit, and its place in the feeding order."
	if v.what == "data run" {
		key = "In each panel: its address, its processor, and port and place on the run, 3.2 being the second panel of port 3."
	}
	if v.back {
		key += " Columns count from the right here."
	}
	sec := section{Title: fmt.Sprintf("Wall %s by %s, seen %s", v.s.rig.Walls[v.wall].Name, v.what, side),
		Intro: []string{key + " A disc is where a chain begins, the arrows go to its end. A crossed cell has no panel."}}
	for _, p := range v.parts() {
		sec.Walls = append(sec.Walls, template.HTML(p.draw())) // every name in it is escaped
	}
	return sec
}

// drawing is one part of a view: columns and rows from and to, and the size of a panel on paper.
type drawing struct {
	view
	left, right, bottom, top int
	w, h                     float64
	owner                    map[[2]int]int // panel by column and row
	b                        strings.Builder
}

// parts cuts a view into drawings of about the same size, in reading order.
func (v view) parts() []*drawing {
	wall := v.s.rig.Walls[v.wall]
	t := v.s.rig.PanelTypes[wall.Type]
	across, up := (wall.Columns+mostColumns-1)/mostColumns, (wall.Rows+mostRows-1)/mostRows
	columns, rows := (wall.Columns+across-1)/across, (wall.Rows+up-1)/up
	ratio := float64(t.Height) / float64(t.Width)
	w := min(largest, partWidth/float64(columns), partHeight/float64(rows)/ratio)
	owner := map[[2]int]int{}
	for i, p := range v.s.rig.Panels {
		if p.Wall == v.wall {
			owner[[2]int{p.Column, p.Row}] = i
		}
	}
	var parts []*drawing
	for k := range up {
		for i := range across {
			if v.back {
				i = across - 1 - i
			}
			d := &drawing{view: v, left: i*columns + 1, top: wall.Rows - k*rows, w: w, h: w * ratio, owner: owner}
			d.right, d.bottom = min(wall.Columns, d.left+columns-1), max(1, d.top-rows+1)
			parts = append(parts, d)
		}
	}
	return parts
}

// corner gives the top left of a place on the paper.
func (d *drawing) corner(column, row int) (x, y float64) {
	x = float64(column - d.left)
	if d.back {
		x = float64(d.right - column)
	}
	return margin + x*d.w, margin + float64(d.top-row)*d.h
}

// node gives where a chain passes a panel: low and to the right, clear of the words.
func (d *drawing) node(panel int) (x, y float64) {
	p := d.s.rig.Panels[panel]
	x, y = d.corner(p.Column, p.Row)
	return x + 0.83*d.w, y + 0.82*d.h
}

func (d *drawing) put(form string, args ...any) { fmt.Fprintf(&d.b, form, args...) }

func (d *drawing) draw() string {
	width, height := float64(d.right-d.left+1)*d.w+2*margin, float64(d.top-d.bottom+1)*d.h+2*margin
	d.put(`<svg class="wall" style="width:%.2fmm;height:%.2fmm" viewBox="0 0 %.2f %.2f">`, width, height, width, height)
	d.defineHatches()
	for row := d.top; row >= d.bottom; row-- {
		for column := d.left; column <= d.right; column++ {
			if panel, ok := d.owner[[2]int{column, row}]; ok {
				d.panel(panel)
			} else {
				d.gap(column, row)
			}
		}
	}
	for panel := range d.places {
		if d.shows(panel) {
			d.hop(panel)
		}
	}
	d.axes(width, height)
	for row := d.top; row >= d.bottom; row-- {
		for column := d.left; column <= d.right; column++ {
			if panel, ok := d.owner[[2]int{column, row}]; ok {
				d.words(panel)
			}
		}
	}
	d.put("</svg>\n")
	return d.b.String()
}

// shows reports whether a panel is on this part.
func (d *drawing) shows(panel int) bool {
	p := d.s.rig.Panels[panel]
	return p.Wall == d.wall && p.Column >= d.left && p.Column <= d.right && p.Row >= d.bottom && p.Row <= d.top
}

// panel draws a panel with the hatch of its chain, and a thick line where another chain begins.
func (d *drawing) panel(panel int) {
	p := d.s.rig.Panels[panel]
	x, y := d.corner(p.Column, p.Row)
	if c := d.places[panel].chain; c >= 0 && d.hatches[c] > 0 {
		d.put(`<use class="h" href="#%s" x="%.2f" y="%.2f"/>`, d.hatchName(d.hatches[c]), x, y)
	}
	d.put(`<rect class="p" x="%.2f" y="%.2f" width="%.2f" height="%.2f"/>`, x, y, d.w, d.h)
	side := 1
	if d.back {
		side = -1
	}
	for _, edge := range []struct {
		column, row    int
		x1, y1, x2, y2 float64
	}{{-side, 0, 0, 0, 0, 1}, {side, 0, 1, 0, 1, 1}, {0, 1, 0, 0, 1, 0}, {0, -1, 0, 1, 1, 1}} {
		if next, ok := d.owner[[2]int{p.Column + edge.column, p.Row + edge.row}]; ok && d.places[next].chain == d.places[panel].chain {
			continue
		}
		d.put(`<path class="e" d="M%.2f %.2fL%.2f %.2f"/>`, x+edge.x1*d.w, y+edge.y1*d.h, x+edge.x2*d.w, y+edge.y2*d.h)
	}
}

func (d *drawing) gap(column, row int) {
	x, y := d.corner(column, row)
	d.put(`<path class="g" d="M%.2f %.2fh%.2fv%.2fh-%.2fzl%.2f %.2fm0 -%.2fl-%.2f %.2f"/>`, x, y, d.w, d.h, d.w, d.w, d.h, d.h, d.w, d.h)
}

// words writes a panel's address, its chain and its place on that, on white so that hatches do not hide them.
func (d *drawing) words(panel int) {
	p := d.s.rig.Panels[panel]
	x, y := d.corner(p.Column, p.Row)
	name, below := dash, ""
	if at := d.places[panel]; at.chain >= 0 {
		name, below = d.label(at.chain, at.at)
	}
	d.put(`<g class="w" data-panel="%s">`, html.EscapeString(d.s.rig.PanelName(panel)))
	for _, line := range []struct {
		class, text string
		y, size     float64
	}{{"a", d.s.address(panel), 0.23, 0.2}, {"n", name, 0.52, 0.27}, {"o", below, 0.78, 0.22}} {
		size := min(line.size*d.h, 0.72*d.w/(0.6*float64(len(line.text))))
		d.put(`<text class="%s" x="%.2f" y="%.2f" font-size="%.2f">%s</text>`, line.class, x+0.06*d.w, y+line.y*d.h, size, html.EscapeString(line.text))
	}
	d.put("</g>")
}

// hop draws the way from a panel to the next of its chain: an arrow, a stub where that one is on another part, its name where it is on another wall.
func (d *drawing) hop(panel int) {
	at := d.places[panel]
	if at.chain < 0 {
		return
	}
	x, y := d.node(panel)
	if at.at == 0 {
		d.put(`<circle class="s" cx="%.2f" cy="%.2f" r="%.2f"/>`, x, y, 0.09*d.w)
	}
	chain := d.chains[at.chain]
	if at.at+1 < len(chain) {
		d.arrow(x, y, chain[at.at+1])
	}
	if at.at > 0 && !d.shows(chain[at.at-1]) && d.s.rig.Panels[chain[at.at-1]].Wall == d.wall {
		fx, fy := d.node(chain[at.at-1])
		dx, dy := near(x-fx, d.w), near(y-fy, d.h)
		d.put(`<path class="c" d="M%.2f %.2fL%.2f %.2f" marker-end="url(#to)"/>`, x-dx, y-dy, x, y)
	}
}

func (d *drawing) arrow(x, y float64, next int) {
	to := d.s.rig.Panels[next]
	if to.Wall != d.wall {
		d.put(`<text class="f" x="%.2f" y="%.2f" font-size="%.2f">to %s</text>`, x-0.7*d.w, y+0.12*d.h, 0.13*d.h, html.EscapeString(d.s.rig.PanelName(next)))
		return
	}
	tx, ty := d.node(next)
	if d.shows(next) {
		d.put(`<path class="c" d="M%.2f %.2fL%.2f %.2f" marker-end="url(#to)"/>`, x, y, tx, ty)
		return
	}
	d.put(`<path class="c" d="M%.2f %.2fl%.2f %.2f"/>`, x, y, near(tx-x, d.w), near(ty-y, d.h))
}

// near shortens a way to what still shows its direction.
func near(v, cell float64) float64 { return max(-0.4*cell, min(0.4*cell, v)) }

// axes numbers columns above and below, and rows on both sides.
func (d *drawing) axes(width, height float64) {
	for column := d.left; column <= d.right; column++ {
		x, _ := d.corner(column, d.top)
		for _, y := range []float64{margin - 1.5, height - margin + 3.5} {
			d.put(`<text class="x" x="%.2f" y="%.2f" font-size="2.4">C%d</text>`, x+d.w/2, y, column)
		}
	}
	for row := d.bottom; row <= d.top; row++ {
		_, y := d.corner(d.left, row)
		for _, x := range []float64{margin / 2, width - margin/2} {
			d.put(`<text class="x" x="%.2f" y="%.2f" font-size="2.4">R%d</text>`, x, y+d.h/2+0.8, row)
		}
	}
}

// hatchSide is about the side of a hatch's tile on paper, in millimetres: a whole number of them makes a panel, so that hatches go on from one to the next.
const hatchSide = 2.8

// hatchName names a hatch as it is drawn over a panel of this part.
func (d *drawing) hatchName(k int) string {
	side := "f"
	if d.back {
		side = "b"
	}
	return fmt.Sprintf("h%d%s%s%dx%dx%d", d.wall, d.what[:1], side, d.left, d.top, k)
}

// defineHatches draws each hatch that the part needs over one panel, once. They are lines and no fill pattern: browsers print those as one picture a panel.
func (d *drawing) defineHatches() {
	used := make([]bool, hatch.Count)
	for panel, at := range d.places {
		if at.chain >= 0 && d.shows(panel) {
			used[d.hatches[at.chain]] = true
		}
	}
	across, down := max(1, int(d.w/hatchSide+0.5)), max(1, int(d.h/hatchSide+0.5))
	w, h := d.w/float64(across*hatch.Tile), d.h/float64(down*hatch.Tile)
	d.put("<defs>")
	for k := 1; k < hatch.Count; k++ {
		if !used[k] {
			continue
		}
		d.put(`<path id="%s" d="`, d.hatchName(k))
		for i := range across * down {
			left, top := i%across*hatch.Tile, i/across*hatch.Tile
			for _, l := range hatch.Lines(k) {
				if min(l.X1, l.X2, l.Y1, l.Y2) >= 0 && max(l.X1, l.X2, l.Y1, l.Y2) <= hatch.Tile { // the others only round off what these begin
					d.put("M%.2f %.2fL%.2f %.2f", w*float64(left+l.X1), h*float64(top+l.Y1), w*float64(left+l.X2), h*float64(top+l.Y2))
				}
			}
		}
		d.put(`"/>`)
	}
	d.put("</defs>")
}

// arrowHead is what all drawings use.
const arrowHead template.HTML = `<marker id="to" viewBox="0 0 6 6" refX="5" refY="3" markerUnits="userSpaceOnUse" markerWidth="1.6" markerHeight="1.6" orient="auto"><path d="M0 0L6 3L0 6z"/></marker>`
