package alignment

import (
	"image"

	"lookgate/presets/hatch"
	"lookgate/presets/picture"
)

// Code values of the pictures, 8 bits for each pixel.
const (
	black uint8 = 0
	faint uint8 = 70  // 6 % of the light of white
	dim   uint8 = 137 // a quarter
	white uint8 = 255
)

// canvas is a wall's raster. Whatever is drawn beyond it is left out.
type canvas struct {
	*image.Gray
	left int // labels that did not fit
}

func newCanvas(r picture.Rect) *canvas { return &canvas{Gray: image.NewGray(image.Rect(0, 0, r.Width, r.Height))} }

func (c *canvas) dot(x, y int, v uint8) {
	if (image.Point{X: x, Y: y}).In(c.Rect) {
		c.Pix[y*c.Stride+x] = v
	}
}

func (c *canvas) fill(r picture.Rect, v uint8) {
	for y := r.Y; y < r.Y+r.Height; y++ {
		for x := r.X; x < r.X+r.Width; x++ {
			c.dot(x, y, v)
		}
	}
}

// frame draws the edge pixels of a rectangle, so many deep, inside it.
func (c *canvas) frame(r picture.Rect, thick int, v uint8) {
	c.fill(picture.Rect{X: r.X, Y: r.Y, Width: r.Width, Height: min(thick, r.Height)}, v)
	c.fill(picture.Rect{X: r.X, Y: max(r.Y, r.Y+r.Height-thick), Width: r.Width, Height: min(thick, r.Height)}, v)
	c.fill(picture.Rect{X: r.X, Y: r.Y, Width: min(thick, r.Width), Height: r.Height}, v)
	c.fill(picture.Rect{X: max(r.X, r.X+r.Width-thick), Y: r.Y, Width: min(thick, r.Width), Height: r.Height}, v)
}

// text writes lines in the middle of a rectangle, as large as fits and no larger than most dots to a letter's dot, on a ground of their own. Where not even the
// smallest size fits, nothing is written, and that is counted.
func (c *canvas) text(r picture.Rect, most int, v, ground uint8, lines ...string) {
	w, h := size(lines)
	scale := min(most, (r.Width-2)/w, (r.Height-2)/h)
	if scale < 1 {
		c.left++
		return
	}
	x, y := r.X+(r.Width-w*scale)/2, r.Y+(r.Height-h*scale)/2
	c.fill(picture.Rect{X: x - scale, Y: y - scale, Width: (w + 2) * scale, Height: (h + 2) * scale}.Intersect(r), ground)
	for i, line := range lines {
		own := advance*len([]rune(line)) - 1
		at := x + (w-own)*scale/2
		for _, letter := range line {
			c.letter(at, y+i*lineHeight*scale, scale, letterOf(letter), v)
			at += advance * scale
		}
	}
}

func (c *canvas) letter(x, y, scale int, l letter, v uint8) {
	for row, bits := range l {
		for column := range letterWidth {
			if bits&(1<<(letterWidth-1-column)) != 0 {
				c.fill(picture.Rect{X: x + column*scale, Y: y + row*scale, Width: scale, Height: scale}, v)
			}
		}
	}
}

// line draws from one point to another with a square pen.
func (c *canvas) line(x1, y1, x2, y2, thick int, v uint8) {
	steps := max(abs(x2-x1), abs(y2-y1))
	for i := 0; i <= steps; i++ {
		x, y := x1, y1
		if steps > 0 {
			x, y = x1+(x2-x1)*i/steps, y1+(y2-y1)*i/steps
		}
		c.fill(picture.Rect{X: x - thick/2, Y: y - thick/2, Width: thick, Height: thick}, v)
	}
}

func abs(v int) int { return max(v, -v) }

// tile is a hatch as pixels, of a square that repeats.
type tile struct {
	side int
	on   []bool
}

// tileOf makes a hatch with lines so many pixels wide.
func tileOf(k, scale int) tile {
	t := tile{side: hatch.Tile * scale}
	t.on = make([]bool, t.side*t.side)
	for _, l := range hatch.Lines(k) {
		steps := scale * max(abs(l.X2-l.X1), abs(l.Y2-l.Y1))
		for i := range steps {
			x, y := l.X1*scale+(l.X2-l.X1)*scale*i/steps, l.Y1*scale+(l.Y2-l.Y1)*scale*i/steps
			for dy := range scale {
				for dx := range scale {
					t.set(x+dx, y+dy)
				}
			}
		}
	}
	return t
}

func (t tile) set(x, y int) {
	if x >= 0 && y >= 0 && x < t.side && y < t.side {
		t.on[y*t.side+x] = true
	}
}

// hatched fills a rectangle with a hatch, which goes on from panel to panel.
func (c *canvas) hatched(r picture.Rect, t tile, v uint8) {
	for y := r.Y; y < r.Y+r.Height; y++ {
		for x := r.X; x < r.X+r.Width; x++ {
			if t.on[y%t.side*t.side+x%t.side] {
				c.dot(x, y, v)
			}
		}
	}
}
