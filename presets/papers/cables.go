package papers

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"

	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// piece is so many lengths of one cable between the same kind of ends.
type piece struct {
	what     string // feeder, home run, jumper, data
	of       string // board, circuit or data run
	from, to string
	run      *rig.Run // nil where the rig says nothing of it
	rated    units.Amps
	n        int
}

const notGiven = "not given"

// pieces lists all cables: feeders, home runs, jumpers, data.
func (s *sheet) pieces() []piece {
	var all []piece
	for i, b := range s.rig.Boards {
		p := piece{"feeder", "board " + b.Name, s.sourceOf(i), "board " + b.Name, b.Feeder, b.Carries, 1}
		if b.Feeder != nil {
			p.n = max(1, b.Feeder.Sets)
			p.rated /= units.Amps(p.n)
		}
		all = append(all, p)
	}
	for _, c := range s.rig.Circuits {
		from := fmt.Sprintf("board %s %s", s.rig.Boards[c.Board].Name, numbers(c.Poles))
		all = append(all, piece{"home run", "circuit " + c.Name, from, s.rig.PanelName(c.Panels[0]), c.Home, c.HomeRun, 1})
		if n := len(c.Panels) - 1; n > 0 {
			all = append(all, piece{"jumper", "circuit " + c.Name, s.rig.PanelName(c.Panels[0]), s.rig.PanelName(c.Panels[n]), c.Link, c.Jumper, n})
		}
	}
	for _, i := range s.patchOrder() {
		d := s.rig.DataRuns[i]
		first, last := s.rig.PanelName(d.Panels[0]), s.rig.PanelName(d.Panels[len(d.Panels)-1])
		from := fmt.Sprintf("%s port %d", s.rig.Processors[d.Processor].Name, d.Port)
		all = append(all, piece{"data to the wall", "data run " + d.Name, from, first, nil, 0, 1})
		if n := len(d.Panels) - 1; n > 0 {
			all = append(all, piece{"data from panel to panel", "data run " + d.Name, first, last, nil, 0, n})
		}
	}
	return all
}

// cable and length in words.
func (s *sheet) made(p piece) (cable, length string) {
	if p.run == nil {
		return notGiven, notGiven
	}
	return s.cableWords(p.run.Cable), number(p.run.Length, 2)
}

// shortly is the same with no more than the cable's name.
func (s *sheet) shortly(run *rig.Run) (cable, length string) {
	if run == nil {
		return notGiven, notGiven
	}
	return s.rig.Cables[run.Cable].Name, number(run.Length, 2)
}

func (s *sheet) cableWords(cable int) string {
	c := s.rig.Cables[cable]
	return fmt.Sprintf("%s (%v %v)", c.Name, c.Size, c.Stranding)
}

func rated(p piece) string {
	if p.rated == 0 {
		return ""
	}
	return number(p.rated, 1)
}

// cables makes the cable list: counts and power cables on the page, every piece in the file.
func (s *sheet) cables() part {
	f := table{name: "cables.csv", Columns: columns("what", "of", "from", "to, or along to", "pieces>", "cable", "each m>", "rated A>")}
	for _, p := range s.pieces() {
		cable, length := s.made(p)
		f.add(p.what, p.of, p.from, p.to, strconv.Itoa(p.n), cable, length, rated(p))
	}
	counts := s.cableCounts()
	counts.Caption = "Counts by cable and length"
	return part{section{Title: "Cable list", Tables: []table{counts, s.feeders(), s.circuitCables()}, Intro: []string{
		"Lengths are one way, as the rig has them, without slack. Jumpers go from each panel of a circuit to the next. Where the rig names no cable, it is not given here either; " +
			"ratings are those of the rig. Data cables are in the patch list, in order; cables.csv has every piece.",
	}}, f}
}

func (s *sheet) feeders() table {
	t := table{Caption: "Feeders", Columns: columns("board", "from", "cable", "m>", "sets>", "rated A, all sets>")}
	for i, b := range s.rig.Boards {
		cable, length, sets, carries := notGiven, notGiven, "", ""
		if b.Feeder != nil {
			cable, length, sets = s.cableWords(b.Feeder.Cable), number(b.Feeder.Length, 2), strconv.Itoa(max(1, b.Feeder.Sets))
		}
		if b.Carries > 0 {
			carries = number(b.Carries, 1)
		}
		t.add(b.Name, s.sourceOf(i), cable, length, sets, carries)
	}
	return t
}

// circuitCables lists each circuit's home run and jumpers in one row.
func (s *sheet) circuitCables() table {
	t := table{Caption: "Home runs and jumpers", Columns: columns("circuit", "from", "home run to", "cable", "m>", "rated A>", "jumpers>", "cable", "each m>", "rated A>", "last panel")}
	for _, c := range s.rig.Circuits {
		n := len(c.Panels) - 1
		from := fmt.Sprintf("%s %s", s.rig.Boards[c.Board].Name, numbers(c.Poles))
		home, homeLength := s.shortly(c.Home)
		link, linkLength := s.shortly(c.Link)
		row := []string{c.Name, from, s.rig.PanelName(c.Panels[0]), home, homeLength, number(c.HomeRun, 1), strconv.Itoa(n), "", "", "", s.rig.PanelName(c.Panels[n])}
		if n > 0 {
			row[7], row[8], row[9] = link, linkLength, number(c.Jumper, 1)
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// cableCounts counts cables by what they are and how long.
func (s *sheet) cableCounts() table {
	t := table{Columns: columns("what", "cable", "each m>", "pieces>", "all m>")}
	type kind struct {
		what, cable string
		length      units.Metres
		given       bool
		n           int
	}
	var kinds []kind
	at := map[kind]int{}
	for _, p := range s.pieces() {
		k := kind{what: p.what, cable: notGiven}
		if p.run != nil {
			k.cable, k.length, k.given = s.cableWords(p.run.Cable), p.run.Length, true
		}
		i, ok := at[k]
		if !ok {
			i, at[k] = len(kinds), len(kinds)
			kinds = append(kinds, k)
		}
		kinds[i].n += p.n
	}
	slices.SortStableFunc(kinds, func(a, b kind) int { return cmp.Or(cmp.Compare(a.cable, b.cable), cmp.Compare(a.length, b.length)) })
	for _, k := range kinds {
		each, all := notGiven, notGiven
		if k.given {
			each, all = number(k.length, 2), number(float64(k.length)*float64(k.n), 2)
		}
		t.add(k.what, k.cable, each, strconv.Itoa(k.n), all)
	}
	return t
}
