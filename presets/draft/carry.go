package draft

import (
	"fmt"
	"math"

	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// option is one way to make a wall's circuits: breaker and poles, and how many of the wall's panels one of them carries at full white.
type option struct {
	breaker units.Amps
	poles   int
	carries int
	binds   string // what keeps it from carrying one more
}

// optionsOf lists what a wall's circuits can be made of, smallest breakers first, those with one pole before those with two; and what speaks against the others.
func (p *planner) optionsOf(wall int) (options []option, against []string) {
	t := p.typeOf(wall)
	for _, poles := range []int{1, 2} {
		if why := p.noPoles(poles); why != "" {
			if asked := p.brief.Circuits.Poles; asked == 0 || asked == poles {
				against = append(against, why)
			}
			continue
		}
		for _, breaker := range p.brief.Circuits.Breakers {
			if rating, what := p.weakest(t); rating < breaker {
				against = append(against, fmt.Sprintf("a breaker of %s does not protect the %s, rated %s", amps(breaker), what, amps(rating)))
				continue
			}
			o := p.carry(wall, breaker, poles)
			if o.carries < 1 {
				against = append(against, o.binds)
				continue
			}
			options = append(options, o)
		}
	}
	return options, against
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

// weakest gives the lowest rating behind a breaker and what has it.
func (p *planner) weakest(t rig.PanelType) (units.Amps, string) {
	rating, what := p.brief.Circuits.HomeRun, "home run"
	if p.brief.Circuits.Jumper < rating {
		rating, what = p.brief.Circuits.Jumper, "jumpers"
	}
	if t.FeedThrough < rating {
		rating, what = t.FeedThrough, fmt.Sprintf("feed-through of %s", t.Name)
	}
	return rating, what
}

// carry finds how many of a wall's panels a circuit carries: what the model of the whole plant says of one circuit by itself.
func (p *planner) carry(wall int, breaker units.Amps, poles int) option {
	t, s := p.typeOf(wall), p.rig.Supply
	limit := float64(breaker) * float64(p.factor())
	each := float64(t.White) / (float64(s.Volts(poles)) * float64(t.PF))
	o := option{breaker: breaker, poles: poles}
	o.binds = fmt.Sprintf("breaker %s × %v = %v: at %v a panel draws %.3g A", amps(breaker), p.factor(), units.Amps(limit), s.Volts(poles), each)
	most := 0
	for _, panel := range p.rig.Panels {
		if panel.Wall == wall {
			most++
		}
	}
	n := int(min(math.Floor(limit/each+1e-9), float64(most)))
	for n > 0 && !p.holds(p.single(wall, o, n)) {
		n--
	}
	if makers := p.single(wall, o, n); n > 0 {
		if on := power.New(makers).SwitchOns()[0]; on.Basis == power.MakersRow && on.Most < n {
			n, o.binds = on.Most, fmt.Sprintf("the maker's figure of %s on a breaker of %s", plural(on.Most, "panel"), amps(breaker))
		}
	}
	if least := p.less[wall]; least > 0 {
		n -= least
		o.binds += fmt.Sprintf("; %s fewer for the voltage that is lost on the way", plural(least, "panel"))
	}
	o.carries = n
	return o
}

// factor is the part of a breaker that circuits may use continuously.
func (p *planner) factor() units.Share { return p.brief.Factor }

// holds reports whether the one circuit of a rig stays within its limits at full white.
func (p *planner) holds(r *rig.Rig) bool {
	m := power.New(r)
	worst := m.Worst(power.State{}, nil)
	for i, c := range m.Conductors() {
		if c.Circuit >= 0 && !(worst[i] <= c.Limit) {
			return false
		}
	}
	return true
}

// single makes a rig of one circuit of the first panels of a wall, on a board that nothing else hangs on. No output drives them: they stand at full white.
func (p *planner) single(wall int, o option, panels int) *rig.Rig {
	r := &rig.Rig{Supply: p.rig.Supply, PanelTypes: []rig.PanelType{p.typeOf(wall)}, Walls: []rig.Wall{p.rig.Walls[wall]}}
	r.Boards = []rig.Board{{Name: "b", Numbering: rig.ByWays, Poles: 2, Main: o.breaker, Neutral: o.breaker, Factor: 1}}
	c := p.circuitOf(o)
	for i := range panels {
		r.Panels = append(r.Panels, rig.Panel{Column: 1, Row: i + 1})
		c.Panels = append(c.Panels, i)
	}
	r.Circuits = []rig.Circuit{c}
	return r
}

// circuitOf makes a circuit of an option, without panels, on the first poles of the first board.
func (p *planner) circuitOf(o option) rig.Circuit {
	c := rig.Circuit{Name: "c", Poles: []int{1, 2}[:o.poles], Breaker: o.breaker, Factor: p.factor()}
	c.HomeRun, c.Jumper = p.brief.Circuits.HomeRun, p.brief.Circuits.Jumper
	return c
}

func plural(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return fmt.Sprintf("%d %ss", n, word)
}
