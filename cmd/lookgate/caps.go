package main

import (
	"fmt"
	"math"
	"strings"

	"lookgate/presets"
	"lookgate/presets/finding"
	"lookgate/presets/units"
)

// capsReport is how far a preset could go up, as data.
type capsReport struct {
	Scale  float64         `json:"scale"`
	Binds  []finding.Place `json:"binds"`
	Relief []reliefReport  `json:"relief"`
	Zones  []zoneCapReport `json:"zones"`
}

type reliefReport struct {
	Without []finding.Place `json:"without"`
	Scale   float64         `json:"scale"`
	Then    []finding.Place `json:"then"`
}

type zoneCapReport struct {
	Zone  string         `json:"zone"`
	None  bool           `json:"none,omitempty"`
	Cap   float64        `json:"cap"`
	Nits  float64        `json:"nits"`
	Stops *float64       `json:"stops"` // from its level; null where that is dark
	Binds *finding.Place `json:"binds"`
}

// capsOf puts names in place of indexes.
func (r *report) capsOf(c presets.Caps) capsReport {
	out := capsReport{Scale: float64(c.Scale), Binds: r.stopping(c.Binding, c.BySupply), Relief: []reliefReport{}, Zones: []zoneCapReport{}}
	for _, s := range c.Relief {
		out.Relief = append(out.Relief, reliefReport{r.stopping(s.Without, false), float64(s.Scale), r.stopping(s.Then, s.BySupply)})
	}
	for _, z := range c.Zones {
		report := zoneCapReport{Zone: r.plan.Rig.Zones[z.Zone].Name, None: z.None, Cap: float64(z.Cap), Nits: float64(z.Nits)}
		if stops := float64(z.Stops); !math.IsInf(stops, 0) && !math.IsNaN(stops) {
			report.Stops = &stops
		}
		if z.Binding >= 0 {
			report.Binds = &r.stopping([]int{z.Binding}, false)[0]
		} else if z.BySupply {
			report.Binds = &r.stopping(nil, true)[0]
		}
		out.Zones = append(out.Zones, report)
	}
	return out
}

// stopping names what stops a cap.
func (r *report) stopping(conductors []int, bySupply bool) []finding.Place {
	places := []finding.Place{}
	for _, i := range conductors {
		places = append(places, placeOf(r.plan.Power.Conductors()[i]))
	}
	if bySupply {
		places = append(places, finding.Place{Kind: "supply", Name: r.plan.Rig.Supply.Name})
	}
	return places
}

// reliefWords tells what stops a preset and what would come of taking that away.
func reliefWords(c capsReport) string {
	if len(c.Binds) == 0 {
		return ""
	}
	words, at := "what binds: "+someOf(c.Binds), c.Scale
	for i, s := range c.Relief {
		words += ", " + points(s.Scale-at)
		if i == 0 {
			words += " of its levels without it"
		}
		if at = s.Scale; len(s.Then) == 0 {
			return words + ", and then nothing up to level 1"
		}
		words += "; then " + someOf(s.Then)
	}
	return words
}

// points prints a difference of shares: "+9.1 %".
func points(d float64) string { return fmt.Sprintf("%+.1f %%", 100*d) }

// someOf names the first of some places and counts the others.
func someOf(places []finding.Place) string {
	if len(places) == 1 {
		return places[0].String()
	}
	return fmt.Sprintf("%s and %d more", places[0], len(places)-1)
}

// zoneWords tells how far each zone could go with the others at their caps.
func zoneWords(zones []zoneCapReport) string {
	var words []string
	for _, z := range zones {
		switch {
		case z.None:
			words = append(words, z.Zone+" at no level")
		case z.Binds == nil:
			words = append(words, fmt.Sprintf("%s up to %v", z.Zone, units.Nits(math.Floor(z.Nits))))
		default:
			stops := ""
			if z.Stops != nil {
				stops = ", " + units.Stops(*z.Stops).String()
			}
			words = append(words, fmt.Sprintf("%s up to %v (%v%s; %v)", z.Zone, units.Level(z.Cap), units.Nits(math.Floor(z.Nits)), stops, z.Binds))
		}
	}
	return "each zone by itself: " + strings.Join(words, "; ")
}
