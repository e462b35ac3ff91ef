package trial

import (
	"math/rand/v2"
	"slices"

	"lookgate/presets"
	"lookgate/presets/plant"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// contentsOf gives the plant what the book says of its pictures, output by output: the pictures of a trial are what their presets say.
func contentsOf(p *presets.Plan) plant.Contents {
	c := plant.Contents{}
	for _, preset := range p.Book.Presets {
		if !p.OnCredit(preset.Number) {
			continue
		}
		parts := make([]units.Share, len(p.Rig.Outputs))
		for o := range parts {
			parts[o] = p.Content(preset.Number, o)
		}
		c[preset.Number] = parts
	}
	return c
}

// content has some of the looks of one stage in so many state what their pictures take, and makes them brighter by it, so that they lean on the credit. It draws from
// numbers of its own: the other stages stay what they are.
func (s *stage) content(seed uint64, in int, b *presets.Book) {
	rng := rand.New(rand.NewPCG(seed, 7))
	if rng.IntN(in) > 0 {
		return
	}
	s.rig.Credit = &rig.Decision{Reason: "drawn", By: "chance"}
	for i := range b.Presets {
		if i == 0 || rng.IntN(3) == 0 {
			continue
		}
		part := units.Share(0.3 + 0.6*rng.Float64())
		for k := range b.Presets[i].Zones {
			z := &b.Presets[i].Zones[k]
			if slices.ContainsFunc(s.rig.Zones[z.Zone].Outputs, func(o int) bool { return s.rig.Devices[s.rig.Outputs[o].Device].Class == rig.Silent }) {
				continue // nobody knows what it shows, so it has no credit
			}
			z.Content = &presets.Content{Red: part, Green: part, Blue: part}
			z.Level = min(1, z.Level/units.Level(part))
			z.Cap = max(z.Level, min(1, z.Cap/units.Level(part)))
		}
	}
}
