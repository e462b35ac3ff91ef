package rigtest

import (
	"fmt"
	"math/rand/v2"

	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// Random gives a rig with n circuits of one to four panels, of any system: one or two boards of either numbering, one to three panel types with known or unknown
// displacements of either sign, line-to-neutral and line-to-line circuits, other loads, and outputs that cut across circuits. The same generator state
// gives the same rig. Breakers are large enough for full white in about half of the circuits.
func Random(rng *rand.Rand, n int) *rig.Rig {
	systems := []rig.Supply{
		{Name: "service", System: rig.SinglePhase, LineNeutral: 230},
		{Name: "service", System: rig.SplitPhase, LineNeutral: 118, LineLine: 236},
		{Name: "service", System: rig.Wye, LineNeutral: 120, LineLine: 208},
		{Name: "service", System: rig.Wye, LineNeutral: 230, LineLine: 400},
	}
	s := systems[rng.IntN(len(systems))]
	s.Main, s.Neutral, s.Factor = units.Amps(10+5*n), units.Amps(10+5*n), 0.8
	r := start(s)
	randomTypes(rng, r)
	for b := range 1 + rng.IntN(2) {
		main := units.Amps(5 + 3*n)
		r.Boards = append(r.Boards, rig.Board{Name: string(rune('A' + b)), Numbering: rig.Numbering(rng.IntN(2)), Poles: 12 + 12*n, Main: main, Neutral: main, Factor: 0.8})
	}
	randomCircuits(rng, r, n)
	randomLoads(rng, r)
	randomOutputs(rng, r)
	return r
}

// randomTypes gives the rig one to three panel types, so that kinds of load repeat.
func randomTypes(rng *rand.Rand, r *rig.Rig) {
	base := r.PanelTypes[0]
	r.PanelTypes = nil
	for i := range 1 + rng.IntN(3) {
		t := base
		t.Name = fmt.Sprintf("p%d", i+1)
		t.Black = units.Watts(rng.IntN(60))
		t.White = t.Black + units.Watts(100+rng.IntN(900))
		t.PF, t.Displacement, t.DisplacementKnown, t.Third = nature(rng)
		r.PanelTypes = append(r.PanelTypes, t)
	}
}

// nature draws how a load draws its current, from few enough figures that loads of one kind occur.
func nature(rng *rand.Rand) (pf units.Share, lag units.Degrees, known bool, third units.Share) {
	pf = []units.Share{1, 0.95, 0.9, 0.5}[rng.IntN(4)]
	switch pf {
	case 0.95:
		lag = 18
	case 0.9:
		lag = -25
	case 0.5:
		lag = units.Degrees([]float64{60, -60}[rng.IntN(2)])
	}
	return pf, lag, rng.IntN(3) > 0, []units.Share{0, 0.1, 0.3}[rng.IntN(3)]
}

func randomCircuits(rng *rand.Rand, r *rig.Rig, n int) {
	AddWall(r, "wall", n, 4)
	system := r.Supply.System
	var kept []rig.Panel
	for c := range n {
		var panels []int
		for row := range 1 + rng.IntN(4) {
			panels = append(panels, len(kept))
			kept = append(kept, rig.Panel{Column: c + 1, Row: row + 1, Type: rng.IntN(len(r.PanelTypes))})
		}
		first := rng.IntN(system.Legs())
		legs := []int{first}
		if system != rig.SinglePhase && rng.IntN(2) == 0 {
			legs = append(legs, (first+1)%system.Legs())
		}
		AddCircuit(r, rng.IntN(len(r.Boards)), legs, units.Amps(4+rng.IntN(16)), panels)
	}
	r.Panels = kept
}

func randomLoads(rng *rand.Rand, r *rig.Rig) {
	for i := range rng.IntN(4) {
		l := rig.OtherLoad{Name: fmt.Sprintf("load%d", i+1), Board: rng.IntN(len(r.Boards)), Current: units.Amps(1 + rng.IntN(12))}
		l.Legs = rng.Perm(r.Supply.System.Legs())[:1+rng.IntN(r.Supply.System.Legs())]
		l.PF, l.Displacement, l.DisplacementKnown, l.Third = nature(rng)
		r.Loads = append(r.Loads, l)
	}
}

// randomOutputs deals the panels out to one to four outputs of one device of each class in turn, without regard to circuits.
func randomOutputs(rng *rand.Rand, r *rig.Rig) {
	panels := make([][]int, 1+rng.IntN(min(4, len(r.Panels))))
	for p := range r.Panels {
		o := rng.IntN(len(panels))
		if p < len(panels) {
			o = p
		}
		panels[o] = append(panels[o], p)
	}
	for i := range panels {
		AddDevice(r, rig.Class(1+i%3), []int{65535, 255, 100}[rng.IntN(3)], units.Level(rng.Float64()))
		AddOutput(r, i, panels[i])
	}
}
