package alignment

import (
	"image"

	"lookgate/presets/picture"
)

// fine is how many steps of the arithmetic make a pixel: corners of arrows lie between pixels, and whole numbers come out the same on every machine.
const fine = 16

// centre gives the middle of a rectangle, in fine steps.
func centre(r picture.Rect) image.Point {
	return image.Pt((2*r.X+r.Width)*fine/2, (2*r.Y+r.Height)*fine/2)
}

// arrow draws an arrow over the seam from one panel to the next of its chain, from two fifths before the seam to two fifths behind it. To a panel that is
// no neighbour a thin line leads all the way besides.
func (c *canvas) arrow(from, to picture.Rect, with ink) {
	a, b := centre(from), centre(to)
	thick := max(1, min(from.Width, from.Height)/40)
	if d := b.Sub(a); 4*max(d.X, -d.X) > 5*from.Width*fine || 4*max(d.Y, -d.Y) > 5*from.Height*fine {
		c.bar(a, b, max(1, thick/2), with)
		a = b.Sub(d.Mul(min(from.Width, from.Height) * fine).Div(longest(d)))
	}
	d := b.Sub(a)
	tail, tip := a.Add(d.Mul(3).Div(10)), a.Add(d.Mul(7).Div(10))
	neck := a.Add(d.Div(2))
	c.bar(tail, neck, thick, with)
	across := image.Pt(-d.Y, d.X).Mul(5 * thick * fine / 2).Div(max(1, longest(d)))
	c.triangle(tip, neck.Add(across), neck.Sub(across), with)
}

// longest gives the larger of a vector's two extents.
func longest(d image.Point) int { return max(d.X, -d.X, d.Y, -d.Y) }

// bar draws a straight line so many pixels thick.
func (c *canvas) bar(a, b image.Point, thick int, with ink) {
	d := b.Sub(a)
	if d == (image.Point{}) {
		return
	}
	across := image.Pt(-d.Y, d.X).Mul(thick * fine / 2).Div(longest(d))
	c.triangle(a.Add(across), a.Sub(across), b.Add(across), with)
	c.triangle(b.Add(across), b.Sub(across), a.Sub(across), with)
}

// triangle fills the pixels whose middles lie in it or on its edge.
func (c *canvas) triangle(p, q, r image.Point, with ink) {
	if side(p, q, r) < 0 {
		q, r = r, q
	}
	for y := min(p.Y, q.Y, r.Y) / fine; y <= max(p.Y, q.Y, r.Y)/fine; y++ {
		for x := min(p.X, q.X, r.X) / fine; x <= max(p.X, q.X, r.X)/fine; x++ {
			at := image.Pt(x*fine+fine/2, y*fine+fine/2)
			if side(p, q, at) >= 0 && side(q, r, at) >= 0 && side(r, p, at) >= 0 {
				c.dot(x, y, with)
			}
		}
	}
}

// side tells on which side of the line from p to q a point lies.
func side(p, q, at image.Point) int {
	return (q.X-p.X)*(at.Y-p.Y) - (q.Y-p.Y)*(at.X-p.X)
}
