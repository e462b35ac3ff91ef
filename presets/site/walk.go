package site

// corner says where a walk over a block starts.
type corner struct{ right, top bool }

var bottomLeft = corner{}

// corners are the words for where a walk starts, with what they mean.
var (
	cornerWords = []string{"bottom-left", "bottom-right", "top-left", "top-right"}
	corners     = []corner{{}, {right: true}, {top: true}, {right: true, top: true}}
)

// way says how a walk goes on: by columns or rows, and whether every other one is walked back.
type way struct{ rows, back bool }

var upDown = way{back: true}

// ways are the words for how a walk goes on. "up-down" is up one column and down the next (from the top: down and up), "left-right" the same by rows;
// "columns" and "rows" begin each from the same side.
var (
	wayWords = []string{"up-down", "left-right", "columns", "rows"}
	ways     = []way{{back: true}, {rows: true, back: true}, {}, {rows: true}}
)

// area is a rectangle of a wall.
type area struct{ wall, left, right, bottom, top int }

func (b block) area() area {
	return area{b.wall, min(b.first.column, b.last.column), max(b.first.column, b.last.column), min(b.first.row, b.last.row), max(b.first.row, b.last.row)}
}

// corner gives the corner of a block that it is named from.
func (b block) corner() corner {
	return corner{b.first.column > b.last.column, b.first.row > b.last.row}
}

// line gives the numbers from lo to hi, or back.
func line(lo, hi int, back bool) []int {
	out := make([]int, 0, hi-lo+1)
	for i := lo; i <= hi; i++ {
		if back {
			out = append(out, lo+hi-i)
		} else {
			out = append(out, i)
		}
	}
	return out
}

// cells gives the places of an area in the order of the walk.
func (a area) cells(from corner, w way) []cell {
	columns, rows := line(a.left, a.right, from.right), line(a.bottom, a.top, from.top)
	outer, inner := columns, rows
	if w.rows {
		outer, inner = rows, columns
	}
	out := make([]cell, 0, len(outer)*len(inner))
	for i, o := range outer {
		for k := range inner {
			n := inner[k]
			if w.back && i%2 == 1 {
				n = inner[len(inner)-1-k]
			}
			if w.rows {
				out = append(out, cell{n, o})
			} else {
				out = append(out, cell{o, n})
			}
		}
	}
	return out
}

// slices cuts an area into parts of so many columns, or rows, from the side where the walk starts. The last one may be narrower.
func (a area) slices(n int, rows bool, from corner) []area {
	var out []area
	if rows {
		for k := 0; k <= a.top-a.bottom; k += n {
			b := a
			b.bottom, b.top = a.bottom+k, min(a.bottom+k+n-1, a.top)
			if from.top {
				b.bottom, b.top = max(a.top-k-n+1, a.bottom), a.top-k
			}
			out = append(out, b)
		}
		return out
	}
	for k := 0; k <= a.right-a.left; k += n {
		b := a
		b.left, b.right = a.left+k, min(a.left+k+n-1, a.right)
		if from.right {
			b.left, b.right = max(a.right-k-n+1, a.left), a.right-k
		}
		out = append(out, b)
	}
	return out
}

// panelsAt gives the panels that stand on cells of a wall, in the order of the cells.
func (r *reader) panelsAt(wall int, cells []cell) []int {
	out := make([]int, 0, len(cells))
	for _, c := range cells {
		if p := r.grid[wall][(c.row-1)*r.rig.Walls[wall].Columns+c.column-1]; p >= 0 {
			out = append(out, p)
		}
	}
	return out
}

// pick reads wall, columns and rows: an area of a wall, all of it where nothing more is said.
func (r *reader) pick(f *fields) (area, bool) {
	wall := f.need("wall").ref("walls", "wall", r.walls)
	columns, rows := f.opt("columns"), f.opt("rows")
	if wall < 0 || len(r.grid[wall]) == 0 {
		f.fail("wall")
		return area{}, false
	}
	a := area{wall: wall}
	a.left, a.right = columns.span(r.rig.Walls[wall].Columns)
	a.bottom, a.top = rows.span(r.rig.Walls[wall].Rows)
	if a.left == 0 || a.bottom == 0 {
		return area{}, false
	}
	r.named += (a.right - a.left + 1) * (a.top - a.bottom + 1)
	if r.named > maxNamed {
		f.wrong("too-many-named", maxNamed)
		f.fail("wall")
		return area{}, false
	}
	return a, true
}

// walk reads start and path.
func (f *fields) walk() (corner, way) {
	from, w := bottomLeft, upDown
	if i := f.opt("start").wordOr(0, cornerWords...); i >= 0 {
		from = corners[i]
	}
	if i := f.opt("path").wordOr(0, wayWords...); i >= 0 {
		w = ways[i]
	}
	return from, w
}

// portions reads how a rule cuts its area: by columns, by rows or by a number of panels, each walked from the start corner. Parts without panels are
// left out. Most says how many panels one part can have where the file says "most"; it is asked only then.
func (r *reader) portions(f *fields, a area, from corner, w way, most func() int) [][]int {
	size, key := r.portionSize(f, a, most)
	if size < 1 {
		return nil
	}
	var out [][]int
	if key == "panels_each" {
		all := r.panelsAt(a.wall, a.cells(from, w))
		for len(all) > 0 {
			n := min(size, len(all))
			out = append(out, all[:n:n])
			all = all[n:]
		}
		return out
	}
	for _, part := range a.slices(size, key == "rows_each", from) {
		if panels := r.panelsAt(a.wall, part.cells(from, w)); len(panels) > 0 {
			out = append(out, panels)
		}
	}
	return out
}

// portionKeys are the keys by which a rule says how large each part is.
var portionKeys = []string{"columns_each", "rows_each", "panels_each"}

// portionSize gives the size of a part and the key that says it; 0 where the rule does not say it well.
func (r *reader) portionSize(f *fields, a area, most func() int) (int, string) {
	size, key, given := 0, "", 0
	for i, k := range portionKeys {
		v := f.opt(k)
		if !f.has(k) {
			continue
		}
		given++
		key = k
		if most != nil && v.isWord("most") {
			line := []int{a.top - a.bottom + 1, a.right - a.left + 1, 1}[i]
			if size = most() / line; size < 1 {
				v.wrong("most-none", most(), line)
			}
			continue
		}
		size = v.count(1, maxPanels)
	}
	if given != 1 {
		f.wrong("one-of", "columns_each, rows_each or panels_each")
		return 0, ""
	}
	return size, key
}
