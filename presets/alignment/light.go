package alignment

import (
	"math"

	"lookgate/presets/picture"
	"lookgate/presets/units"
)

// linear gives the light of each code value as a share of white's, by the transfer function of sRGB (IEC 61966-2-1).
var linear = func() (table [256]float64) {
	for i := range table {
		v := float64(i) / 255
		if table[i] = v / 12.92; v > 0.04045 {
			table[i] = math.Pow((v+0.055)/1.055, 2.4)
		}
	}
	return table
}()

// mean gives the mean light of a picture over the pixels of some panels.
func (b *book) mean(c *canvas, panels []int) units.Share {
	var sum float64
	var n int
	for _, p := range panels {
		r := picture.PanelRect(b.rig, p)
		n += r.Width * r.Height
		var counts [256]int
		for y := r.Y; y < r.Y+r.Height; y++ {
			for _, v := range c.Pix[y*c.Stride+r.X : y*c.Stride+r.X+r.Width] {
				counts[v]++
			}
		}
		for v, k := range counts {
			sum += linear[v] * float64(k)
		}
	}
	if n == 0 {
		return 0
	}
	return units.Share(sum / float64(n))
}

// brightest gives the highest mean of a picture over any one circuit's panels on a wall, which is what the circuit sees, and the circuit; -1 for none.
func (b *book) brightest(c *canvas, wall int) (units.Share, int) {
	most, at := units.Share(0), -1
	for i, of := range b.rig.Circuits {
		var here []int
		for _, p := range of.Panels {
			if b.rig.Panels[p].Wall == wall {
				here = append(here, p)
			}
		}
		if m := b.mean(c, here); len(here) > 0 && (at < 0 || m > most) {
			most, at = m, i
		}
	}
	return most, at
}
