package alignment

import (
	"image"
	"math"

	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// linear gives the light of a signal value of 255, as a part of full. What a processor makes of the signal is not in a rig, so the brighter reading counts of
// the two in common use: the curve of sRGB (IEC 61966-2-1) and a plain power of 2.2. A display after BT.1886, with 2.4, shows less.
func linear(v uint8) units.Share {
	s := float64(v) / 255
	curve := s / 12.92
	if s > 0.04045 {
		curve = math.Pow((s+0.055)/1.055, 2.4)
	}
	return units.Share(max(curve, math.Pow(s, 2.2)))
}

// light is what a picture's panels show, added up.
type light struct {
	red, green, blue float64 // linear, in full pixels
	pixels           float64
}

func (l *light) add(o light) {
	l.red, l.green, l.blue, l.pixels = l.red+o.red, l.green+o.green, l.blue+o.blue, l.pixels+o.pixels
}

// highest gives the mean of the primary that has most: whatever the primaries draw, the picture draws no more than that part of full white.
func (l light) highest() units.Share {
	if l.pixels == 0 {
		return 0
	}
	return units.Share(max(l.red, l.green, l.blue) / l.pixels)
}

// lights gives the light of each panel of a wall in a picture, by the rig's panels; nothing for panels of other walls.
func lights(r *rig.Rig, panels []int, rect func(panel int) image.Rectangle, p *image.Paletted) []light {
	all := make([]light, len(r.Panels))
	for _, panel := range panels {
		area := rect(panel).Intersect(p.Rect)
		var counts [256]int
		for y := area.Min.Y; y < area.Max.Y; y++ {
			for _, v := range p.Pix[y*p.Stride+area.Min.X : y*p.Stride+area.Max.X] {
				counts[v]++
			}
		}
		l := light{pixels: float64(area.Dx() * area.Dy())}
		for v, n := range counts[:len(p.Palette)] {
			red, green, blue, _ := p.Palette[v].RGBA()
			l.red += float64(n) * float64(linear(uint8(red>>8)))
			l.green += float64(n) * float64(linear(uint8(green>>8)))
			l.blue += float64(n) * float64(linear(uint8(blue>>8)))
		}
		all[panel] = l
	}
	return all
}
