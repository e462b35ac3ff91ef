// Package alignment draws pictures for the walls of a rig, each exactly at its wall's raster, to be shown by any source while panels are hung and cabled: addresses,
// circuits, data runs, seams, grey steps, and each zone white. Beside them stands what they load: pictures are dark but for lines and letters.
package alignment

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"image"
	"image/png"
	"math"
	"slices"
	"strconv"
	"strings"

	"lookgate/presets"
	"lookgate/presets/picture"
	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// Bright is the mean on a circuit from which on a picture is told to be bright: the lines and letters of the dark ones stay well below. Common practice, no source.
const Bright units.Share = 0.15

// Table is the name of the file that lists the pictures.
const Table = "pictures.csv"

// mostPixels bounds a raster, so that a slip in the rig does not fill memory: some thirty times a wall of 4096 by 2160.
const mostPixels = 1 << 28

// Picture is one picture as it was written.
type Picture struct {
	File          string
	Wall          int
	Kind          string // what it is for
	Zone          int    // that it lights; -1 for the others
	Width, Height int
	Mean          units.Share // linear light over the wall's panels, of the primary that has most
	Highest       units.Share // the same over the panels of the circuit that has most
	Circuit       int         // that circuit; -1 where no circuit feeds a panel of the wall
	Safe          units.Level // the highest level, in whole per cent, at which the plant carries full white: on the zone alone, or on all walls together
	Own           units.Level // the same with this kind of picture on all walls and nothing brighter, which nobody checks
}

// Loud reports whether a picture is bright.
func (p Picture) Loud() bool { return p.Highest > Bright }

// maker draws the pictures of one rig.
type maker struct {
	plan  *presets.Plan
	write func(name string, bytes []byte) error
	walls []drawer
	names []string // per wall, as a file may be called
	taken []string // file names, in small letters
}

// Make draws every picture and hands it to write as it is ready, the table last. Its errors are those of write, and of a wall whose raster is too large.
func Make(p *presets.Plan, write func(name string, bytes []byte) error) ([]Picture, error) {
	m := &maker{plan: p, write: write, walls: make([]drawer, len(p.Rig.Walls))}
	for i, w := range p.Rig.Walls {
		if int64(w.PixelsX)*int64(w.PixelsY) > mostPixels {
			return nil, fmt.Errorf("wall %s: its raster of %d x %d is too large to draw\nsplit it into several walls of at most %d pixels", w.Name, w.PixelsX, w.PixelsY, mostPixels)
		}
		m.walls[i] = drawer{rig: p.Rig, wall: i}
	}
	for i, panel := range p.Rig.Panels {
		m.walls[panel.Wall].panels = append(m.walls[panel.Wall].panels, i)
	}
	all, err := m.dark()
	if err != nil {
		return nil, err
	}
	white, err := m.zones()
	if err != nil {
		return nil, err
	}
	all = append(all, white...)
	return all, write(Table, table(p.Rig, all))
}

// dark draws the pictures that light little, on every wall.
func (m *maker) dark() ([]Picture, error) {
	zones := make([]presets.ZoneLevel, len(m.plan.Rig.Zones))
	for i := range zones {
		zones[i] = presets.ZoneLevel{Zone: i, Level: 1, Cap: 1}
	}
	safe := m.safe(&presets.Preset{Zones: zones})
	var all []Picture
	for _, kind := range []struct {
		name string
		draw func(*drawer)
	}{
		{"panels", (*drawer).addresses}, {"circuits", (*drawer).circuits}, {"data-runs", (*drawer).runs}, {"seams", (*drawer).seams}, {"greys", (*drawer).greys},
	} {
		shown := make([]light, len(m.plan.Rig.Panels))
		first := len(all)
		for wall := range m.walls {
			p, seen, err := m.draw(wall, kind.name, kind.draw)
			if err != nil {
				return nil, err
			}
			for i := range seen {
				shown[i].add(seen[i])
			}
			p.Zone, p.Safe = -1, safe
			all = append(all, p)
		}
		own := m.own(shown)
		for i := first; i < len(all); i++ {
			all[i].Own = own
		}
	}
	return all, nil
}

// zones draws each zone's panels white, by the walls that it has panels on.
func (m *maker) zones() ([]Picture, error) {
	var all []Picture
	for i, z := range m.plan.Rig.Zones {
		safe := m.safe(&presets.Preset{Zones: []presets.ZoneLevel{{Zone: i, Level: 1, Cap: 1}}})
		words := []string{z.Name, "AT MOST", fmt.Sprintf("%.0f %%", float64(safe)*100)}
		lit := make([]bool, len(m.plan.Rig.Panels))
		for _, o := range z.Outputs {
			for _, panel := range m.plan.Rig.Outputs[o].Panels {
				lit[panel] = true
			}
		}
		for wall := range m.walls {
			panels := slices.DeleteFunc(slices.Clone(m.walls[wall].panels), func(panel int) bool { return !lit[panel] })
			if len(panels) == 0 {
				continue
			}
			p, _, err := m.draw(wall, "white-"+fileName(z.Name), func(d *drawer) { d.white(panels, words) })
			if err != nil {
				return nil, err
			}
			p.Zone, p.Safe, p.Own = i, safe, safe
			all = append(all, p)
		}
	}
	return all, nil
}

// draw draws one picture, writes it, and gives what its panels show.
func (m *maker) draw(wall int, kind string, with func(*drawer)) (Picture, []light, error) {
	d := m.walls[wall]
	d.canvas = newCanvas(picture.Raster(d.rig, wall))
	with(&d)
	d.keepToPanels()
	seen := lights(d.rig, d.panels, func(panel int) image.Rectangle {
		r := d.rect(panel)
		return image.Rect(r.X, r.Y, r.X+r.Width, r.Y+r.Height)
	}, d.image)
	p := Picture{File: m.name(wall, kind), Wall: wall, Kind: kind, Width: d.image.Rect.Dx(), Height: d.image.Rect.Dy()}
	p.Mean, p.Highest, p.Circuit = means(d.rig, d.panels, seen)
	var b bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.DefaultCompression}).Encode(&b, d.image); err != nil {
		return p, nil, err
	}
	return p, seen, m.write(p.File, b.Bytes())
}

// means gives the mean over a wall's panels, and the highest over those of one circuit.
func means(r *rig.Rig, panels []int, seen []light) (mean, highest units.Share, circuit int) {
	var all light
	for _, panel := range panels {
		all.add(seen[panel])
	}
	circuit = -1
	for i, c := range r.Circuits {
		var own light
		for _, panel := range c.Panels {
			own.add(seen[panel])
		}
		if h := own.highest(); own.pixels > 0 && (circuit < 0 || h > highest) {
			highest, circuit = h, i
		}
	}
	return all.highest(), highest, circuit
}

// safe gives the highest level, in whole per cent, at which the plant carries a preset of full levels with full white up.
func (m *maker) safe(p *presets.Preset) units.Level {
	if len(p.Zones) == 0 {
		return 0
	}
	return wholePercent(presets.Check(m.plan, p, presets.Conditions{}).Cap)
}

// own gives the highest level of all outputs at which the plant carries what the panels show, also where restarts alone are too much.
func (m *maker) own(shown []light) units.Level {
	r := m.plan.Rig
	n := len(r.Outputs)
	s, moving := power.State{Levels: make([]units.Level, n), Content: m.contents(shown)}, make([]bool, n)
	ratios := make([]units.Level, n)
	for o := range n {
		s.Levels[o], ratios[o], moving[o] = 1, 1, true
	}
	return wholePercent(m.plan.Power.Cap(s, ratios, moving, 1000).Scale)
}

// contents gives for each output the highest mean over those of its panels that hang on one circuit.
func (m *maker) contents(shown []light) []units.Share {
	r := m.plan.Rig
	outputOf := make([]int, len(r.Panels))
	all := make([]units.Share, len(r.Outputs))
	for o, out := range r.Outputs {
		for _, panel := range out.Panels {
			outputOf[panel] = o + 1
		}
	}
	for _, c := range r.Circuits {
		sums := make([]light, len(r.Outputs)+1)
		for _, panel := range c.Panels {
			sums[outputOf[panel]].add(shown[panel])
		}
		for o := range all {
			all[o] = max(all[o], sums[o+1].highest())
		}
	}
	return all
}

func wholePercent(s units.Share) units.Level {
	return units.Level(math.Floor(min(1, float64(s))*100+1e-9) / 100)
}

// name gives a picture's file a name that no other has, also where the disk does not tell capitals from small letters.
func (m *maker) name(wall int, kind string) string {
	base := fileName(m.plan.Rig.Walls[wall].Name) + "-" + kind
	name := base
	for n := 2; slices.Contains(m.taken, strings.ToLower(name)); n++ {
		name = fmt.Sprintf("%s-%d", base, n)
	}
	m.taken = append(m.taken, strings.ToLower(name))
	return name + ".png"
}

// fileName keeps of a name what can stand in the name of a file anywhere.
func fileName(name string) string {
	return strings.Map(func(c rune) rune {
		if 'a' <= c && c <= 'z' || 'A' <= c && c <= 'Z' || '0' <= c && c <= '9' || c == '-' || c == '_' {
			return c
		}
		return '_'
	}, name)
}

// table lists the pictures.
func table(r *rig.Rig, all []Picture) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.Write([]string{"file", "wall", "shows", "zone", "width_px", "height_px", "mean_percent", "highest_circuit_mean_percent", "circuit", "bright",
		"level_for_any_picture_percent", "level_for_this_picture_percent"})
	for _, p := range all {
		zone, circuit := "", ""
		if p.Zone >= 0 {
			zone = r.Zones[p.Zone].Name
		}
		if p.Circuit >= 0 {
			circuit = r.Circuits[p.Circuit].Name
		}
		w.Write([]string{p.File, r.Walls[p.Wall].Name, p.Kind, zone, strconv.Itoa(p.Width), strconv.Itoa(p.Height), percent(p.Mean), percent(p.Highest), circuit,
			strconv.FormatBool(p.Loud()), fmt.Sprintf("%.0f", float64(p.Safe)*100), fmt.Sprintf("%.0f", float64(p.Own)*100)})
	}
	w.Flush()
	return b.Bytes()
}

func percent(s units.Share) string { return strconv.FormatFloat(float64(s)*100, 'f', 2, 64) }
