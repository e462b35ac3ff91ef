package alignment

import (
	"fmt"
	"strconv"

	"lookgate/presets/hatch"
	"lookgate/presets/picture"
	"lookgate/presets/rig"
)

// panels writes each panel's address into it, with a faint frame.
func (b *book) panels() *canvas {
	c := b.canvas()
	for _, p := range b.on {
		r, at := picture.PanelRect(b.rig, p), b.rig.Panels[p]
		c.frame(r, 1, dim)
		c.text(r, max(1, r.Height/56), white, black, fmt.Sprintf("C%d", at.Column), fmt.Sprintf("R%d", at.Row))
	}
	return c
}

// seams lights exactly the pixels at each panel's edges.
func (b *book) seams() *canvas {
	c := b.canvas()
	for _, p := range b.on {
		c.frame(picture.PanelRect(b.rig, p), 1, white)
	}
	return c
}

// greySteps is the number of steps from black to white.
const greySteps = 16

// greys puts the same steps into every panel, from black at the left to white at the right in equal steps of the code value, across a quarter of its height.
func (b *book) greys() *canvas {
	c := b.canvas()
	for _, p := range b.on {
		r := picture.PanelRect(b.rig, p)
		for k := range greySteps {
			x := r.Width * k / greySteps
			v := uint8(255 * k / (greySteps - 1))
			c.fill(picture.Rect{X: r.X + x, Y: r.Y + r.Height*3/8, Width: r.Width*(k+1)/greySteps - x, Height: max(1, r.Height/4)}, v)
		}
	}
	return c
}

// circuits hatches each circuit's panels, with its name and the place in feeding order in each, and a line around what it feeds.
func (b *book) circuits() *canvas {
	var chains [][]int
	for _, of := range b.rig.Circuits {
		chains = append(chains, of.Panels)
	}
	c := b.canvas()
	given := hatch.Assign(b.rig, chains)
	owner := b.owners(chains)
	for i, of := range b.rig.Circuits {
		t := tileOf(given[i], b.unit())
		for k, p := range of.Panels {
			if b.rig.Panels[p].Wall != b.wall {
				continue
			}
			r := picture.PanelRect(b.rig, p)
			c.hatched(r, t, dim)
			b.borders(c, p, r, owner)
			c.text(r, max(1, r.Height/56), white, black, of.Name, strconv.Itoa(k+1))
		}
	}
	return c
}

// owners gives the chain of each place on the wall.
func (b *book) owners(chains [][]int) map[[2]int]int {
	owner := map[[2]int]int{}
	for i, panels := range chains {
		for _, p := range panels {
			if at := b.rig.Panels[p]; at.Wall == b.wall {
				owner[[2]int{at.Column, at.Row}] = i
			}
		}
	}
	return owner
}

// borders draws a panel's edges beyond which another chain begins.
func (b *book) borders(c *canvas, panel int, r picture.Rect, owner map[[2]int]int) {
	at, thick := b.rig.Panels[panel], b.unit()
	own := owner[[2]int{at.Column, at.Row}]
	for _, side := range []struct {
		column, row int
		edge        picture.Rect
	}{
		{-1, 0, picture.Rect{X: r.X, Y: r.Y, Width: thick, Height: r.Height}},
		{1, 0, picture.Rect{X: r.X + r.Width - thick, Y: r.Y, Width: thick, Height: r.Height}},
		{0, 1, picture.Rect{X: r.X, Y: r.Y, Width: r.Width, Height: thick}},
		{0, -1, picture.Rect{X: r.X, Y: r.Y + r.Height - thick, Width: r.Width, Height: thick}},
	} {
		if next, ok := owner[[2]int{at.Column + side.column, at.Row + side.row}]; !ok || next != own {
			c.fill(side.edge, white)
		}
	}
}

// dataRuns draws each run through its panels with arrows, and in each its port and the place on the run; the processor's name stands at the first.
func (b *book) dataRuns() *canvas {
	c := b.canvas()
	for _, d := range b.rig.DataRuns {
		for k, p := range d.Panels {
			if b.rig.Panels[p].Wall == b.wall {
				c.frame(picture.PanelRect(b.rig, p), 1, faint)
				b.way(c, d, k)
			}
		}
	}
	for _, d := range b.rig.DataRuns {
		for k, p := range d.Panels {
			if b.rig.Panels[p].Wall == b.wall {
				b.onRun(c, d, k)
			}
		}
	}
	return c
}

// node gives where a run passes a panel: a quarter from its right and bottom edges, clear of the words.
func (b *book) node(panel int) (x, y int) {
	r := picture.PanelRect(b.rig, panel)
	return r.X + r.Width*13/16, r.Y + r.Height*13/16
}

// way draws from a panel of a run to the next one on the same wall, and what marks the run's beginning.
func (b *book) way(c *canvas, d rig.DataRun, k int) {
	x, y := b.node(d.Panels[k])
	u := b.unit()
	if k == 0 {
		c.fill(picture.Rect{X: x - 3*u, Y: y - 3*u, Width: 6*u + 1, Height: 6*u + 1}, white)
	}
	if k+1 == len(d.Panels) || b.rig.Panels[d.Panels[k+1]].Wall != b.wall {
		return
	}
	tx, ty := b.node(d.Panels[k+1])
	c.line(x, y, tx, ty, u, white)
	b.head(c, x, y, tx, ty, u)
}

// head draws an arrow's head in the middle of a way: strokes that get narrower towards where it goes.
func (b *book) head(c *canvas, x, y, tx, ty, u int) {
	dx, dy := sign(tx-x), sign(ty-y)
	mx, my := (x+tx)/2, (y+ty)/2
	for i := range 5 * u {
		half := (5*u - i) / 2
		px, py := mx+dx*i, my+dy*i
		c.line(px-dy*half, py+dx*half, px+dy*half, py-dx*half, 1, white)
	}
}

func sign(v int) int { return min(1, max(-1, v)) }

// onRun writes port and place into a panel of a run, above the way; the processor's name too at the first, and where the run comes from or goes on to where that is
// another wall.
func (b *book) onRun(c *canvas, d rig.DataRun, k int) {
	r := picture.PanelRect(b.rig, d.Panels[k])
	r = picture.Rect{X: r.X + 1, Y: r.Y + 1, Width: r.Width*11/16 - 1, Height: r.Height*11/16 - 1}
	lines := []string{fmt.Sprintf("%d.%d", d.Port, k+1)}
	switch {
	case k == 0:
		lines = append([]string{b.rig.Processors[d.Processor].Name}, lines...)
	case b.rig.Panels[d.Panels[k-1]].Wall != b.wall:
		lines = append(lines, "from", b.rig.PanelName(d.Panels[k-1]))
	case k+1 < len(d.Panels) && b.rig.Panels[d.Panels[k+1]].Wall != b.wall:
		lines = append(lines, "to", b.rig.PanelName(d.Panels[k+1]))
	}
	c.text(r, max(1, r.Height/36), white, black, lines...)
}
