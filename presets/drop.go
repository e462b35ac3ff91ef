package presets

import (
	"fmt"
	"math"
	"slices"

	"lookgate/presets/finding"
	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// Usual limits of voltage drop: 3 % in a branch circuit and 5 % from the service to the last outlet (NEC 210.19(A) and 215.2(A), informational notes). They are
// advice. A panel's own supply works far below; what drop costs is current, heat in the cable, and the margin that the supply's own sag needs.
const (
	usualCircuitDrop units.Share = 0.03
	usualTotalDrop   units.Share = 0.05
)

// Drop is where a look loses the most voltage on the way to a panel, with everything that it may light at its cap.
type Drop struct {
	Circuit  int         // the circuit that loses the most of what its board has
	Begins   units.Volts // the voltage that its home run begins with
	InIt     units.Share // what part of that it loses
	Farthest int         // the circuit at whose last panel the least of the supply's voltage is left
	Sent     units.Volts // that its home run begins with
	Volts    units.Volts // that is left there
	Total    units.Share // what part of the supply's voltage is lost there
}

// dropLimits gives the rig's limits, or the usual ones.
func (p *Plan) dropLimits() (circuit, total units.Share) {
	circuit, total = p.Rig.Drop.Circuit, p.Rig.Drop.Total
	if circuit == 0 {
		circuit = usualCircuitDrop
	}
	if total == 0 {
		total = usualTotalDrop
	}
	return circuit, total
}

// drop gives where the most is lost at those levels, and whether anything is.
func (p *Plan) drop(levels []units.Level, c Conditions) (Drop, bool) {
	if !p.Power.Drops() {
		return Drop{}, false
	}
	var f power.Flow
	p.Power.Flow(power.State{Levels: levels, LockedOff: c.LockedOff}, &f)
	d := Drop{Circuit: -1, Farthest: -1}
	for i, of := range p.Rig.Circuits {
		if c.LockedOff != nil && c.LockedOff[i] || len(of.Panels) == 0 || slices.Contains(f.Collapsed, i) {
			continue
		}
		last := f.Panel[of.Panels[len(of.Panels)-1]].Volts
		in, total := units.Share(1-float64(last)/float64(f.Sent(i))), p.Power.Lost(i, last)
		if d.Circuit < 0 || in > d.InIt {
			d.Circuit, d.Begins, d.InIt = i, f.Sent(i), in
		}
		if d.Farthest < 0 || total > d.Total {
			d.Farthest, d.Total, d.Sent, d.Volts = i, total, f.Sent(i), last
		}
	}
	return d, d.Circuit >= 0
}

// dropOver finds a circuit, and a way from the supply to a last panel, that lose more than the rig's limits. Only the worst of each is told.
func (p *Plan) dropOver(d Drop) []finding.Finding {
	var fs []finding.Finding
	most, total := p.dropLimits()
	if d.InIt > most {
		c := p.Rig.Circuits[d.Circuit]
		f := finding.New(finding.DropOver, finding.Place{Kind: rig.CircuitWire.String(), Name: c.Name},
			fmt.Sprintf("at its last panel, %s, %s of its board's voltage is lost, of at most %v", p.panelName(last(c.Panels)), parts(d.InIt, most), most))
		f.Computed, f.Limit = units.InShare(d.InIt), units.InShare(most)
		f.Remedies = p.lessDrop(d.Circuit, d.Begins, most)
		fs = append(fs, f)
	}
	if d.Total > total {
		c := p.Rig.Circuits[d.Farthest]
		f := finding.New(finding.DropTotal, finding.Place{Kind: rig.CircuitWire.String(), Name: c.Name},
			fmt.Sprintf("at its last panel, %s, %v are left: %s of the supply's voltage is lost, of at most %v", p.panelName(last(c.Panels)), d.Volts, parts(d.Total, total), total))
		f.Computed, f.Limit = units.InShare(d.Total), units.InShare(total)
		left := (1 - total) * units.Share(float64(p.Rig.Supply.Volts(len(c.Poles)))/float64(d.Sent))
		if f.Remedies = p.lessDrop(d.Farthest, d.Sent, 1-left); len(f.Remedies) == 0 {
			f.Remedies = []finding.Remedy{later("shorter or larger feeders")}
		}
		fs = append(fs, f)
	}
	return fs
}

func last(list []int) int { return list[len(list)-1] }

// parts prints a share so that it cannot be taken for its limit.
func parts(s, limit units.Share) string {
	if s.String() == limit.String() {
		return "a little more than " + s.String()
	}
	return s.String()
}

// panelName gives a panel as people name it: "bay C3R1".
func (p *Plan) panelName(panel int) string {
	at := p.Rig.Panels[panel]
	return fmt.Sprintf("%s C%dR%d", p.Rig.Walls[at.Wall].Name, at.Column, at.Row)
}

// lessDrop says what cabling would keep a circuit within its limit of drop at full white, which is what cables are chosen for.
func (p *Plan) lessDrop(circuit int, sent units.Volts, most units.Share) []finding.Remedy {
	alone := p.alone(circuit, sent)
	c := &alone.Circuits[0]
	var ways []finding.Remedy
	if c.Home != nil {
		length := float64(c.Home.Length)
		half := lastThatPasses(int(2*length), func(k int) bool {
			c.Home.Length = units.Metres(k) / 2
			return lostIn(alone) <= most
		})
		c.Home.Length = units.Metres(length)
		if half > 0 {
			ways = append(ways, later("a home run of at most %v", units.Metres(half)/2))
		}
	}
	if n := p.fewerPanels(alone, most); n > 0 {
		ways = append(ways, later("move the last %d of its %d panels to another circuit", n, len(c.Panels)))
	}
	return ways
}

// fewerPanels gives how many panels at the end of the only circuit of a rig are too many for a limit of drop; 0 where none need go or all would have to.
func (p *Plan) fewerPanels(alone *rig.Rig, most units.Share) int {
	panels := alone.Circuits[0].Panels
	defer func() { alone.Circuits[0].Panels = panels }()
	n := lastThatPasses(len(panels)-1, func(k int) bool {
		alone.Circuits[0].Panels = panels[:k+1]
		return lostIn(alone) <= most
	})
	if n < 0 {
		return 0
	}
	return len(panels) - 1 - n
}

// alone gives the rig with one circuit on a board of its own, straight at a supply that gives it the voltage that its board has.
func (p *Plan) alone(circuit int, sent units.Volts) *rig.Rig {
	r := *p.Rig
	c := r.Circuits[circuit]
	part := sent / r.Supply.Volts(len(c.Poles))
	r.Supply.LineNeutral, r.Supply.LineLine = r.Supply.LineNeutral*part, r.Supply.LineLine*part
	if c.Home != nil {
		home := *c.Home
		c.Home = &home
	}
	b := r.Boards[c.Board]
	b.From, b.Feeder, c.Board = 0, nil, 0
	r.Panels = nil
	var chain []int
	for k, panel := range c.Panels {
		r.Panels, chain = append(r.Panels, p.Rig.Panels[panel]), append(chain, k)
	}
	c.Panels = chain
	r.Boards, r.Circuits, r.Outputs, r.Loads = []rig.Board{b}, []rig.Circuit{c}, nil, nil
	return &r
}

// lostIn gives what part of its voltage the only circuit of a rig loses at full white.
func lostIn(r *rig.Rig) units.Share {
	var f power.Flow
	m := power.New(r)
	m.Flow(power.State{}, &f)
	if len(f.Collapsed) > 0 {
		return units.Share(math.Inf(1))
	}
	return m.Lost(0, f.Panel[last(r.Circuits[0].Panels)].Volts)
}

// collapsed finds the circuits that have no working point at those levels: more is asked of them than can arrive, and their panels' supplies would go on and off.
func (p *Plan) collapsed(levels []units.Level, c Conditions) []finding.Finding {
	if !p.Power.Fragile() {
		return nil
	}
	var fs []finding.Finding
	var f power.Flow
	p.Power.Flow(power.State{Levels: levels, LockedOff: c.LockedOff}, &f)
	for _, i := range f.Collapsed {
		of := finding.New(finding.Collapse, finding.Place{Kind: rig.CircuitWire.String(), Name: p.Rig.Circuits[i].Name},
			"its cables cannot bring its panels the power that is asked of them: voltage would break down along the chain")
		if of.Remedies = p.lessDrop(i, p.Rig.Supply.Volts(len(p.Rig.Circuits[i].Poles)), 1); len(of.Remedies) == 0 {
			of.Remedies = []finding.Remedy{later("shorter or larger feeders, home runs and jumpers")}
		}
		fs = append(fs, of)
	}
	return fs
}

// undescribed says for how many circuits drop is not assessed, since the rig does not describe their cables.
func (p *Plan) undescribed() []finding.Finding {
	n := 0
	for _, c := range p.Rig.Circuits {
		if c.Home == nil || c.Link == nil && len(c.Panels) > 1 {
			n++
		}
	}
	boards := 0
	for _, b := range p.Rig.Boards {
		if b.Feeder == nil {
			boards++
		}
	}
	if n+boards == 0 {
		return nil
	}
	f := finding.New(finding.Unassessed, finding.Place{Kind: "site", Name: p.Rig.Name}, fmt.Sprintf(
		"voltage drop counts as none on ways that the rig does not describe: home run or jumpers of %s, feeders of %s",
		counted(n, "circuit"), counted(boards, "board")))
	f.Remedies = []finding.Remedy{later("give cables and lengths in the rig")}
	return []finding.Finding{f}
}

func counted(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
