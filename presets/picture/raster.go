package picture

import "lookgate/presets/rig"

// Rect is a rectangle of a raster: from its top left pixel, Width to the right and Height down.
type Rect struct{ X, Y, Width, Height int }

// Empty reports whether the rectangle holds no pixel.
func (r Rect) Empty() bool { return r.Width <= 0 || r.Height <= 0 }

// Intersect gives what two rectangles share; it is empty where they share nothing.
func (r Rect) Intersect(o Rect) Rect {
	x, y := max(r.X, o.X), max(r.Y, o.Y)
	return Rect{x, y, min(r.X+r.Width, o.X+o.Width) - x, min(r.Y+r.Height, o.Y+o.Height) - y}
}

// Pixels gives the number of pixels that the rectangle holds.
func (r Rect) Pixels() int64 {
	if r.Empty() {
		return 0
	}
	return int64(r.Width) * int64(r.Height)
}

// around gives the smallest rectangle that holds both.
func (r Rect) around(o Rect) Rect {
	if r.Empty() {
		return o
	}
	x, y := min(r.X, o.X), min(r.Y, o.Y)
	return Rect{x, y, max(r.X+r.Width, o.X+o.Width) - x, max(r.Y+r.Height, o.Y+o.Height) - y}
}

// PanelRect gives the pixels of its wall's raster that a panel shows. Rows count from the bottom and a raster from the top, so the highest row begins
// at 0. The grid is that of the wall's regular panel; a panel of another type begins at its place in the grid and has its own number of pixels.
func PanelRect(r *rig.Rig, panel int) Rect {
	p := r.Panels[panel]
	w := r.Walls[p.Wall]
	grid, own := r.PanelTypes[w.Type], r.PanelTypes[p.Type]
	return Rect{(p.Column - 1) * grid.PixelsX, (w.Rows - p.Row) * grid.PixelsY, own.PixelsX, own.PixelsY}
}

// Raster gives the whole of a wall's raster.
func Raster(r *rig.Rig, wall int) Rect {
	return Rect{0, 0, r.Walls[wall].PixelsX, r.Walls[wall].PixelsY}
}

// Visible gives the part of a window that lies on its wall's raster.
func Visible(r *rig.Rig, w Window) Rect {
	if w.Width <= 0 || w.Height <= 0 {
		return Rect{}
	}
	all := Raster(r, w.Wall)
	if w.X >= all.Width || w.Y >= all.Height {
		return Rect{}
	}
	// Cut at the far edges first: a width that a file gave may be as large as a number can be, and must not wrap round.
	width, height := w.Width, w.Height
	if w.X >= 0 {
		width = min(width, all.Width-w.X)
	}
	if w.Y >= 0 {
		height = min(height, all.Height-w.Y)
	}
	return Rect{w.X, w.Y, width, height}.Intersect(all)
}

// Cover says how much of one wall's raster a set of windows fills.
type Cover struct {
	Wall   int
	Pixels int64 // under at least one window
	Of     int64 // of the raster
}

// Coverage gives, for each wall in the rig's order, how many of its raster's pixels the windows fill: what is left shows black.
func Coverage(r *rig.Rig, windows []Window) []Cover {
	covers := make([]Cover, len(r.Walls))
	for wall := range r.Walls {
		var rects []Rect
		for _, w := range windows {
			if v := Visible(r, w); w.Wall == wall && !v.Empty() {
				rects = append(rects, v)
			}
		}
		covers[wall] = Cover{wall, union(rects), Raster(r, wall).Pixels()}
	}
	return covers
}

// union counts the pixels that lie in at least one rectangle: each rectangle adds what none before it holds.
func union(rects []Rect) int64 {
	var sum int64
	for i, r := range rects {
		sum += outside([]Rect{r}, rects[:i])
	}
	return sum
}

// outside counts the pixels of the pieces that lie in none of the others.
func outside(pieces, others []Rect) int64 {
	for _, o := range others {
		var left []Rect
		for _, p := range pieces {
			left = append(left, without(p, o)...)
		}
		pieces = left
	}
	var sum int64
	for _, p := range pieces {
		sum += p.Pixels()
	}
	return sum
}

// without gives the up to four pieces of a rectangle that lie outside another: above, below, left and right of it.
func without(r, hole Rect) []Rect {
	in := r.Intersect(hole)
	if in.Empty() {
		return []Rect{r}
	}
	var pieces []Rect
	for _, p := range []Rect{
		{r.X, r.Y, r.Width, in.Y - r.Y},
		{r.X, in.Y + in.Height, r.Width, r.Y + r.Height - in.Y - in.Height},
		{r.X, in.Y, in.X - r.X, in.Height},
		{in.X + in.Width, in.Y, r.X + r.Width - in.X - in.Width, in.Height},
	} {
		if !p.Empty() {
			pieces = append(pieces, p)
		}
	}
	return pieces
}
