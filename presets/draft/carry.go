package draft

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"lookgate/presets/cable"
	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/site"
	"lookgate/presets/units"
)

// option is one way to make a wall's circuits: breaker, poles and cables, and how many of the wall's panels one of them carries at full white.
type option struct {
	breaker units.Amps
	poles   int
	home    lead
	link    lead
	carries int
	binds   string // what keeps it from carrying one more
}

// lead is what a home run or jumpers are made of: a cable with its length, or only a rating.
type lead struct {
	rating units.Amps
	run    *rig.Run
}

// optionsOf lists what a wall's circuits can be made of, smallest breakers first, those with one pole before those with two; and what speaks against the others.
func (p *planner) optionsOf(wall int) (options []option, against []string) {
	for _, poles := range []int{1, 2} {
		if why := p.noPoles(poles); why != "" {
			if asked := p.brief.Circuits.Poles; asked == 0 || asked == poles {
				against = append(against, why)
			}
			continue
		}
		for _, breaker := range p.brief.Circuits.Breakers {
			o, why := p.optionOf(wall, breaker, poles)
			if why != "" {
				if !slices.Contains(against, why) {
					against = append(against, why)
				}
				continue
			}
			options = append(options, o)
		}
	}
	return options, against
}

// optionOf finds the cables with which a breaker carries the most panels, the smallest that do; or why it cannot be used.
func (p *planner) optionOf(wall int, breaker units.Amps, poles int) (option, string) {
	t, c := p.typeOf(wall), p.brief.Circuits
	if t.FeedThrough < breaker {
		return option{}, fmt.Sprintf("a breaker of %s does not protect the feed-through of %s, rated %s", amps(breaker), t.Name, amps(t.FeedThrough))
	}
	length := c.Home.Length
	if l := p.brief.Wishes[wall].HomeRun; l > 0 {
		length = l
	}
	homes, links := p.leads(c.Home.Rating, length, breaker), p.leads(c.Link.Rating, c.Link.Length, breaker)
	if len(homes) == 0 {
		return option{}, fmt.Sprintf("a breaker of %s does not protect home runs, rated at most %s", amps(breaker), amps(p.strongest(c.Home)))
	}
	if len(links) == 0 {
		return option{}, fmt.Sprintf("a breaker of %s does not protect jumpers, rated at most %s", amps(breaker), amps(p.strongest(c.Link)))
	}
	var best option
	for _, home := range homes {
		for _, link := range links {
			if o := p.carry(wall, option{breaker: breaker, poles: poles, home: home, link: link}); o.carries > best.carries || best.breaker == 0 {
				best = o
			}
		}
	}
	if best.carries < 1 {
		return option{}, "not one panel: " + best.binds
	}
	return best, ""
}

// leads lists what a home run or jumpers may be made of behind a breaker: the brief's rating, or its cables that bear it, the smallest first.
func (p *planner) leads(rating units.Amps, length units.Metres, breaker units.Amps) []lead {
	if length == 0 {
		if rating < breaker {
			return nil
		}
		return []lead{{rating: rating}}
	}
	var out []lead
	for i, c := range p.rig.Cables {
		if carries := c.Carries(); carries >= breaker {
			out = append(out, lead{carries, &rig.Run{Cable: i, Length: length}})
		}
	}
	slices.SortStableFunc(out, func(a, b lead) int { return cmp.Compare(p.ohms(b), p.ohms(a)) })
	return out
}

// ohms gives the resistance of a lead's cable for a metre, by which cables have their order.
func (p *planner) ohms(l lead) float64 {
	c := p.rig.Cables[l.run.Cable]
	r, _ := cable.Resistance(c.Size, c.Stranding, c.At)
	return float64(r)
}

// strongest gives the highest rating that a home run or jumpers can have.
func (p *planner) strongest(w site.Way) units.Amps {
	most := w.Rating
	if w.Length > 0 {
		for _, c := range p.rig.Cables {
			most = max(most, c.Carries())
		}
	}
	return most
}

// noPoles says why circuits cannot have so many poles; nothing where they can.
func (p *planner) noPoles(poles int) string {
	s := p.rig.Supply
	switch volts := s.Volts(poles); {
	case p.brief.Circuits.Poles != 0 && p.brief.Circuits.Poles != poles:
		return "the brief asks for others"
	case poles == 1 && !s.System.HasNeutral():
		return fmt.Sprintf("a %v supply has no neutral for breakers of one pole", s.System)
	case poles == 2 && s.System.Legs() < 2:
		return fmt.Sprintf("a %v supply has no second leg for breakers of two poles", s.System)
	case volts > p.brief.Circuits.Highest:
		return fmt.Sprintf("%s would give a panel %v, and it takes at most %v", plural(poles, "pole"), volts, p.brief.Circuits.Highest)
	}
	return ""
}

// carry finds how many of a wall's panels a circuit carries: what the model of the whole plant says of one circuit by itself.
func (p *planner) carry(wall int, o option) option {
	t, s := p.typeOf(wall), p.rig.Supply
	limit := float64(o.breaker) * float64(p.brief.Factor)
	each := float64(t.White) / (float64(s.Volts(o.poles)) * float64(t.PF))
	o.binds = fmt.Sprintf("breaker %s × %v = %v: at %v a panel draws %.3g A", amps(o.breaker), p.brief.Factor, units.Amps(limit), s.Volts(o.poles), each)
	n := int(min(math.Floor(limit/each+1e-9), float64(p.panelsOn(wall))))
	for n > 0 {
		why := p.fails(p.single(wall, o, n))
		if why == "" {
			break
		}
		o.binds = why
		n--
	}
	if least := p.less[wall]; least > 0 {
		n -= least
		o.binds += fmt.Sprintf("; %s fewer for the voltage that is lost on the way", plural(least, "panel"))
	}
	o.carries = n
	return o
}

// usualDrop is the limit of voltage drop in a circuit where a brief gives none. It is advice (NEC 210.19(A), informational note).
const usualDrop units.Share = 0.03

// fails says why the one circuit of a rig does not do at full white; nothing where it does.
func (p *planner) fails(r *rig.Rig) string {
	m, c := power.New(r), r.Circuits[0]
	worst := m.Worst(power.State{}, nil)
	for i, w := range m.Conductors() {
		if w.Circuit >= 0 && !(worst[i] <= w.Limit) {
			return fmt.Sprintf("%s draw %v with what is lost on the way, of at most %v (%s)", plural(len(c.Panels), "panel"), worst[i], w.Limit, w.By)
		}
	}
	if lost, most := lostIn(m, r), p.mostDrop(); lost > most {
		return fmt.Sprintf("with %s %v of the voltage would be lost, of at most %v", plural(len(c.Panels), "panel"), lost, most)
	}
	if on := m.SwitchOns()[0]; on.Basis == power.MakersRow && on.Most < len(c.Panels) {
		return fmt.Sprintf("the maker allows %s of %s on such a breaker of %s", plural(on.Most, "panel"), r.PanelTypes[0].Name, amps(c.Breaker))
	}
	for _, l := range m.Leakage() {
		if l.Sum > l.Limit {
			return fmt.Sprintf("%s leak %.3g mA, of at most %.3g mA behind a device of %.3g mA", plural(len(c.Panels), "panel"), l.Sum*1000, l.Limit*1000, l.Residual*1000)
		}
	}
	return ""
}

// mostDrop gives the limit of voltage drop in a circuit.
func (p *planner) mostDrop() units.Share {
	if d := p.rig.Drop.Circuit; d > 0 {
		return d
	}
	return usualDrop
}

// lostIn gives what part of its voltage the one circuit of a rig loses.
func lostIn(m *power.Model, r *rig.Rig) units.Share {
	if !m.Drops() {
		return 0
	}
	var f power.Flow
	m.Flow(power.State{}, &f)
	if len(f.Collapsed) > 0 {
		return 1
	}
	return m.Lost(0, f.Panel[len(r.Panels)-1].Volts)
}

// single makes a rig of one circuit of the first panels of a wall, on a board that nothing else hangs on. No output drives them: they stand at full white.
func (p *planner) single(wall int, o option, panels int) *rig.Rig {
	r := &rig.Rig{Supply: p.rig.Supply, Cables: p.rig.Cables, PanelTypes: []rig.PanelType{p.typeOf(wall)}, Walls: []rig.Wall{p.rig.Walls[wall]}}
	r.Boards = []rig.Board{{Name: "b", Numbering: rig.ByWays, Poles: 2, Main: o.breaker, Neutral: o.breaker, Factor: 1}}
	c := rig.Circuit{Name: "c", Poles: []int{1, 2}[:o.poles], Breaker: o.breaker, Factor: p.brief.Factor, Curve: p.brief.Circuits.Curve, Residual: p.brief.Circuits.Residual}
	c.HomeRun, c.Jumper, c.Home, c.Link = o.home.rating, o.link.rating, o.home.run, o.link.run
	for i := range panels {
		r.Panels = append(r.Panels, rig.Panel{Column: 1, Row: i + 1})
		c.Panels = append(c.Panels, i)
	}
	r.Circuits = []rig.Circuit{c}
	return r
}

func plural(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return fmt.Sprintf("%d %ss", n, word)
}
