package alignment

import (
	"lookgate/presets"
	"lookgate/presets/picture"
	"lookgate/presets/units"
)

// white is what a zone may be set to while it is full white.
type white struct {
	zone int
	none bool        // at no level
	set  units.Level // with all other zones dark
	all  units.Level // with all zones white at this level
}

// whitesOf works out every zone's level for full white, in the steps of its devices.
func whitesOf(p *presets.Plan) []white {
	everything := presets.Preset{Name: "white"}
	for z := range p.Rig.Zones {
		everything.Zones = append(everything.Zones, presets.ZoneLevel{Zone: z, Level: 1, Cap: 1})
	}
	together := units.Level(min(1, presets.CapsOf(p, &everything, presets.Conditions{}).Scale))
	var all []white
	for z := range p.Rig.Zones {
		alone := presets.Preset{Name: "white", Zones: everything.Zones[z : z+1]}
		w := white{zone: z, none: true, all: together}
		for _, of := range presets.CapsOf(p, &alone, presets.Conditions{}).Zones {
			w.none, w.set = of.None, of.Cap
		}
		if w.none {
			w.set = 0
		}
		all = append(all, w)
	}
	return all
}

// white fills a zone's panels on the wall with full white, and writes on it which level it has to be set to.
func (b *book) white(w white, panels []int) *canvas {
	c := b.canvas()
	for _, p := range panels {
		c.fill(picture.PanelRect(b.rig, p), 255)
	}
	name := b.rig.Zones[w.zone].Name
	lines := []string{"zone " + name, "set at most " + percent(w.set), "all zones: " + percent(w.all)}
	if w.none {
		lines = []string{"zone " + name, "at no level"}
	}
	r := b.broadest(panels)
	c.text(r, max(1, picture.PanelRect(b.rig, panels[0]).Height/28), black, 255, lines...)
	return c
}
