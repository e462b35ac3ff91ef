package draft

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// stand is what circuits have in common that are alike for the legs: board, legs, panel type and length.
type stand struct {
	board  int
	legs   [2]int // the second is -1 for one pole
	kind   int    // panel type
	panels int
}

func (s stand) poles() int {
	if s.legs[1] < 0 {
		return 1
	}
	return 2
}

// standOf gives what a circuit is for the legs, at its place.
func (p *planner) standOf(c circuit) stand {
	return stand{c.at.board, p.legsOf(c.at), p.rig.Walls[c.wall].Type, len(c.panels)}
}

// legsOf gives the legs of a place, ascending.
func (p *planner) legsOf(at place) [2]int {
	b := p.rig.Boards[at.board]
	legs := [2]int{b.LegOf(at.poles[0], p.rig.Supply.System), -1}
	if len(at.poles) == 2 {
		second := b.LegOf(at.poles[1], p.rig.Supply.System)
		legs = [2]int{min(legs[0], second), max(legs[0], second)}
	}
	return legs
}

// score is how good a plan stands, worst thing first: how far the most loaded conductor is over its limit, the supply's most loaded leg, the boards' most loaded
// legs, and how far all of them are from even.
type score [4]float64

func (s score) better(than score) bool {
	for i := range s {
		if d := s[i] - than[i]; math.Abs(d) > 1e-9*(1+math.Abs(than[i])) {
			return d < 0
		}
	}
	return false
}

// evener brings the most loaded legs down by moves that change which circuits stand where.
type evener struct {
	*planner
	nodes []node // the boards that are used, then the supply
	used  [][]bool
	score score
}

// node is a board or the supply with its legs.
type node struct {
	under []int // boards whose circuits load it
	legs  []float64
	share float64 // of the limit of its most loaded conductor
	limit float64 // of a leg
}

// even moves circuits until no change of place of one, two or three of them is better. It gives the share of its limit that the most loaded conductor carries at
// full white, 1 where none is over, and how many changes there were.
func (p *planner) even() (over float64, changes int) {
	e := p.evener()
	for e.move() || e.swap() || e.turn() {
		changes++
	}
	return e.score[0], changes
}

// evener makes what moves circuits, with the currents as they stand.
func (p *planner) evener() *evener {
	e := &evener{planner: p}
	for b := range p.boards {
		n := node{limit: float64(p.rig.Boards[b].Main) * float64(p.rig.Boards[b].Factor)}
		for k := range p.boards {
			if p.hangs(k, b) {
				n.under = append(n.under, k)
			}
		}
		e.nodes = append(e.nodes, n)
		e.used = append(e.used, make([]bool, p.rig.Boards[b].Poles+1))
	}
	supply := node{limit: float64(p.rig.Supply.Main) * float64(p.rig.Supply.Factor)}
	for b := range p.boards {
		supply.under = append(supply.under, b)
	}
	e.nodes = append(e.nodes, supply)
	for _, c := range p.circuits {
		e.mark(c.at, true)
	}
	e.judge(nil)
	return e
}

// hangs reports whether board k is board b or fed by it.
func (p *planner) hangs(k, b int) bool {
	for k != b {
		from, fed := p.rig.Fed(k)
		if !fed {
			return false
		}
		k = from
	}
	return true
}

func (e *evener) mark(at place, used bool) {
	for _, pole := range at.poles {
		e.used[at.board][pole] = used
	}
}

// judge computes the nodes that some boards load, all for nil, and the score.
func (e *evener) judge(boards []int) {
	for i := range e.nodes {
		n := &e.nodes[i]
		if boards == nil || slices.ContainsFunc(boards, func(b int) bool { return slices.Contains(n.under, b) }) {
			e.load(n, i)
		}
	}
	e.score = score{1}
	for i, n := range e.nodes {
		most := slices.Max(n.legs)
		e.score[0] = max(e.score[0], n.share)
		if i == len(e.nodes)-1 {
			e.score[1] = most
		} else {
			e.score[2] += most / n.limit
		}
		for _, a := range n.legs {
			e.score[3] += a * a / (n.limit * n.limit)
		}
	}
}

// load computes a node's conductors by the model of the plant: a small rig of one board, on which circuits that are alike are one.
func (e *evener) load(n *node, index int) {
	m := power.New(e.lumped(n.under, index))
	n.legs, n.share = n.legs[:0], 0
	worst := m.Worst(power.State{}, nil)
	for i, c := range m.Conductors() {
		if c.Circuit >= 0 || (c.Board == 0) == (index == e.boards) {
			continue
		}
		n.share = max(n.share, float64(worst[i])/float64(c.Limit))
		if c.Kind == rig.BoardLeg || c.Kind == rig.SupplyLeg {
			n.legs = append(n.legs, float64(worst[i]))
		}
	}
}

// lumped makes a rig of one board, with the limits of a node, and the circuits of the boards under it.
func (e *evener) lumped(under []int, index int) *rig.Rig {
	r := &rig.Rig{Supply: e.rig.Supply}
	b := rig.Board{Name: "b", Numbering: rig.ByWays, Poles: 6, Main: 1e9, Neutral: 1e9, Factor: 1}
	if index < e.boards {
		of := e.rig.Boards[index]
		b.Main, b.Neutral, b.Factor = of.Main, of.Neutral, of.Factor
	}
	r.Boards = []rig.Board{b}
	for _, l := range e.lumps(under) {
		t := e.rig.PanelTypes[l.kind]
		t.White *= units.Watts(l.panels)
		t.Black *= units.Watts(l.panels)
		c := rig.Circuit{Name: "c", Breaker: 1e9, Factor: 1, HomeRun: 1e9, Jumper: 1e9, Poles: []int{l.legs[0] + 1}, Panels: []int{len(r.Panels)}}
		if l.legs[1] >= 0 {
			c.Poles = append(c.Poles, l.legs[1]+1)
		}
		r.Panels = append(r.Panels, rig.Panel{Type: len(r.PanelTypes)})
		r.PanelTypes = append(r.PanelTypes, t)
		r.Circuits = append(r.Circuits, c)
	}
	return r
}

// lumps adds up the circuits of some boards by legs and panel type.
func (e *evener) lumps(under []int) []stand {
	var out []stand
	for _, c := range e.circuits {
		if !slices.Contains(under, c.at.board) {
			continue
		}
		s := e.standOf(c)
		i := slices.IndexFunc(out, func(o stand) bool { return o.legs == s.legs && o.kind == s.kind })
		if i < 0 {
			s.board = 0
			out = append(out, s)
			continue
		}
		out[i].panels += s.panels
	}
	return out
}

// kinds lists one circuit, the last, of each stand, in a fixed order.
func (e *evener) kinds() []int {
	var stands []stand
	var last []int
	for i, c := range e.circuits {
		s := e.standOf(c)
		if k := slices.Index(stands, s); k >= 0 {
			last[k] = i
			continue
		}
		stands, last = append(stands, s), append(last, i)
	}
	return last
}

// try changes places and keeps the change where it is better.
func (e *evener) try(circuits []int, places []place) bool {
	was, nodes := e.score, clones(e.nodes)
	old := make([]place, len(circuits))
	var boards []int
	for k, i := range circuits {
		old[k] = e.circuits[i].at
		boards = append(boards, old[k].board, places[k].board)
	}
	e.put(circuits, places)
	e.judge(boards)
	if e.score.better(was) {
		return true
	}
	e.put(circuits, old)
	e.score, e.nodes = was, nodes
	return false
}

func clones(nodes []node) []node {
	out := slices.Clone(nodes)
	for i := range out {
		out[i].legs = slices.Clone(out[i].legs)
	}
	return out
}

func (e *evener) put(circuits []int, places []place) {
	for _, i := range circuits {
		e.mark(e.circuits[i].at, false)
	}
	for k, i := range circuits {
		e.circuits[i].at = places[k]
		e.mark(places[k], true)
	}
}

// move takes one circuit to a free place of its board.
func (e *evener) move() bool {
	for _, i := range e.kinds() {
		for _, at := range e.freePlaces(e.circuits[i]) {
			if e.try([]int{i}, []place{at}) {
				return true
			}
		}
	}
	return false
}

// freePlaces gives the first free place on each other set of legs of a circuit's board.
func (e *evener) freePlaces(c circuit) []place {
	b := e.rig.Boards[c.at.board]
	seen := [][2]int{e.legsOf(c.at)}
	var out []place
	add := func(at place) {
		legs := e.legsOf(at)
		if slices.ContainsFunc(at.poles, func(pole int) bool { return e.used[at.board][pole] }) || slices.Contains(seen, legs) {
			return
		}
		seen, out = append(seen, legs), append(out, at)
	}
	if c.poles == 2 {
		for k := range pairsOf(b) {
			add(place{c.at.board, pair(b, k)})
		}
		return out
	}
	for pole := 1; pole <= b.Poles; pole++ {
		add(place{c.at.board, []int{pole}})
	}
	return out
}

// swap changes the places of two circuits.
func (e *evener) swap() bool {
	kinds := e.kinds()
	for a, i := range kinds {
		for _, j := range kinds[a+1:] {
			c, d := e.circuits[i], e.circuits[j]
			if e.matters(c, d) && e.try([]int{i, j}, []place{d.at, c.at}) {
				return true
			}
		}
	}
	return false
}

// matters reports whether a swap of two circuits can change anything.
func (e *evener) matters(c, d circuit) bool {
	s, t := e.standOf(c), e.standOf(d)
	alike := s.kind == t.kind && s.panels == t.panels
	stay := s.board == t.board && s.legs == t.legs
	return c.poles == d.poles && !alike && !stay
}

// manyKinds is where looking for changes of three circuits ends.
const manyKinds = 16

// turn changes the places of three circuits in a ring.
func (e *evener) turn() bool {
	kinds := e.kinds()
	if len(kinds) > manyKinds {
		return false
	}
	for _, i := range kinds {
		for _, j := range kinds {
			for _, k := range kinds {
				c, d, f := e.circuits[i], e.circuits[j], e.circuits[k]
				if i == j || j == k || i == k || c.poles != d.poles || d.poles != f.poles {
					continue
				}
				if e.try([]int{i, j, k}, []place{d.at, f.at, c.at}) {
					return true
				}
			}
		}
	}
	return false
}

// settlePlaces gives circuits that are alike their places on a board in their order, so that rules say most of them.
func (p *planner) settlePlaces() {
	done := make([]bool, len(p.circuits))
	for i, c := range p.circuits {
		if done[i] {
			continue
		}
		var alike []int
		var places []place
		for k := i; k < len(p.circuits); k++ {
			d := p.circuits[k]
			if d.at.board == c.at.board && d.wall == c.wall && len(d.panels) == len(c.panels) {
				alike, places, done[k] = append(alike, k), append(places, d.at), true
			}
		}
		slices.SortFunc(places, func(a, b place) int { return p.comparePlaces(a, b) })
		for n, k := range alike {
			p.circuits[k].at = places[n]
		}
	}
}

// comparePlaces orders places of one board as a rule takes them: of two poles down the board, left before right.
func (p *planner) comparePlaces(a, b place) int {
	if len(a.poles) == 2 && p.rig.Boards[a.board].Numbering == rig.OddEven {
		return cmp.Or(cmp.Compare((a.poles[0]-1)/4, (b.poles[0]-1)/4), cmp.Compare(a.poles[0], b.poles[0]))
	}
	return cmp.Compare(a.poles[0], b.poles[0])
}

// amps prints a rating as it stands on a breaker.
func amps(a units.Amps) string { return fmt.Sprintf("%v A", float64(a)) }
