package presets_test

import (
	"slices"
	"strings"
	"time"

	"lookgate/presets"
	"lookgate/presets/finding"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

var supply = finding.Place{Kind: "supply", Name: "service"}

// generator puts one behind the bench, which asks it for 3200 VA and as many watts at full white and nothing at black. No figure of it is near.
func generator(r *rig.Rig) *rig.Capacity {
	r.Supply.Origin = rig.Generator
	r.Supply.Capacity = rig.Capacity{Power: 50_000, Factor: 1, Real: 40_000, Step: 20_000, Settle: 5 * time.Second}
	return &r.Supply.Capacity
}

// split makes the bench's supply one of two legs, with 8 of the 16 panels of its second circuit left, on the other leg.
func split(r *rig.Rig) {
	r.Supply.System, r.Supply.LineLine = rig.SplitPhase, 200
	r.Circuits[1].Poles, r.Circuits[1].Panels = []int{3}, r.Circuits[1].Panels[:8]
}

// supplyPairs are the findings about what stands behind the supply, its legs and neutral, switching on and earth leakage.
var supplyPairs = []pair{
	{name: "a generator at its volt-amperes", code: finding.CapacityOver, place: supply, now: true,
		set: func(r *rig.Rig, _ *presets.Preset, over bool) {
			generator(r).Power = pick[units.VoltAmps](over, 3200, 3199)
		}},
	{name: "a transformer at what a continuous load may use", code: finding.CapacityOver, place: supply, now: true,
		set: func(r *rig.Rig, _ *presets.Preset, over bool) {
			r.Supply.Origin, r.Supply.Capacity = rig.Transformer, rig.Capacity{Power: pick[units.VoltAmps](over, 4000, 3999), Factor: 0.8}
		}},
	{name: "a leg of a generator whose legs together are well under it", code: finding.LegOver, place: finding.Place{Kind: "supply leg", Name: "service L1"}, now: true,
		set: func(r *rig.Rig, _ *presets.Preset, over bool) {
			split(r) // 16 A on the first leg, 8 A on the other
			generator(r).Power = pick[units.VoltAmps](over, 3200, 3199)
		}},
	{name: "a generator at its watts", code: finding.CapacityOver, place: supply, now: true,
		set: func(r *rig.Rig, _ *presets.Preset, over bool) {
			generator(r).Real = pick[units.Watts](over, 3200, 3199)
		}},
	{name: "a generator and one device restarting beside a preset", code: finding.RestartLoad, place: supply, now: true,
		set: func(r *rig.Rig, p *presets.Preset, over bool) {
			generator(r).Power = pick[units.VoltAmps](over, 2400, 2399)
			r.Devices[1].Restart, p.Zones = 0.5, p.Zones[:1]
		}},
	{name: "a generator and all devices restarting", code: finding.RestartOver, place: supply, site: true,
		set: func(r *rig.Rig, _ *presets.Preset, over bool) {
			generator(r).Real = pick[units.Watts](over, 3200, 3199)
			r.Devices[0].Restart, r.Devices[1].Restart = 1, 1
		}},
	{name: "a step from black without a fade", code: finding.StepOver, place: supply, now: true,
		set: func(r *rig.Rig, _ *presets.Preset, over bool) {
			generator(r).Step = pick[units.Watts](over, 3200, 3199)
		}},
	{name: "a step that a fade spreads", code: finding.StepOver, place: supply, now: true,
		set: func(r *rig.Rig, p *presets.Preset, over bool) {
			generator(r).Step, p.FadeUp = 1600, pick(over, 10*time.Second, 9990*time.Millisecond)
		}},
	{name: "a step of levels, whatever the caps", code: finding.StepOver, place: supply, now: true,
		set: func(r *rig.Rig, p *presets.Preset, over bool) {
			generator(r).Step = 1600
			for i := range p.Zones {
				p.Zones[i].Level, p.Zones[i].Cap = pick[units.Level](over, 0.5, 0.501), 1
			}
		}},
	{name: "a step when a blackout ends", code: finding.StepSudden, place: supply,
		set: func(r *rig.Rig, p *presets.Preset, over bool) {
			generator(r).Step, p.FadeUp = pick[units.Watts](over, 3200, 3199), time.Minute
		}},
	{name: "the volt-amperes of a transformer", code: finding.Unassessed, place: supply, says: "apparent", site: true,
		set: func(r *rig.Rig, _ *presets.Preset, over bool) {
			r.Supply.Origin, r.Supply.Capacity = rig.Transformer, rig.Capacity{Power: pick[units.VoltAmps](over, 1, 0), Factor: 0.8}
		}},
	{name: "the watts of a generator", code: finding.Unassessed, place: supply, says: "active", site: true,
		set: func(r *rig.Rig, _ *presets.Preset, over bool) { generator(r).Real = pick[units.Watts](over, 1, 0) }},
	{name: "the step of a generator", code: finding.Unassessed, place: supply, says: "at once", site: true,
		set: func(r *rig.Rig, _ *presets.Preset, over bool) { generator(r).Step = pick[units.Watts](over, 1, 0) }},
	{name: "the settling time of a generator", code: finding.Unassessed, place: supply, says: "settle", site: true,
		set: func(r *rig.Rig, _ *presets.Preset, over bool) { generator(r).Settle = pick(over, time.Second, 0) }},

	{name: "panels a breaker, by the maker", code: finding.InrushOver, place: finding.Place{Kind: "circuit", Name: "A1"}, site: true,
		set: func(r *rig.Rig, _ *presets.Preset, over bool) {
			r.PanelTypes[0].PerBreaker[0].Panels = pick(over, 16, 15)
		}},
	{name: "inrush peaks against a band", code: finding.InrushOver, place: finding.Place{Kind: "circuit", Name: "A1"}, site: true,
		set: func(r *rig.Rig, _ *presets.Preset, over bool) {
			r.Circuits[0].Curve, r.PanelTypes[0].PerBreaker = rig.CurveC, nil // holds 100 A
			r.PanelTypes[0].Inrush.Peak = pick[units.Amps](over, 6.25, 6.26)
		}},
	{name: "one panel that is too much for a breaker", code: finding.InrushOver, place: finding.Place{Kind: "circuit", Name: "A1"}, site: true,
		set: func(r *rig.Rig, _ *presets.Preset, over bool) {
			r.Circuits[0].Curve, r.Circuits[0].Panels, r.PanelTypes[0].PerBreaker = rig.CurveD, r.Circuits[0].Panels[:1], nil
			r.PanelTypes[0].Inrush.Peak = pick[units.Amps](over, 200, 201)
		}},
	{name: "inrush of which nothing is known", code: finding.Unassessed, place: finding.Place{Kind: "panel type", Name: "p1"}, says: "inrush", site: true,
		set: func(r *rig.Rig, _ *presets.Preset, over bool) {
			r.PanelTypes[0].PerBreaker = pick(over, r.PanelTypes[0].PerBreaker, nil)
		}},
	{name: "a peak and no curve", code: finding.Unassessed, place: finding.Place{Kind: "site", Name: "bench"}, says: "curve", site: true,
		set: func(r *rig.Rig, _ *presets.Preset, over bool) {
			r.PanelTypes[0].PerBreaker, r.PanelTypes[0].Inrush.Peak = nil, 1
			r.Circuits[0].Curve, r.Circuits[1].Curve = rig.CurveB, pick(over, rig.CurveB, rig.NoCurve)
		}},

	{name: "leakage of a circuit", code: finding.LeakageOver, place: finding.Place{Kind: "circuit", Name: "A1"}, site: true,
		set: func(r *rig.Rig, _ *presets.Preset, over bool) {
			r.Circuits[0].Residual, r.PanelTypes[0].Leakage = 0.03, pick[units.Amps](over, 0.0005625, 0.0005626) // 16 of them, of 9 mA
		}},
	{name: "leakage of a board", code: finding.LeakageOver, place: finding.Place{Kind: "board", Name: "A"}, site: true,
		set: func(r *rig.Rig, _ *presets.Preset, over bool) {
			r.Boards[0].Residual, r.PanelTypes[0].Leakage = 0.3, pick[units.Amps](over, 0.0028125, 0.0028126) // 32 of them, of 90 mA
		}},
	{name: "leakage of which nothing is known", code: finding.Unassessed, place: finding.Place{Kind: "panel type", Name: "p1"}, says: "leakage", site: true,
		set: func(r *rig.Rig, _ *presets.Preset, over bool) {
			r.Circuits[0].Residual, r.PanelTypes[0].Leakage = 0.03, pick[units.Amps](over, 0.0001, 0)
		}},
	{name: "no residual-current device", code: finding.Unassessed, place: finding.Place{Kind: "site", Name: "bench"}, says: "residual-current", site: true,
		set: func(r *rig.Rig, _ *presets.Preset, over bool) {
			r.Circuits[0].Residual = pick[units.Amps](over, 0.03, 0)
		}},
	{name: "leakage of other loads", code: finding.Unassessed, place: finding.Place{Kind: "board", Name: "A"}, says: "other load", site: true,
		set: func(r *rig.Rig, _ *presets.Preset, over bool) {
			r.Boards[0].Residual = pick[units.Amps](over, 0, 0.3)
			r.Loads = []rig.OtherLoad{{Name: "fans", Legs: []int{0}, Current: 1, PF: 1}}
		}},

	{name: "two circuits that would even out the legs", code: finding.LegsUnbalanced, place: finding.Place{Kind: "board", Name: "A"}, site: true,
		set: func(r *rig.Rig, _ *presets.Preset, over bool) {
			split(r) // 16 and 8 A; with a amps more on the first leg a swap takes 2a / (a + 24) away
			r.Loads = []rig.OtherLoad{{Name: "fans", Legs: []int{0}, Current: pick[units.Amps](over, 0.615, 0.616), PF: 1}}
		}},
	{name: "two legs that share a neutral", code: finding.LostNeutral, place: finding.Place{Kind: "board", Name: "A"}, site: true,
		set: func(r *rig.Rig, _ *presets.Preset, over bool) {
			split(r)
			r.Circuits[1].Poles = pick(over, []int{2}, []int{3}) // in an odd-even board the first two poles are on one leg
		}},
}

// doSupply carries out what is said of what stands behind the supply, of legs, of switching on and of earth leakage.
func (h *hands) doSupply(words string) bool {
	return h.doCapacity(words) || h.doBreaker(words) || h.doKnown(words)
}

func (h *hands) doCapacity(words string) bool {
	var kva, kw int
	c := &h.rig.Supply.Capacity
	switch {
	case scan(words, "a generator of %d kVA and %d kW or more would carry it", &kva, &kw):
		c.Power, c.Real = units.VoltAmps(kva*1000), units.Watts(kw*1000)
	case scan(words, "a transformer of %d kVA or more would carry it", &kva):
		c.Power = units.VoltAmps(kva * 1000)
	case scan(words, "a generator that takes %d kW or more at once", &kw):
		c.Step = units.Watts(kw * 1000)
	case scan(words, "a fade up over %d s or more", &kw):
		h.preset.FadeUp = time.Duration(kw) * time.Second
	default:
		return false
	}
	return true
}

func (h *hands) doBreaker(words string) bool {
	var a, b, curve string
	var ma units.Amps
	switch {
	case scan(words, "swap the places of %s and %s", &a, &b):
		b = strings.TrimSuffix(b, ":")
		at := func(name string) *rig.Circuit {
			return &h.rig.Circuits[slices.IndexFunc(h.rig.Circuits, func(c rig.Circuit) bool { return c.Name == name })]
		}
		x, y := at(a), at(b)
		x.Poles, y.Poles = y.Poles, x.Poles
	case scan(words, "a breaker of curve %1s", &curve):
		h.circuit().Curve = map[string]rig.Curve{"C": rig.CurveC, "D": rig.CurveD}[curve]
	case words == "what limits the inrush of its panels, or a breaker whose maker allows them":
		c := h.circuit()
		h.rig.PanelTypes[0].PerBreaker = []rig.PerBreaker{{Breaker: c.Breaker, Panels: len(c.Panels)}}
	case words == "a residual-current device for each circuit in place of the board's":
		h.rig.Boards[0].Residual = 0
		for i := range h.rig.Circuits {
			h.rig.Circuits[i].Residual = 0.03
		}
	case scan(words, "a residual-current device of %f mA, where the rules for the place allow it", &ma):
		if h.place.Kind == "board" {
			h.rig.Boards[0].Residual = ma / 1000
		} else {
			h.circuit().Residual = ma / 1000
		}
	case words == "circuits of two poles, where the panels take 200 V, and no other load from line to neutral":
		h.rig.Circuits[0].Poles, h.rig.Circuits[1].Poles, h.rig.Loads = []int{1, 3}, []int{2, 4}, nil
	default:
		return false
	}
	return true
}

func (h *hands) doKnown(words string) bool {
	c := &h.rig.Supply.Capacity
	switch words {
	case "give its rated apparent power in the rig, as its maker has it":
		c.Power = 50_000
	case "give its rated active power in the rig, as its maker has it":
		c.Real = 40_000
	case "give the largest load that it takes at once in the rig, as its maker has it":
		c.Step = 20_000
	case "give its settling time in the rig, as its maker has it":
		c.Settle = 5 * time.Second
	case "give its inrush peak or the maker's panels a breaker in the rig":
		h.rig.PanelTypes[0].PerBreaker = []rig.PerBreaker{{Breaker: 20, Panels: 16}}
	case "give the curves of the breakers in the rig":
		h.rig.Circuits[1].Curve = rig.CurveC
	case "give its earth leakage in the rig, as measured or as the maker has it":
		h.rig.PanelTypes[0].Leakage = 0.0001
	case "give residual_ma of the circuits and boards that have one":
		h.rig.Circuits[0].Residual = 0.03
	default:
		return false
	}
	return true
}
