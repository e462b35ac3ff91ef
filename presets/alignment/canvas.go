package alignment

import (
	"image"
	"image/color"
	"unicode/utf8"

	"lookgate/presets/hatch"
	"lookgate/presets/picture"
)

// ink is a colour of a canvas, by its place in the palette.
type ink uint8

// black is what a canvas begins with.
const black ink = 0

// canvas is a wall's raster while something is drawn on it.
type canvas struct{ image *image.Paletted }

func newCanvas(r picture.Rect) *canvas {
	return &canvas{image.NewPaletted(image.Rect(0, 0, r.Width, r.Height), color.Palette{color.RGBA{A: 255}})}
}

// ink gives a colour its place in the palette. No picture has more than some forty.
func (c *canvas) ink(r, g, b uint8) ink {
	want := color.RGBA{r, g, b, 255}
	for i, has := range c.image.Palette {
		if has == want {
			return ink(i)
		}
	}
	c.image.Palette = append(c.image.Palette, want)
	return ink(len(c.image.Palette) - 1)
}

func (c *canvas) grey(v uint8) ink { return c.ink(v, v, v) }

// dot sets one pixel; what lies outside the raster is not shown.
func (c *canvas) dot(x, y int, with ink) {
	if (image.Point{X: x, Y: y}).In(c.image.Rect) {
		c.image.Pix[y*c.image.Stride+x] = uint8(with)
	}
}

// fill colours a rectangle.
func (c *canvas) fill(r picture.Rect, with ink) {
	r = r.Intersect(picture.Rect{Width: c.image.Rect.Dx(), Height: c.image.Rect.Dy()})
	for y := r.Y; y < r.Y+r.Height; y++ {
		row := c.image.Pix[y*c.image.Stride+r.X:]
		for x := range max(0, r.Width) {
			row[x] = uint8(with)
		}
	}
}

// frame draws the outermost pixels of a rectangle, so many deep, and nothing beside them.
func (c *canvas) frame(r picture.Rect, deep int, with ink) {
	deep = min(deep, (r.Width+1)/2, (r.Height+1)/2)
	c.fill(picture.Rect{X: r.X, Y: r.Y, Width: r.Width, Height: deep}, with)
	c.fill(picture.Rect{X: r.X, Y: r.Y + r.Height - deep, Width: r.Width, Height: deep}, with)
	c.fill(picture.Rect{X: r.X, Y: r.Y, Width: deep, Height: r.Height}, with)
	c.fill(picture.Rect{X: r.X + r.Width - deep, Y: r.Y, Width: deep, Height: r.Height}, with)
}

// middle gives the part of a rectangle that arrows to and from its neighbours leave free.
func middle(r picture.Rect) picture.Rect {
	return picture.Rect{X: r.X + r.Width*2/9, Y: r.Y + r.Height*2/9, Width: r.Width - 2*(r.Width*2/9), Height: r.Height - 2*(r.Height*2/9)}
}

// fits gives how many times over its smallest a text can be written into a rectangle, a line below the other; 0 where even the smallest is too large.
func fits(r picture.Rect, lines []string) int {
	scale := r.Height / (len(lines)*(letterHeight+2) - 2)
	for _, l := range lines {
		if n := utf8.RuneCountInString(l); n > 0 {
			scale = min(scale, r.Width/(n*letterStep-1))
		}
	}
	return scale
}

// write puts a text into the middle of a rectangle, as large as it fits but no larger than so many times its smallest, on a black ground. It writes nothing where
// the text does not fit.
func (c *canvas) write(r picture.Rect, lines []string, most int, with ink) {
	scale := min(fits(r, lines), most)
	if scale < 1 {
		return
	}
	high := scale * (len(lines)*(letterHeight+2) - 2)
	y := r.Y + (r.Height-high)/2
	for _, l := range lines {
		n := utf8.RuneCountInString(l)
		wide := scale * (n*letterStep - 1)
		x := r.X + (r.Width-wide)/2
		c.fill(picture.Rect{X: x - scale, Y: y - scale, Width: wide + 2*scale, Height: scale * (letterHeight + 2)}.Intersect(r), black)
		for _, char := range l {
			c.letter(x, y, scale, letter(char), with)
			x += scale * letterStep
		}
		y += scale * (letterHeight + 2)
	}
}

// label writes a text into a panel: between its arrows where it fits, broken into pieces where it is too wide, and over the whole panel where that is small.
func (c *canvas) label(panel picture.Rect, lines []string, most int, with ink) {
	for _, r := range []picture.Rect{middle(panel), panel} {
		for _, l := range [][]string{lines, parted(lines, (r.Width+1)/letterStep)} {
			if fits(r, l) > 0 {
				c.write(r, l, most, with)
				return
			}
		}
	}
}

// parted breaks lines into pieces of at most so many letters.
func parted(lines []string, most int) []string {
	var pieces []string
	for _, l := range lines {
		for most > 0 && len(l) > most {
			pieces, l = append(pieces, l[:most]), l[most:]
		}
		pieces = append(pieces, l)
	}
	return pieces
}

func (c *canvas) letter(x, y, scale int, g glyph, with ink) {
	for row, bits := range g {
		for column := range letterWidth {
			if bits&(1<<(letterWidth-1-column)) != 0 {
				c.fill(picture.Rect{X: x + column*scale, Y: y + row*scale, Width: scale, Height: scale}, with)
			}
		}
	}
}

// hatched draws a hatch with lines one pixel wide, on a grid that is the whole raster's, so that it runs on from panel to panel.
func (c *canvas) hatched(r picture.Rect, lines []hatch.Line, scale int, with ink) {
	side := hatch.Tile * scale
	on := make([]bool, side*side)
	for _, l := range lines {
		dx, dy := (l.X2-l.X1)*scale, (l.Y2-l.Y1)*scale
		n := max(dx, -dx, dy, -dy)
		for i := range n {
			x, y := l.X1*scale+dx*i/n, l.Y1*scale+dy*i/n
			if x >= 0 && x < side && y >= 0 && y < side {
				on[y*side+x] = true
			}
		}
	}
	for y := r.Y; y < r.Y+r.Height; y++ {
		for x := r.X; x < r.X+r.Width; x++ {
			if on[y%side*side+x%side] {
				c.dot(x, y, with)
			}
		}
	}
}
