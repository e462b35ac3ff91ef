// Package draft plans a plant from a short brief: circuits in feeding order with their breakers, boards and poles, data runs and processors, and a first book. What
// it makes is the text of a site's files, which people go on editing, and why it is so.
//
// How it plans. Every wall has circuits of one breaker size and one number of poles. Each is a chain up one column and down the next that never jumps. There are as
// few circuits as the breakers at hand allow; where whole columns do with as few, a circuit is made of whole columns. Boards are used in the order of the brief, as
// many as it takes to carry full white, or to carry the most of it. Poles go by row of the board; then circuits change places, and move to free ones, as long as
// that brings the most loaded leg down. Data runs fill their ports in the heaviest mode, processors their data runs.
//
// What it made is read back and checked as any site is. A plan that the check would refuse is never given.
package draft

import (
	"fmt"

	"lookgate/presets/rig"
	"lookgate/presets/site"
	"lookgate/presets/units"
)

// Draft is a plan.
type Draft struct {
	Site     *site.Site        // what the files say
	Files    map[string][]byte // by the names of a site's files
	Summary  []string          // what was planned, a line a thing
	Why      []string          // why it is so, and what binds
	Circuits []Count           // one for each wall
	Full     units.Level       // the level of the preset full white: 1, or as much as the supply and boards carry
}

// Count is how many circuits a wall has, beside the fewest that any plan could have.
type Count struct {
	Circuits int
	Carries  int // panels that one circuit carries
	ByPanels int // the fewest, if circuits may begin anywhere
	ByColumn int // the fewest of whole columns; 0 where a circuit carries no whole column
}

// Impossible is a brief that no plan can be made from.
type Impossible struct {
	Binds string // what stands in the way, with its figures
	Do    string // what to change
}

// Error gives two lines.
func (e *Impossible) Error() string { return e.Binds + "\n" + e.Do }

func impossible(do, binds string, args ...any) error {
	return &Impossible{Binds: fmt.Sprintf(binds, args...), Do: do}
}

// planner is one planning.
type planner struct {
	brief *site.Brief
	rig   *rig.Rig // what is given

	less     []int // by wall: how many panels fewer a circuit takes than its breaker seems to carry
	fewer    int   // how many panels fewer a data run takes
	feeds    []feed
	circuits []circuit // of all walls, in their order
	boards   int       // how many of those at hand are used
	moved    int       // circuits that changed places for the sake of even legs
	runs     []runs
	spans    []span
	needed   int            // processors
	legs     [][]units.Amps // of each board, then of the supply: what they carry at full white
	full     units.Level
	fade     int      // into fades
	binds    string   // what keeps full white from passing
	remedies []string // what would let it
}

// tries bounds how often a plan is made anew with shorter chains, because the whole shows a drop that one circuit by itself does not.
const tries = 40

// Make plans. The brief has no problems. An error is an [Impossible].
func Make(b *site.Brief) (*Draft, error) {
	p := &planner{brief: b, rig: b.Rig, less: make([]int, len(b.Rig.Walls))}
	for range tries {
		if err := p.plan(); err != nil {
			return nil, err
		}
		d, again, err := p.finish()
		if err != nil || !again {
			return d, err
		}
	}
	return nil, impossible("shorten the ways or take larger cables", "voltage drop leaves no chain of panels that its circuit carries")
}

// plan makes one plan, which is not yet checked.
func (p *planner) plan() error {
	p.full, p.fade, p.binds, p.remedies = 1, 0, "", nil
	if err := p.chooseFeeds(); err != nil {
		return err
	}
	p.circuits = p.cut()
	if err := p.allocate(); err != nil {
		return err
	}
	return p.planRuns()
}

// typeOf gives the type of a wall's panels.
func (p *planner) typeOf(wall int) rig.PanelType { return p.rig.PanelTypes[p.rig.Walls[wall].Type] }
