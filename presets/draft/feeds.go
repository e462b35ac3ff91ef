package draft

import (
	"fmt"
	"strings"
)

// feed is how one wall's circuits are made.
type feed struct {
	option
	walk
	columns bool    // each is so many columns, else so many panels
	each    int     // of these
	chains  [][]int // panels, in feeding order
	bounds  Count
	against []string // why other breakers or poles are not
	other   string   // what the other number of poles would make
}

// choices are the feeds that a wall can have: the best with breakers of one pole, and with two.
type choices []feed

// chooseFeeds chooses for every wall: as few circuits as can be on the poles that there are, then as few poles, then small breakers.
func (p *planner) chooseFeeds() error {
	all := make([]choices, len(p.rig.Walls))
	for wall := range p.rig.Walls {
		c, err := p.choicesOf(wall)
		if err != nil {
			return err
		}
		all[wall] = c
	}
	if feeds, ok := p.fewest(all); ok {
		p.feeds = feeds
		return nil
	}
	return p.tooManyPoles(all)
}

// choicesOf gives a wall's best feed for each number of poles.
func (p *planner) choicesOf(wall int) (choices, error) {
	options, against := p.optionsOf(wall)
	name := p.rig.Walls[wall].Name
	if len(options) == 0 {
		return nil, impossible(p.otherBreakers(wall), "wall %s: no circuit can be made: %s", name, strings.Join(against, "; "))
	}
	best := choices{}
	var shapes []error
	for _, poles := range []int{1, 2} {
		found := false
		var f feed
		for _, o := range options {
			if o.poles != poles {
				continue
			}
			g, err := p.lay(wall, o)
			if err != nil {
				shapes = append(shapes, err)
				continue
			}
			if !found || len(g.chains) < len(f.chains) || len(g.chains) == len(f.chains) && g.columns && !f.columns {
				f, found = g, true
			}
		}
		if found {
			f.against = against
			best = append(best, f)
		}
	}
	if len(best) == 2 {
		best[0].other, best[1].other = best[1].instead(), best[0].instead()
	}
	if len(best) == 0 {
		return nil, shapes[len(shapes)-1] // of the largest breaker with the most poles
	}
	return best, nil
}

// instead says what a feed would make.
func (f feed) instead() string {
	return fmt.Sprintf("With breakers of %s it would be %s of at most %d panels on %d places.", plural(f.poles, "pole"), plural(len(f.chains), "circuit"), longest(f.chains), len(f.chains)*f.poles)
}

// otherBreakers says what would make a circuit possible.
func (p *planner) otherBreakers(wall int) string {
	t, c := p.typeOf(wall), p.brief.Circuits
	least := 0.0
	for _, poles := range []int{2, 1} {
		if p.noPoles(poles) == "" {
			least = float64(t.White) / (float64(p.rig.Supply.Volts(poles)) * float64(t.PF) * float64(p.brief.Factor))
			break
		}
	}
	if least == 0 {
		return "give poles_each and a supply that belong together, or highest_v as the panels' maker has it"
	}
	most := min(t.FeedThrough, p.strongest(c.Home), p.strongest(c.Link))
	if least > float64(most) {
		return fmt.Sprintf("one panel takes a breaker of at least %.1f A, and home run, jumpers and feed-throughs that bear it: one of them is rated %s", least, amps(most))
	}
	return fmt.Sprintf("name a breaker of %.1f A to %s under breakers_a; or shorter ways, where these bind", least, amps(most))
}

// lay cuts a wall into chains that an option carries: in the way that the brief asks for, or else whole columns where these need no more circuits.
func (p *planner) lay(wall int, o option) (feed, error) {
	w, g := p.rig.Walls[wall], p.grid(wall)
	f := feed{option: o, bounds: p.boundsOf(wall, o)}
	ways, err := p.shapes(wall, o)
	if err != nil {
		return f, err
	}
	found := false
	for _, shape := range ways {
		for _, walk := range p.walksOf(wall) {
			chains := shape.cut(walk, g)
			if p.anyJumps(chains) || longest(chains) > o.carries || found && len(chains) >= len(f.chains) {
				continue
			}
			f.walk, f.columns, f.each, f.chains, found = walk, shape.columns, shape.each, chains, true
		}
	}
	if !found {
		return f, impossible("make two walls of it where its gaps divide it, or give another start", "wall %s: going up one column and down the next, a chain would have to jump over its gaps", w.Name)
	}
	return f, nil
}

// shape is how a wall may be cut.
type shape struct {
	columns bool
	each    int
}

func (s shape) cut(w walk, g [][]int) [][]int {
	if s.columns {
		return w.byColumns(g, s.each)
	}
	return w.byPanels(g, s.each)
}

// shapes lists the cuts that may be made, the one that is liked best first: of two that need as many circuits it is taken.
func (p *planner) shapes(wall int, o option) ([]shape, error) {
	w, wish := p.rig.Walls[wall], p.brief.Wishes[wall]
	whole := p.wholeColumns(wall, o)
	switch {
	case wish.Columns > 0 && wish.Columns > whole:
		return nil, impossible(fmt.Sprintf("ask for columns_each: %d or fewer, or leave it out; or name a larger breaker that the cables bear", max(whole, 1)),
			"wall %s: %s are %d panels, and a circuit carries %d (%s)", w.Name, plural(wish.Columns, "column"), wish.Columns*w.Rows, o.carries, o.binds)
	case wish.Columns > 0:
		return []shape{{true, wish.Columns}}, nil
	case wish.Columns < 0 && whole == 0:
		return nil, impossible("leave columns_each out, so that circuits may end within a column; or name a larger breaker that the cables bear",
			"wall %s: a column is %d panels, and a circuit carries %d (%s)", w.Name, w.Rows, o.carries, o.binds)
	case wish.Columns < 0:
		return []shape{evenColumns(w.Columns, whole)}, nil
	case wish.Panels > o.carries:
		return nil, impossible(fmt.Sprintf("ask for panels_each: %d or fewer, or leave it out; or name a larger breaker that the cables bear", o.carries),
			"wall %s: a circuit of %d panels is asked for, and it carries %d (%s)", w.Name, wish.Panels, o.carries, o.binds)
	case wish.Panels > 0:
		return []shape{{false, wish.Panels}}, nil
	}
	n := p.panelsOn(wall)
	even := ceil(n, ceil(n, o.carries)) // as long as each other as far as a rule can say
	all := []shape{{false, even}, {false, o.carries}}
	if whole > 0 {
		all = append([]shape{evenColumns(w.Columns, whole)}, all...)
	}
	return all, nil
}

// wholeColumns gives how many whole columns of a wall a circuit carries.
func (p *planner) wholeColumns(wall int, o option) int {
	return min(o.carries/p.tallest(wall), p.rig.Walls[wall].Columns)
}

// tallest gives the panels of the column that has the most.
func (p *planner) tallest(wall int) int {
	most := 1
	for _, c := range p.grid(wall) {
		n := 0
		for _, panel := range c {
			if panel >= 0 {
				n++
			}
		}
		most = max(most, n)
	}
	return most
}

func evenColumns(columns, most int) shape { return shape{true, ceil(columns, ceil(columns, most))} }

func (p *planner) boundsOf(wall int, o option) Count {
	c := Count{Carries: o.carries, ByPanels: ceil(p.panelsOn(wall), o.carries)}
	if whole := p.wholeColumns(wall, o); whole > 0 {
		c.ByColumn = ceil(p.rig.Walls[wall].Columns, whole)
	}
	return c
}

func (p *planner) panelsOn(wall int) int {
	n := 0
	for _, panel := range p.rig.Panels {
		if panel.Wall == wall {
			n++
		}
	}
	return n
}

func longest(chains [][]int) int {
	n := 0
	for _, c := range chains {
		n = max(n, len(c))
	}
	return n
}

func ceil(a, b int) int { return (a + b - 1) / b }

// manyWalls is where trying every mixture of one and two poles over the walls ends; beyond it all walls have the fewest circuits, or all the fewest poles.
const manyWalls = 12

// fewest chooses among the walls' feeds so that the boards at hand have the poles: the fewest circuits, then the fewest poles.
func (p *planner) fewest(all []choices) ([]feed, bool) {
	var best []feed
	least, poles := 0, 0
	try := func(pick func(wall int) feed) {
		feeds := make([]feed, len(all))
		ones, twos := 0, 0
		for wall := range all {
			feeds[wall] = pick(wall)
			if n := len(feeds[wall].chains); feeds[wall].poles == 2 {
				twos += n
			} else {
				ones += n
			}
		}
		n, places := ones+twos, ones+2*twos
		if p.room(ones, twos) && (best == nil || n < least || n == least && places < poles) {
			best, least, poles = feeds, n, places
		}
	}
	if len(all) <= manyWalls {
		for mixture := range 1 << len(all) {
			try(func(wall int) feed { return all[wall][min(mixture>>wall&1, len(all[wall])-1)] })
		}
		return best, best != nil
	}
	for poles := range 2 {
		try(func(wall int) feed { return all[wall][min(poles, len(all[wall])-1)] })
	}
	try(func(wall int) feed { return all[wall].leastCircuits() })
	return best, best != nil
}

func (c choices) leastCircuits() feed {
	best := c[0]
	for _, f := range c[1:] {
		if len(f.chains) < len(best.chains) {
			best = f
		}
	}
	return best
}

// room reports whether the boards at hand have places for so many breakers of one pole and of two.
func (p *planner) room(ones, twos int) bool {
	places, pairs := 0, 0
	for _, b := range p.rig.Boards {
		places += b.Poles
		pairs += pairsOf(b)
	}
	return twos <= pairs && ones <= places-2*twos
}

// tooManyPoles says how many places are missing.
func (p *planner) tooManyPoles(all []choices) error {
	places, ones, twos, least := 0, 0, 0, 0
	for _, b := range p.rig.Boards {
		places += b.Poles
	}
	for _, c := range all {
		f := c[0]
		if n := len(f.chains); f.poles == 2 {
			twos += n
		} else {
			ones += n
		}
		least += len(f.chains) * f.poles
	}
	return impossible("name another board or one with more places under boards, larger breakers that the cables bear, or fewer panels",
		"the walls need %s for %s, and the boards at hand have %d", plural(least, "place"), circuitsOf(ones, twos), places)
}

func circuitsOf(ones, twos int) string {
	switch {
	case twos == 0:
		return plural(ones, "circuit") + " of one pole"
	case ones == 0:
		return plural(twos, "circuit") + " of two poles"
	default:
		return fmt.Sprintf("%s of one pole and %d of two", plural(ones, "circuit"), twos)
	}
}
