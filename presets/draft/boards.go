package draft

import (
	"math"
	"slices"

	"lookgate/presets/rig"
)

// circuit is one circuit of the plan.
type circuit struct {
	wall, index int // index: among the wall's circuits, from 0
	panels      []int
	poles       int
	va          float64 // at full white
	home        int     // the board that its wall's circuits around it are on
	at          place
}

// place is where a breaker stands.
type place struct {
	board int
	poles []int
}

// cut makes the circuits of all walls.
func (p *planner) cut() []circuit {
	var out []circuit
	for wall, f := range p.feeds {
		t := p.typeOf(wall)
		for i, chain := range f.chains {
			va := float64(len(chain)) * float64(t.White) / float64(t.PF)
			out = append(out, circuit{wall: wall, index: i, panels: chain, poles: f.poles, va: va})
		}
	}
	return out
}

// pairsOf gives how many breakers of two poles a board takes, each on two rows of one column or on two ways, from the first on.
func pairsOf(b rig.Board) int {
	if b.Numbering == rig.OddEven {
		left, right := (b.Poles+1)/2, b.Poles/2
		return left/2 + right/2
	}
	return b.Poles / 2
}

// pair gives the k-th place for a breaker of two poles, in the order of a rule: on an odd-even board left and right in turn going down.
func pair(b rig.Board, k int) []int {
	if b.Numbering == rig.OddEven {
		first := 1 + 4*(k/2) + k%2
		return []int{first, first + 2}
	}
	return []int{2*k + 1, 2*k + 2}
}

// allocate gives every circuit its place: on as few boards, in the order of the brief, as carry full white, or as carry the most of it.
func (p *planner) allocate() error {
	bare := slices.Clone(p.circuits)
	var best []circuit
	least := math.Inf(1)
	for n := 1; n <= len(p.rig.Boards) && least > 1; n++ {
		if p.atLeast(n) > p.atLeast(len(p.rig.Boards))*1.02 {
			continue // whichever way, more boards carry more
		}
		p.boards = n
		for _, spread := range []func([]int) bool{p.spreadWalls, p.spread} {
			p.circuits = slices.Clone(bare)
			if !spread(p.byPoles()) {
				continue
			}
			p.place()
			if over, changes := p.even(); over < least*(1-1e-3) {
				best, least, p.moved = p.circuits, over, changes
			}
		}
	}
	if best == nil {
		panic("draft: circuits that have room on all boards together have none on them one by one")
	}
	p.circuits, p.boards = best, 0
	for _, c := range best {
		p.boards = max(p.boards, c.at.board+1)
	}
	p.settlePlaces()
	return nil
}

// atLeast gives the share of its limit that something carries at full white at least, on the first boards: were all legs even, and all boards loaded alike.
func (p *planner) atLeast(boards int) float64 {
	va, strength := 0.0, 0.0
	for _, c := range p.circuits {
		va += c.va
	}
	for _, b := range p.rig.Boards[:boards] {
		strength += p.strength(b)
	}
	s := p.rig.Supply
	whole := p.strength(rig.Board{Main: s.Main, Factor: s.Factor})
	return max(1, va/strength, va/whole)
}

// strength gives the volt-amperes that a board's main carries continuously, all legs alike.
func (p *planner) strength(b rig.Board) float64 {
	amps, s := float64(b.Main)*float64(b.Factor), p.rig.Supply
	if !s.System.HasNeutral() {
		return amps * math.Sqrt(3) * float64(s.LineLine)
	}
	return amps * float64(s.System.Legs()) * float64(s.LineNeutral)
}

// room is what is left of a board while circuits are spread.
type room struct{ pairs, places, va float64 }

// take gives the board a circuit if it has room up to a limit.
func (r *room) take(c circuit, limit float64) bool {
	if c.poles == 2 && r.pairs < 1 || r.places < float64(c.poles) || r.va+c.va > limit {
		return false
	}
	r.places -= float64(c.poles)
	r.va += c.va
	if c.poles == 2 {
		r.pairs--
	}
	return true
}

// rooms gives the room of the boards that are used.
func (p *planner) rooms() []room {
	out := make([]room, p.boards)
	for i := range out {
		out[i] = room{pairs: float64(pairsOf(p.rig.Boards[i])), places: float64(p.rig.Boards[i].Poles)}
	}
	return out
}

// spread gives the circuits to boards wall after wall, at the lowest load of the boards that does. It reports whether the poles suffice.
func (p *planner) spread(order []int) bool {
	high := 1.0
	for !p.fill(order, high) {
		if high *= 2; high > 1e6 {
			return false
		}
	}
	low := 0.0
	for range 40 {
		middle := (low + high) / 2
		if p.fill(order, middle) {
			high = middle
		} else {
			low = middle
		}
	}
	return p.fill(order, high)
}

// byPoles gives the order in which circuits take places: those of two poles first, since the others find places between them.
func (p *planner) byPoles() []int {
	var order []int
	for _, poles := range []int{2, 1} {
		for i, c := range p.circuits {
			if c.poles == poles {
				order = append(order, i)
			}
		}
	}
	return order
}

// fill gives each circuit to the first board that has room up to a share of its strength.
func (p *planner) fill(order []int, share float64) bool {
	rooms := p.rooms()
	for _, i := range order {
		found := false
		for b := range rooms {
			if found = rooms[b].take(p.circuits[i], share*p.strength(p.rig.Boards[b])); found {
				p.circuits[i].home = b
				break
			}
		}
		if !found {
			return false
		}
	}
	return true
}

// manyWays is where trying every way to give walls to boards ends.
const manyWays = 20_000

// spreadWalls tries to keep every wall on one board, and takes the way that loads the boards most alike.
func (p *planner) spreadWalls(order []int) bool {
	walls, ways := len(p.feeds), 1
	for range walls {
		if ways *= p.boards; ways > manyWays {
			return false
		}
	}
	best, least := -1, 1.0
	for way := range ways {
		if r, ok := p.loadOf(order, way); ok && r < least-1e-9 {
			best, least = way, r
		}
	}
	if best < 0 {
		return false
	}
	for i := range p.circuits {
		p.circuits[i].home = p.boardIn(best, p.circuits[i].wall)
	}
	return true
}

// boardIn gives the board of a wall in the way of that number.
func (p *planner) boardIn(way, wall int) int {
	for range wall {
		way /= p.boards
	}
	return way % p.boards
}

// loadOf gives the highest load of a board in a way, as a share of its strength.
func (p *planner) loadOf(order []int, way int) (float64, bool) {
	rooms, most := p.rooms(), 0.0
	for _, i := range order {
		b := p.boardIn(way, p.circuits[i].wall)
		if !rooms[b].take(p.circuits[i], math.Inf(1)) {
			return 0, false
		}
		most = max(most, rooms[b].va/p.strength(p.rig.Boards[b]))
	}
	return most, true
}

// place gives the circuits their poles in the order of a rule: those of two poles from the top, then those of one.
func (p *planner) place() {
	for b, board := range p.rig.Boards[:p.boards] {
		used := make([]bool, board.Poles+1)
		pairs, next := 0, 1
		for _, i := range p.byPoles() {
			c := &p.circuits[i]
			if c.home != b {
				continue
			}
			if c.poles == 2 {
				c.at = place{b, pair(board, pairs)}
				pairs++
				next = c.at.poles[1] + 1
				if board.Numbering == rig.OddEven {
					next = 4*ceil(pairs, 2) + 1
				}
			} else {
				c.at = place{b, []int{free(used, next)}}
				next = c.at.poles[0] + 1
			}
			for _, pole := range c.at.poles {
				used[pole] = true
			}
		}
	}
}

// free gives the first free pole from one on, or else the first of all.
func free(used []bool, from int) int {
	for _, start := range []int{from, 1} {
		for pole := start; pole < len(used); pole++ {
			if !used[pole] {
				return pole
			}
		}
	}
	panic("draft: a board that had room has no free pole")
}
