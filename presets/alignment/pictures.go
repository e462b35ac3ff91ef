package alignment

import (
	"fmt"
	"image"

	"lookgate/presets/hatch"
	"lookgate/presets/picture"
	"lookgate/presets/rig"
)

// Levels of the signal, of 255. Everything but what is meant to be white stays low, so that a picture's mean does.
const (
	textGrey   = 160
	lineGrey   = 96
	faintGrey  = 40
	groundGrey = 16
	tintPart   = 200 // of a tint's brightness
	hatchPart  = 110
)

// wheel are the colours that go with the hatches, at full brightness: those of Okabe and Ito, "Color Universal Design" (2008), which people with any kind of colour
// vision tell apart, and white. The hatch says the same without colour.
var wheel = [][3]int{{255, 255, 255}, {230, 159, 0}, {86, 180, 233}, {0, 158, 115}, {240, 228, 66}, {0, 114, 178}, {213, 94, 0}, {204, 121, 167}}

// tint gives the colour of a hatch at a part of its brightness, in 255ths.
func (c *canvas) tint(hatch, of int) ink {
	w := wheel[hatch%len(wheel)]
	return c.ink(uint8(w[0]*of/255), uint8(w[1]*of/255), uint8(w[2]*of/255))
}

// place is one panel of a chain, counted from 1.
type place struct{ chain, order int }

// drawer draws on one wall's raster.
type drawer struct {
	*canvas
	rig    *rig.Rig
	wall   int
	panels []int // of the wall, in the rig's order
}

func (d *drawer) rect(panel int) picture.Rect { return picture.PanelRect(d.rig, panel) }

// keepToPanels takes away what was drawn where no panel is, as arrows do that lead over a hole.
func (d *drawer) keepToPanels() {
	kept := image.NewPaletted(d.image.Rect, d.image.Palette)
	for _, panel := range d.panels {
		r := d.rect(panel).Intersect(picture.Rect{Width: kept.Rect.Dx(), Height: kept.Rect.Dy()})
		for y := r.Y; !r.Empty() && y < r.Y+r.Height; y++ {
			from, to := y*kept.Stride+r.X, y*kept.Stride+r.X+r.Width
			copy(kept.Pix[from:to], d.image.Pix[from:to])
		}
	}
	d.image = kept
}

// letters bounds the size of a text: a sixth of the panel's height.
func letters(r picture.Rect) int { return max(1, r.Height/(6*letterHeight)) }

// addresses writes every panel's place into it, on a ground that changes from each panel to the next.
func (d *drawer) addresses() {
	for _, panel := range d.panels {
		p, r := d.rig.Panels[panel], d.rect(panel)
		if (p.Column+p.Row)%2 == 0 {
			d.fill(r, d.grey(groundGrey))
		}
		d.frame(r, 1, d.grey(faintGrey))
		lines := []string{fmt.Sprintf("C%dR%d", p.Column, p.Row)}
		if fits(middle(r), lines) == 0 {
			lines = []string{fmt.Sprintf("C%d", p.Column), fmt.Sprintf("R%d", p.Row)}
		}
		d.label(r, lines, 2*letters(r), d.grey(textGrey))
	}
}

// circuits shows which panels hang on one circuit: its hatch and tint, its name, and each panel's number in feeding order, with a mark where the home run arrives.
func (d *drawer) circuits() {
	chains := make([][]int, len(d.rig.Circuits))
	for i, c := range d.rig.Circuits {
		chains[i] = c.Panels
	}
	given, at := hatch.Assign(d.rig, chains), places(d.rig, chains)
	for _, panel := range d.panels {
		r, p := d.rect(panel), at[panel]
		if p.order == 0 {
			d.none(r, "NO", "CIRCUIT")
			continue
		}
		h := given[p.chain]
		d.hatched(r, hatch.Lines(h), max(1, min(r.Width, r.Height)/64), d.tint(h, hatchPart))
		d.label(r, []string{d.rig.Circuits[p.chain].Name, fmt.Sprint(p.order)}, letters(r), d.grey(textGrey))
		if p.order == 1 {
			d.begin(r, d.tint(h, tintPart))
		}
	}
	d.outlines(at, func(chain int) ink { return d.tint(given[chain], tintPart) })
	d.chains(chains, func(chain int) ink { return d.tint(given[chain], tintPart) })
}

// runs shows the data runs: the port, each panel's number from it, and arrows from panel to panel.
func (d *drawer) runs() {
	chains := make([][]int, len(d.rig.DataRuns))
	for i, run := range d.rig.DataRuns {
		chains[i] = run.Panels
	}
	given, at := hatch.Assign(d.rig, chains), places(d.rig, chains)
	for _, panel := range d.panels {
		r, p := d.rect(panel), at[panel]
		if p.order == 0 {
			d.none(r, "NO", "DATA RUN")
			continue
		}
		run := d.rig.DataRuns[p.chain]
		lines := []string{d.rig.Processors[run.Processor].Name, fmt.Sprintf("PORT %d", run.Port), fmt.Sprint(p.order)}
		d.label(r, lines, letters(r), d.grey(textGrey))
		if p.order == 1 {
			d.begin(r, d.tint(given[p.chain], tintPart))
		}
	}
	d.outlines(at, func(chain int) ink { return d.tint(given[chain], tintPart) })
	d.chains(chains, func(chain int) ink { return d.tint(given[chain], tintPart) })
}

// places gives for every panel of the rig where it stands on which chain; order 0 for none.
func places(r *rig.Rig, chains [][]int) []place {
	at := make([]place, len(r.Panels))
	for i, panels := range chains {
		for k, panel := range panels {
			at[panel] = place{i, k + 1}
		}
	}
	return at
}

// none marks a panel that is on no chain.
func (d *drawer) none(r picture.Rect, words ...string) {
	d.frame(r, 1, d.grey(faintGrey))
	d.label(r, words, letters(r), d.grey(lineGrey))
}

// begin marks the panel at which a chain begins: a filled square in its corner.
func (d *drawer) begin(r picture.Rect, with ink) {
	side := max(2, min(r.Width, r.Height)/8)
	d.fill(picture.Rect{X: r.X + side/2, Y: r.Y + side/2, Width: side, Height: side}.Intersect(r), with)
}

// chains draws the arrows of those that are on this wall. Where a chain goes on at another wall, the numbers say so.
func (d *drawer) chains(chains [][]int, with func(chain int) ink) {
	for i, panels := range chains {
		for k := 1; k < len(panels); k++ {
			a, b := panels[k-1], panels[k]
			if d.rig.Panels[a].Wall == d.wall && d.rig.Panels[b].Wall == d.wall {
				d.arrow(d.rect(a), d.rect(b), with(i))
			}
		}
	}
}

// outlines draws a line along those edges of panels beyond which another chain, or none, is.
func (d *drawer) outlines(at []place, with func(chain int) ink) {
	chain := map[[2]int]int{} // by column and row, counted from 1
	for _, panel := range d.panels {
		if at[panel].order > 0 {
			chain[[2]int{d.rig.Panels[panel].Column, d.rig.Panels[panel].Row}] = at[panel].chain + 1
		}
	}
	for _, panel := range d.panels {
		p, r, own := d.rig.Panels[panel], d.rect(panel), at[panel].chain+1
		if at[panel].order == 0 {
			continue
		}
		deep := max(1, min(r.Width, r.Height)/84)
		for _, side := range []struct {
			column, row int
			edge        picture.Rect
		}{
			{-1, 0, picture.Rect{X: r.X, Y: r.Y, Width: deep, Height: r.Height}},
			{1, 0, picture.Rect{X: r.X + r.Width - deep, Y: r.Y, Width: deep, Height: r.Height}},
			{0, 1, picture.Rect{X: r.X, Y: r.Y, Width: r.Width, Height: deep}},
			{0, -1, picture.Rect{X: r.X, Y: r.Y + r.Height - deep, Width: r.Width, Height: deep}},
		} {
			if chain[[2]int{p.Column + side.column, p.Row + side.row}] != own {
				d.fill(side.edge, with(own-1))
			}
		}
	}
}

// seams lights exactly the outermost pixels of every panel.
func (d *drawer) seams() {
	for _, panel := range d.panels {
		d.frame(d.rect(panel), 1, d.grey(255))
	}
}

// greySteps is the number of steps of each strip.
const greySteps = 16

// greys draws two strips across the middle of every panel: sixteen even steps from black to white, and below them the sixteen darkest values one by one.
func (d *drawer) greys() {
	for _, panel := range d.panels {
		r := d.rect(panel)
		high := max(1, r.Height/12)
		for i := range greySteps {
			from, to := r.X+r.Width*i/greySteps, r.X+r.Width*(i+1)/greySteps
			top := r.Y + r.Height/2 - high
			d.fill(picture.Rect{X: from, Y: top, Width: to - from, Height: high}, d.grey(uint8(i*255/(greySteps-1))))
			d.fill(picture.Rect{X: from, Y: top + high, Width: to - from, Height: high}, d.grey(uint8(i)))
		}
	}
}

// white lights those panels whole. What is to be kept to stands in the first of them, so that the others are white to the edge.
func (d *drawer) white(panels []int, words []string) {
	for i, panel := range panels {
		r := d.rect(panel)
		d.fill(r, d.grey(255))
		if i == 0 {
			d.label(r, words, letters(r), d.grey(255))
		}
	}
}
