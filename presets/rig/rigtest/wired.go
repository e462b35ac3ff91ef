package rigtest

import (
	"fmt"
	"math"
	"math/rand/v2"

	"lookgate/presets/cable"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// Delta gives a rig of 36 panels on one 208 V delta board: three two-pole circuits of 12 panels, one on each pair of legs, and a fan on all three. Its two outputs
// on two devices share the columns 1 to 3 and 4 to 9.
func Delta() *rig.Rig {
	r := start(rig.Supply{Name: "service", System: rig.Delta, LineLine: 208, Main: 100, Factor: 0.8})
	r.Boards = []rig.Board{{Name: "D", Poles: 24, Main: 60, Factor: 0.8}}
	AddWall(r, "bay", 9, 4)
	for i, legs := range [][]int{{0, 1}, {1, 2}, {2, 0}} {
		AddCircuit(r, 0, legs, 15, Columns(r, 0, 3*i+1, 3*i+3))
	}
	r.Loads = []rig.OtherLoad{{Name: "fan", Legs: []int{0, 1, 2}, Current: 5, PF: 0.85, Displacement: 31.8, DisplacementKnown: true}}
	AddDevice(r, rig.Numbered, 65535, 0)
	AddDevice(r, rig.Reporting, 255, 0.5)
	AddOutput(r, 0, Columns(r, 0, 1, 3))
	AddOutput(r, 1, Columns(r, 0, 4, 9))
	return r
}

// Tree gives a rig of 48 panels with all its cables: board M at the supply feeds A and B, and B feeds C. A has a two-pole circuit, B one of each kind, and C one-pole
// circuits on all legs; B's feeder carries less than its main, by somebody's decision.
func Tree() *rig.Rig {
	r := start(rig.Supply{Name: "service", System: rig.Wye, LineNeutral: 120, LineLine: 208, Main: 200, Neutral: 200, Factor: 0.8})
	r.Cables = kinds()
	r.Boards = []rig.Board{
		{Name: "M", Poles: 12, Main: 200, Neutral: 200, Factor: 0.8, Feeder: &rig.Run{Cable: 4, Length: 12, Sets: 2}, Carries: 400},
		{Name: "A", Poles: 24, Main: 60, Neutral: 60, Factor: 0.8, From: 1, Feeder: &rig.Run{Cable: 3, Length: 25, Sets: 1}, Carries: 65},
		{Name: "B", Poles: 24, Main: 100, Neutral: 100, Factor: 0.8, From: 1, Feeder: &rig.Run{Cable: 3, Length: 40, Sets: 1}, Carries: 65,
			Exception: &rig.Decision{Reason: "as found", By: "R. Ames"}},
		{Name: "C", Poles: 24, Main: 40, Neutral: 40, Factor: 0.8, From: 3, Feeder: &rig.Run{Cable: 2, Length: 18, Sets: 1}, Carries: 40},
	}
	AddWall(r, "bay", 12, 4)
	for i, c := range []struct {
		board int
		legs  []int
	}{{1, []int{0, 1}}, {2, []int{1, 2}}, {2, []int{0}}, {3, []int{0}}, {3, []int{1}}, {3, []int{2}}} {
		AddCircuit(r, c.board, c.legs, 20, Columns(r, 0, 2*i+1, 2*i+2))
		r.Circuits[i].Home, r.Circuits[i].Link = &rig.Run{Length: units.Metres(10 + 3*i)}, &rig.Run{Cable: i % 2, Length: 1.5}
	}
	AddDevice(r, rig.Numbered, 65535, 0)
	AddDevice(r, rig.Reporting, 255, 0.5)
	AddOutput(r, 0, Columns(r, 0, 1, 5))
	AddOutput(r, 1, Columns(r, 0, 6, 12))
	return r
}

// kinds gives the cables that these rigs are laid with, from the thinnest on.
func kinds() []rig.Cable {
	var all []rig.Cable
	for _, k := range []struct {
		name, size string
		stranding  cable.Stranding
		rating     units.Amps
		ambient    units.Share
		grouping   units.Share
	}{
		{"so12", "12 AWG", cable.Stranded, 25, 1, 0.8}, {"h4", "4 mm²", cable.Class5, 32, 0.87, 0.8}, {"f8", "8 AWG", cable.Stranded, 50, 1, 0.8},
		{"f4", "4 AWG", cable.Coated, 85, 0.96, 0.8}, {"f4-0", "4/0 AWG", cable.Stranded, 260, 1, 0.8},
	} {
		size, known := cable.ParseSize(k.size)
		if !known {
			panic("no size " + k.size)
		}
		all = append(all, rig.Cable{Name: k.name, Size: size, Stranding: k.stranding, At: 60, Rating: k.rating, Ambient: k.ambient, Grouping: k.grouping})
	}
	return all
}

// RandomWired gives a rig as [Random] does, and lays its cables: of about every fourth the supply is a delta; most circuits have home run and jumpers, most boards
// a feeder; boards may hang on each other, three deep at most. Nothing loses so much on the way that a chain has no working point. The same generator state
// gives the same rig, and what it draws is drawn after what Random draws.
func RandomWired(rng *rand.Rand, n int) *rig.Rig {
	r := Random(rng, n)
	if r.Supply.System == rig.Wye && rng.IntN(2) == 0 {
		toDelta(r)
	}
	r.Cables = kinds()
	hang(rng, r)
	for i := range r.Circuits {
		layCircuit(rng, r, i)
	}
	for i := range r.Boards {
		layFeeder(rng, r, i)
	}
	return r
}

// toDelta takes the neutral away: what stood between a leg and it stands between that leg and the next.
func toDelta(r *rig.Rig) {
	s := &r.Supply
	s.System, s.LineNeutral, s.Neutral = rig.Delta, 0, 0
	for i := range r.Boards {
		r.Boards[i].Neutral = 0
		r.Boards[i].Poles *= 3
	}
	for i := range r.Circuits {
		if c := &r.Circuits[i]; len(c.Poles) == 1 {
			leg := r.Legs(*c)[0]
			c.Poles = nil
			c.Poles = FreePoles(r, c.Board, []int{leg, (leg + 1) % 3})
		}
	}
	for i := range r.Loads {
		if l := &r.Loads[i]; len(l.Legs) == 1 {
			l.Legs = append(l.Legs, (l.Legs[0]+1)%3)
		}
	}
}

// hang lets boards feed each other: now and then the second hangs on the first, and a third, which takes over some circuits of one, on that one.
func hang(rng *rand.Rand, r *rig.Rig) {
	if len(r.Boards) > 1 && rng.IntN(2) == 0 {
		r.Boards[1].From = 1
	}
	if rng.IntN(3) > 0 {
		return
	}
	from := rng.IntN(len(r.Boards))
	b := r.Boards[from]
	b.Name, b.From = string(rune('A'+len(r.Boards))), from+1
	r.Boards = append(r.Boards, b)
	for i := range r.Circuits {
		if c := &r.Circuits[i]; c.Board == from && rng.IntN(2) == 0 {
			c.Board, c.Name = len(r.Boards)-1, fmt.Sprintf("%s%d", b.Name, c.Poles[0])
		}
	}
}

// layCircuit gives a circuit its cables, or not. They lose up to 6 % at full white.
func layCircuit(rng *rand.Rand, r *rig.Rig, i int) {
	c := &r.Circuits[i]
	volts := float64(r.Supply.Volts(len(c.Poles)))
	amps := 0.0
	for _, p := range c.Panels {
		t := r.PanelTypes[r.Panels[p].Type]
		amps += float64(t.White) / (volts * float64(t.PF))
	}
	kind, lost := rng.IntN(2), 0.06*volts*rng.Float64()
	if rng.IntN(4) > 0 {
		c.Home = &rig.Run{Cable: kind, Length: length(r, kind, lost, 2*amps)}
	}
	if rng.IntN(3) > 0 {
		c.Link = &rig.Run{Cable: kind, Length: min(units.Metres(0.5+2*rng.Float64()), length(r, kind, 0.02*volts, 2*amps*float64(len(c.Panels))))}
	}
}

// layFeeder gives a board its feeder, or not. It loses up to 3 % of the voltage of one leg with everything on one leg. Now and then it carries less than the main.
func layFeeder(rng *rand.Rand, r *rig.Rig, i int) {
	b := &r.Boards[i]
	kind, sets := 2+rng.IntN(3), 1+rng.IntN(2)
	lost := 0.03 * rng.Float64()
	if rng.IntN(4) == 0 {
		return
	}
	b.Feeder = &rig.Run{Cable: kind, Sets: sets}
	volts := float64(r.Supply.Volts(2)) / math.Sqrt(3)
	if r.Supply.System == rig.SinglePhase {
		volts = float64(r.Supply.LineNeutral)
	}
	b.Feeder.Length = units.Metres(float64(sets)) * length(r, kind, lost*volts, most(r)/volts)
	b.Carries = r.Cables[kind].Carries() * units.Amps(sets)
	if rng.IntN(4) == 0 {
		b.Carries = min(b.Carries, b.Main*0.75)
	}
	if b.Carries < b.Main {
		b.Exception = &rig.Decision{Reason: "drawn so", By: "R. Ames"}
	}
}

// most gives all volt-amperes of a rig, other loads at line to line.
func most(r *rig.Rig) float64 {
	sum := 0.0
	for _, p := range r.Panels {
		t := r.PanelTypes[p.Type]
		sum += float64(t.White) / float64(t.PF)
	}
	for _, l := range r.Loads {
		sum += float64(l.Current) * max(float64(r.Supply.LineLine), float64(r.Supply.LineNeutral)) * float64(len(l.Legs))
	}
	return sum
}

// length gives the longest cable of a kind that loses no more than so many volts, at 0.1 to 120 m.
func length(r *rig.Rig, kind int, volts, amps float64) units.Metres {
	z := r.Impedance(&rig.Run{Cable: kind, Length: 1})
	return units.Metres(min(120, max(0.1, volts/(math.Hypot(float64(z.R), float64(z.X))*amps))))
}
