// Package alignment makes pictures to show on a wall while it is built: pixel-exact, in greys, told apart by shape and words. A plan goes in, images come out.
//
// All but the white ones are dark with lines, so that they draw little; how bright each is stands in the table beside them.
package alignment

import (
	"bytes"
	"image"
	"image/png"
	"slices"
	"strings"

	"lookgate/presets"
	"lookgate/presets/picture"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// Picture is one wall's raster with something to look for.
type Picture struct {
	Name    string // of the file, without its ending
	Wall    int
	Kind    string
	Image   *image.Gray
	Mean    units.Share // of the light, over the wall's panels; 1 is full white
	Most    units.Share // the highest mean over any one circuit's panels on the wall
	Circuit int         // that one; -1 for none
	Zone    int         // of a white picture, else -1
	Set     units.Level // of a white picture: the level that its zone may be set to, all other zones dark
	All     units.Level // the same with all zones white at this level at once
	Left    int         // labels that did not fit into their panels
}

// Bright is the mean over a circuit's panels above which a picture comes with a warning: common practice, no source.
const Bright units.Share = 0.1

// Bright reports whether a picture loads some circuit enough to think of its level first.
func (p Picture) Bright() bool { return p.Most > Bright }

// PNG encodes the picture.
func (p Picture) PNG() ([]byte, error) {
	var b bytes.Buffer
	e := png.Encoder{CompressionLevel: png.BestSpeed}
	err := e.Encode(&b, p.Image)
	return b.Bytes(), err
}

// book is the plan with what all pictures need of it.
type book struct {
	plan *presets.Plan
	rig  *rig.Rig
	wall int
	on   []int // the wall's panels
}

// Make hands over each wall's pictures, one after the other, as they may be large; it stops at the first error that take gives.
func Make(p *presets.Plan, take func(Picture) error) error {
	whites := whitesOf(p)
	for wall := range p.Rig.Walls {
		b := &book{plan: p, rig: p.Rig, wall: wall}
		for i, panel := range p.Rig.Panels {
			if panel.Wall == wall {
				b.on = append(b.on, i)
			}
		}
		for _, k := range kinds {
			if err := take(b.finish(k.name, k.draw(b))); err != nil {
				return err
			}
		}
		for _, w := range whites {
			if panels := b.panelsOf(w.zone); len(panels) > 0 {
				pic := b.finish("white-"+p.Rig.Zones[w.zone].Name, b.white(w, panels))
				pic.Zone, pic.Set, pic.All = w.zone, w.set, w.all
				if err := take(pic); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// kinds are the pictures that every wall gets.
var kinds = []struct {
	name string
	draw func(*book) *canvas
}{
	{"panels", (*book).panels},
	{"circuits", (*book).circuits},
	{"data-runs", (*book).dataRuns},
	{"seams", (*book).seams},
	{"greys", (*book).greys},
}

func (b *book) canvas() *canvas { return newCanvas(picture.Raster(b.rig, b.wall)) }

func (b *book) finish(kind string, c *canvas) Picture {
	p := Picture{Name: fileName(b.rig.Walls[b.wall].Name) + "-" + fileName(kind), Wall: b.wall, Kind: kind, Image: c.Gray, Zone: -1, Left: c.left}
	p.Mean = b.mean(c, b.on)
	p.Most, p.Circuit = b.brightest(c, b.wall)
	return p
}

// fileName keeps to letters that every file system takes, and no two names in one.
func fileName(name string) string {
	var out strings.Builder
	for _, r := range []byte(name) {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' || r == '.' || r == '_' {
			out.WriteByte(r)
			continue
		}
		const digits = "0123456789abcdef"
		out.WriteString("=" + digits[r>>4:r>>4+1] + digits[r&15:r&15+1])
	}
	return out.String()
}

// unit gives how wide a line is on a wall: a pixel for each 56 of a panel's shorter side.
func (b *book) unit() int {
	t := b.rig.PanelTypes[b.rig.Walls[b.wall].Type]
	return max(1, min(t.PixelsX, t.PixelsY)/56)
}

// panelsOf gives a zone's panels on the wall.
func (b *book) panelsOf(zone int) []int {
	var panels []int
	for _, o := range b.rig.Zones[zone].Outputs {
		for _, p := range b.rig.Outputs[o].Panels {
			if b.rig.Panels[p].Wall == b.wall {
				panels = append(panels, p)
			}
		}
	}
	slices.Sort(panels)
	return slices.Compact(panels)
}
