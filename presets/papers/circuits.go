package papers

import (
	"slices"
	"strconv"

	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// circuit is what the schedule says of one circuit, all of its panels at full white.
type circuit struct {
	rig.Circuit
	watts       units.Watts
	va          units.VoltAmps
	amps, limit units.Amps
	by          string
	collapsed   bool
	described   bool // the rig has its cables
	fed         bool // and the feeders of all boards before it
	volts       units.Volts
	drop, total units.Share
}

func (s *sheet) circuit(i int) circuit {
	of := s.rig.Circuits[i]
	c := circuit{Circuit: of, collapsed: slices.Contains(s.flow.Collapsed, i)}
	for _, p := range of.Panels {
		t := s.rig.PanelTypes[s.rig.Panels[p].Type]
		c.watts += t.White
		c.va += units.VoltAmps(float64(t.White) / float64(t.PF))
	}
	for k, wire := range s.plan.Power.Conductors() {
		if wire.Circuit == i && (c.by == "" || wire.Limit < c.limit) {
			c.amps, c.limit, c.by = s.worst[k], wire.Limit, wire.By
		}
	}
	c.described = of.Home != nil && (of.Link != nil || len(of.Panels) < 2)
	c.fed = c.described && s.fed(of.Board)
	c.volts = s.flow.Panel[of.Panels[len(of.Panels)-1]].Volts
	c.drop = units.Share(1 - float64(c.volts)/float64(s.flow.Sent(i)))
	c.total = s.plan.Power.Lost(i, c.volts)
	return c
}

// fed reports whether the rig describes every feeder from the supply to a board.
func (s *sheet) fed(board int) bool {
	for {
		if s.rig.Boards[board].Feeder == nil {
			return false
		}
		from, more := s.rig.Fed(board)
		if !more {
			return true
		}
		board = from
	}
}

// drops prints volts at the last panel, and what is lost in the circuit and in all.
func (c circuit) drops() (volts, drop, total string) {
	volts, drop, total = dash, dash, dash
	switch {
	case c.collapsed:
		return "breaks down", dash, dash
	case c.fed:
		return number(c.volts, 1), percent(c.drop), percent(c.total)
	case c.described:
		drop = percent(c.drop)
	}
	return volts, drop, total
}

// mark tells an overload by a word.
func (c circuit) mark() string {
	if c.amps > c.limit {
		return "over"
	}
	return ""
}

// circuits makes the circuit schedule.
func (s *sheet) circuits() part {
	t := table{Class: "schedule", Columns: columns("circuit", "board", "poles", "legs", "breaker", "RCD", "panels in feeding order", "n>", "W>", "VA>", "A>", "limit A>", "%>", "",
		"V last>", "drop %>", "total %>")}
	f := table{name: "circuits.csv", Columns: columns("circuit", "board", "poles", "legs", "breaker A>", "curve", "residual mA>", "panels>", "full white W>", "full white VA>",
		"full white A>", "limit A>", "limit by", "load %>", "over", "volts at last panel>", "drop in circuit %>", "drop in all %>", "proved", "panels in feeding order")}
	for i := range s.rig.Circuits {
		c := s.circuit(i)
		board, n := s.rig.Boards[c.Board].Name, strconv.Itoa(len(c.Panels))
		volts, drop, total := c.drops()
		load := percent(float64(c.amps) / float64(c.limit))
		t.add(c.Name, board, numbers(c.Poles), s.legs(c.Circuit), breaker(c.Circuit), residual(c.Circuit), s.inOrder(c.Panels), n, number(c.watts, 0), number(c.va, 0), number(c.amps, 1),
			number(c.limit, 1), load, c.mark(), volts, drop, total)
		curve := ""
		if c.Curve != rig.NoCurve {
			curve = c.Curve.String()
		}
		f.add(c.Name, board, numbers(c.Poles), s.legs(c.Circuit), number(c.Breaker, 1), curve, number(1000*c.Residual, 1), n, number(c.watts, 3), number(c.va, 3), number(c.amps, 4),
			number(c.limit, 4), c.by, load, c.mark(), known(volts), known(drop), known(total), s.proofOf(i), s.each(c.Panels))
	}
	return part{section{Title: "Circuit schedule", Tables: []table{t}, Intro: []string{
		"All panels at level 100 % with full white up, the largest load there is. No preset may ask for it where a circuit is over here, or where a board or the supply is over under " +
			"Phase balance. A is at the lowest voltage that the panels can see, drops counted; the limit is the smallest of breaker × continuous factor, home run, jumper and feed-through.",
		s.dropWords(),
	}}, f}
}

func (s *sheet) dropWords() string {
	c, all := s.plan.Rig.Drop.Circuit, s.plan.Rig.Drop.Total
	words := "V last is the voltage at the last panel with everything on at full white; drop is what the circuit loses of its board's voltage, total what is lost from the supply on. " +
		"A dash: the rig does not describe the way."
	if c > 0 && all > 0 {
		words += " The rig's limits are " + c.String() + " and " + all.String() + "."
	}
	return words
}

// known leaves a dash out of a file.
func known(text string) string {
	if text == dash {
		return ""
	}
	return text
}

// proofOf says who saw a circuit's panels go dark, and when; nothing where nobody did.
func (s *sheet) proofOf(circuit int) string {
	if circuit < len(s.proved) {
		return s.proved[circuit]
	}
	return ""
}

// proving makes the list to go round with: a breaker is opened, and exactly these panels go dark.
func (s *sheet) proving() section {
	t := table{Class: "proving", Columns: columns("circuit", "board, poles", "breaker", "these go dark, and no others", "n>", "proved so far", "by", "date")}
	for i, c := range s.rig.Circuits {
		t.add(c.Name, s.rig.Boards[c.Board].Name+", "+numbers(c.Poles), breaker(c), s.rig.PanelNames(c.Panels), strconv.Itoa(len(c.Panels)), s.proofOf(i), "", "")
	}
	return section{Title: "Proving the circuits", Tables: []table{t}, Intro: []string{
		"With the wall dim and all circuits in, whoever may open breakers opens one at a time: exactly the panels named beside it go dark. Where others do, the rig is wrong, and so is every figure here that " +
			"rests on it. Tell lookgate of each one that was proved, and write it down here.",
	}}
}

// panelsFile lists every panel with its circuit, data run and output.
func (s *sheet) panelsFile() File {
	t := table{Columns: columns("wall", "column>", "row>", "type", "circuit", "place on circuit>", "data run", "processor", "port>", "place on data run>", "output")}
	outputs := make([]string, len(s.rig.Panels))
	for _, o := range s.rig.Outputs {
		for _, p := range o.Panels {
			outputs[p] = o.Name
		}
	}
	for i, p := range s.rig.Panels {
		feed, run := s.feeds[i], s.runs[i]
		row := []string{s.rig.Walls[p.Wall].Name, strconv.Itoa(p.Column), strconv.Itoa(p.Row), s.rig.PanelTypes[p.Type].Name, "", "", "", "", "", "", outputs[i]}
		if feed.chain >= 0 {
			row[4], row[5] = s.rig.Circuits[feed.chain].Name, strconv.Itoa(feed.at+1)
		}
		if run.chain >= 0 {
			d := s.rig.DataRuns[run.chain]
			row[6], row[7], row[8], row[9] = d.Name, s.rig.Processors[d.Processor].Name, strconv.Itoa(d.Port), strconv.Itoa(run.at+1)
		}
		t.add(row...)
	}
	return t.file("panels.csv")
}
