package site

import (
	"fmt"
	"strconv"
	"strings"

	"lookgate/presets/rig"
)

// Bounds of the walls together, and of how many panels all lists together may name: each panel has a circuit, a data run, an output and a zone, and
// exceptions may name it again.
const (
	maxPanels = 200_000
	maxNamed  = 10 * maxPanels
)

// wall reads a wall and makes its panels, column by column from the left and in each from the bottom, without the gaps.
func (r *reader) wall(f *fields) {
	r.from("walls", f, nil)
	w := rig.Wall{
		Name:    f.need("name").name(),
		Columns: f.need("columns").anyCount(),
		Rows:    f.need("rows").anyCount(),
		Type:    f.need("panel").ref("panel_types", "panel type", r.types),
	}
	area := int64(w.Columns) * int64(w.Rows)
	if w.Columns < 1 || w.Rows < 1 || area > int64(maxPanels-len(r.rig.Panels)) {
		if w.Columns > 0 && w.Rows > 0 {
			f.wrong("too-many-panels", maxPanels)
		}
		r.unsure["walls"] = true
		area = 0
	}
	if w.Type >= 0 {
		t := r.rig.PanelTypes[w.Type]
		w.PixelsX, w.PixelsY = w.Columns*t.PixelsX, w.Rows*t.PixelsY
	} else {
		r.unsure["walls"] = true
	}
	r.rig.Walls = append(r.rig.Walls, w)
	types := make([]int, area)
	for i := range types {
		types[i] = w.Type
	}
	r.irregular(f, len(r.rig.Walls)-1, types)
	r.fill(len(r.rig.Walls)-1, types)
}

// gap stands for a panel type where no panel is.
const gap = -2

// irregular reads what differs from a regular wall: gaps, and panels of other types.
func (r *reader) irregular(f *fields, wall int, types []int) {
	set := func(v value, to int) {
		for _, item := range v.some() {
			b, ok := item.block(wall)
			if !ok || len(types) == 0 {
				continue
			}
			for _, c := range b.area().cells(bottomLeft, upDown) {
				types[(c.row-1)*r.rig.Walls[wall].Columns+c.column-1] = to
			}
		}
	}
	set(f.opt("gaps"), gap)
	for _, item := range f.opt("except").items() {
		e := item.fields()
		t := e.need("panel").ref("panel_types", "panel type", r.types)
		set(e.need("panels"), t)
		e.done()
	}
}

// fill makes the panels of a wall.
func (r *reader) fill(wall int, types []int) {
	w := r.rig.Walls[wall]
	grid := make([]int, len(types))
	on, seen := []int{}, make([]bool, len(r.rig.PanelTypes))
	for i, t := range types {
		grid[i] = -1
		if t >= 0 && !seen[t] {
			seen[t], on = true, append(on, t)
		}
	}
	r.typesOn = append(r.typesOn, on)
	for c := 1; c <= w.Columns && len(types) > 0; c++ {
		for row := 1; row <= w.Rows; row++ {
			at := (row-1)*w.Columns + c - 1
			if types[at] == gap {
				continue
			}
			grid[at] = len(r.rig.Panels)
			r.rig.Panels = append(r.rig.Panels, rig.Panel{Wall: wall, Column: c, Row: row, Type: types[at]})
		}
	}
	r.grid = append(r.grid, grid)
}

// block is a rectangle of a wall, from its first corner to its last.
type block struct {
	wall        int
	first, last cell
}

// cell is one place of a wall.
type cell struct{ column, row int }

// block reads "C1R1", "C1R1..C2R9" or either with the wall's name before it. Without the name it is on the wall that the caller says; -1 for none.
func (v value) block(wall int) (block, bool) {
	s, ok := v.as(kind{form: panelForm})
	if !ok {
		return block{}, false
	}
	b, at := block{wall: wall}, s
	if name, rest, two := strings.Cut(s, " "); two {
		n, known := v.r.walls.at[name]
		if wall >= 0 && name != v.r.rig.Walls[wall].Name || wall < 0 && !known {
			return block{}, v.wrongWall(name, wall)
		}
		if wall < 0 {
			b.wall = n
		}
		at = strings.TrimSpace(rest)
	}
	from, to, two := strings.Cut(at, "..")
	if !two {
		to = from
	}
	var ok1, ok2 bool
	b.first, ok1 = parseCell(from)
	b.last, ok2 = parseCell(to)
	if !ok1 || !ok2 || b.wall < 0 {
		v.wrong("panel-unreadable", quoted(s))
		return block{}, false
	}
	return b, v.within(b, s)
}

// wrongWall tells of a wall that is not known or not the one that is meant.
func (v value) wrongWall(name string, wall int) bool {
	switch {
	case wall >= 0:
		v.wrong("other-wall", quoted(name), v.r.rig.Walls[wall].Name)
	case v.r.unsure["walls"]:
		v.mark()
	default:
		v.wrong("unknown-name", "wall", quoted(name), v.r.suggest(name, v.r.walls.names))
	}
	return false
}

// within checks a block against its wall and against the bound on all that is named.
func (v value) within(b block, said string) bool {
	w := v.r.rig.Walls[b.wall]
	if w.Columns < 1 || w.Rows < 1 || len(v.r.grid) > b.wall && len(v.r.grid[b.wall]) == 0 {
		v.mark()
		return false
	}
	if a := b.area(); a.right > w.Columns || a.top > w.Rows {
		v.wrong("panel-outside", quoted(said), w.Name, w.Columns, w.Rows)
		return false
	}
	v.r.named += b.size()
	if v.r.named > maxNamed {
		v.wrong("too-many-named", maxNamed)
		return false
	}
	return true
}

func (b block) size() int {
	a := b.area()
	return (a.right - a.left + 1) * (a.top - a.bottom + 1)
}

// parseCell reads "C3R1".
func parseCell(s string) (cell, bool) {
	s = strings.TrimSpace(s)
	rest, ok := strings.CutPrefix(s, "C")
	c, row, two := strings.Cut(rest, "R")
	column, err1 := strconv.Atoi(c)
	number, err2 := strconv.Atoi(row)
	good := ok && two && err1 == nil && err2 == nil && column > 0 && number > 0 && fmt.Sprintf("C%dR%d", column, number) == s
	return cell{column, number}, good
}

// panels reads a list of panels and blocks in the order of a chain. A block is walked from its first corner: along its first column, and back along the
// next. A single panel that is a gap is a mistake; a block passes over gaps.
func (v value) panels() []int {
	var out []int
	for _, item := range v.some() {
		b, ok := item.block(-1)
		if !ok {
			continue
		}
		found := v.r.panelsAt(b.wall, b.area().cells(b.corner(), upDown))
		if len(found) == 0 {
			item.wrong("panel-gap", quoted(item.node.Value))
		}
		out = append(out, found...)
	}
	return out
}
