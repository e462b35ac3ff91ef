package plant

import (
	"math"
	"math/cmplx"

	"lookgate/presets/rig"
)

// sag is what voltages and currents come to once cables are counted, found the slow way: every current from the voltage that stands there, every voltage from the
// currents that run to there, again and again until nothing moves. Voltages are phasors against the middle of the source.
type sag struct {
	p       *Plant
	panel   []complex128    // per panel, the voltage across it
	board   [][3]complex128 // per board, of its legs
	neutral []complex128    // per board
	buses   []bus           // per board, then the supply's
	circuit []complex128    // per circuit, its current
}

// sags reports whether the rig describes any cable.
func (p *Plant) sags() bool {
	for _, c := range p.rig.Circuits {
		if c.Home != nil || c.Link != nil {
			return true
		}
	}
	for _, b := range p.rig.Boards {
		if b.Feeder != nil || b.From > 0 {
			return true
		}
	}
	return false
}

// sagged gives the plant's currents with its cables. Where nothing settles, more is asked of the cables than they can bring, and every current is infinite.
func (p *Plant) sagged() *sag {
	s := &sag{p: p, panel: make([]complex128, len(p.panels)), board: make([][3]complex128, len(p.rig.Boards)), neutral: make([]complex128, len(p.rig.Boards)),
		circuit: make([]complex128, len(p.rig.Circuits))}
	for b := range s.board {
		s.board[b] = p.source()
	}
	for i, c := range p.rig.Circuits {
		for _, panel := range c.Panels {
			s.panel[panel] = s.sent(i)
		}
	}
	for range 400 {
		if s.once() < 1e-7 {
			return s
		}
	}
	for i := range s.circuit {
		s.circuit[i] = cmplx.Inf()
	}
	for i := range s.buses {
		s.buses[i] = bus{leg: [3]complex128{cmplx.Inf(), cmplx.Inf(), cmplx.Inf()}, neutral: cmplx.Inf()}
	}
	return s
}

// source gives the voltages of the source's legs. Of its two rounded figures the larger reading holds, so that no load stands below its own.
func (p *Plant) source() (legs [3]complex128) {
	s := p.rig.Supply
	size := float64(s.LineNeutral)
	switch s.System {
	case rig.SplitPhase:
		size = math.Max(size, float64(s.LineLine)/2)
	case rig.Wye, rig.Delta:
		size = math.Max(size, float64(s.LineLine)/math.Sqrt(3))
	}
	for leg := range s.System.Legs() {
		legs[leg] = phasor(size, p.legAngle(leg), 0)
	}
	return legs
}

// sent gives the voltage at a circuit's board.
func (s *sag) sent(circuit int) complex128 {
	b, legs := s.p.rig.Circuits[circuit].Board, s.p.legs[circuit]
	if len(legs) == 2 {
		return s.board[b][legs[0]] - s.board[b][legs[1]]
	}
	return s.board[b][legs[0]] - s.neutral[b]
}

// once computes everything once more and gives the largest change of a voltage.
func (s *sag) once() float64 {
	s.buses = make([]bus, len(s.p.rig.Boards)+1)
	change := 0.0
	for i := range s.circuit {
		change = math.Max(change, s.chain(i))
	}
	for l := range s.p.loads {
		s.load(l)
	}
	for b := len(s.p.rig.Boards) - 1; b >= 0; b-- {
		s.buses[s.above(b)].add(s.buses[b])
	}
	for b := range s.p.rig.Boards {
		change = math.Max(change, s.feed(b))
	}
	return change
}

// above gives the bus that a board hangs on: that of the board that feeds it, or the supply's.
func (s *sag) above(board int) int {
	if from := s.p.rig.Boards[board].From; from > 0 {
		return from - 1
	}
	return len(s.p.rig.Boards)
}

// chain computes a circuit: what each panel draws, what therefore enters each, and what that leaves of the voltage.
func (s *sag) chain(i int) float64 {
	p, c := s.p, s.p.rig.Circuits[i]
	draws, change := make([]complex128, len(c.Panels)), 0.0
	s.circuit[i] = 0
	for k, panel := range c.Panels {
		draws[k] = s.draw(panel, i)
		s.circuit[i] += draws[k]
		s.put(&s.buses[c.Board], p.legs[i], draws[k], float64(p.rig.PanelTypes[p.rig.Panels[panel].Type].Third))
	}
	at, run := s.sent(i), c.Home
	for k, panel := range c.Panels {
		var enters complex128
		for _, d := range draws[k:] {
			enters += d
		}
		at -= 2 * s.ohms(run) * enters
		change = math.Max(change, cmplx.Abs(s.panel[panel]-at))
		s.panel[panel], run = at, c.Link
	}
	return change
}

// ohms gives the impedance of one conductor of a run.
func (s *sag) ohms(run *rig.Run) complex128 {
	z := s.p.rig.Impedance(run)
	return complex(float64(z.R), float64(z.X))
}

// draw gives a panel's current at the voltage that it has. Behind an open breaker it draws nothing.
func (s *sag) draw(panel, circuit int) complex128 {
	if s.p.breakers[circuit] != In {
		return 0
	}
	kind := s.p.rig.Panels[panel].Type
	t := s.p.rig.PanelTypes[kind]
	watts := float64(t.Black) + float64(s.p.panelLevel(s.p.panels[panel].output))*float64(t.White-t.Black)
	v := s.panel[panel]
	return phasor(watts/(cmplx.Abs(v)*float64(t.PF)), degrees(cmplx.Phase(v)*180/math.Pi), s.p.typeAngles[kind])
}

// put puts a current on the legs that it comes from and goes back to.
func (s *sag) put(b *bus, legs []int, i complex128, third float64) {
	b.leg[legs[0]] += i
	if len(legs) == 2 {
		b.leg[legs[1]] -= i
		return
	}
	b.neutral += i
	if s.p.rig.Supply.System == rig.SplitPhase && legs[0] == 1 {
		third = -third
	}
	b.third += cmplx.Abs(i) * third
}

// load puts another load on its board: its current, lagging the voltage that it has. One on three legs stands between each of them and the middle of the source.
func (s *sag) load(l int) {
	p, of := s.p, s.p.rig.Loads[l]
	b, amps := &s.buses[of.Board], float64(p.loads[l])
	at := func(v complex128) complex128 {
		return phasor(amps, degrees(cmplx.Phase(v)*180/math.Pi), p.loadAngles[l])
	}
	v := s.board[of.Board]
	switch len(of.Legs) {
	case 1:
		s.put(b, of.Legs, at(v[of.Legs[0]]-s.neutral[of.Board]), float64(of.Third))
	case 2:
		s.put(b, of.Legs, at(v[of.Legs[0]]-v[of.Legs[1]]), float64(of.Third))
	default:
		for _, leg := range of.Legs {
			i := at(v[leg])
			b.leg[leg] += i
			b.third += amps * float64(of.Third)
		}
	}
}

// feed computes a board's voltages from those of what feeds it.
func (s *sag) feed(board int) float64 {
	p, legs, neutral := s.p, s.p.source(), complex128(0)
	if from := p.rig.Boards[board].From; from > 0 {
		legs, neutral = s.board[from-1], s.neutral[from-1]
	}
	z, change := s.ohms(p.rig.Boards[board].Feeder), 0.0
	for leg := range p.rig.Supply.System.Legs() {
		legs[leg] -= z * s.buses[board].leg[leg]
		change = math.Max(change, cmplx.Abs(s.board[board][leg]-legs[leg]))
	}
	if p.rig.Supply.System.HasNeutral() {
		neutral += z * s.buses[board].neutral
	}
	change = math.Max(change, cmplx.Abs(s.neutral[board]-neutral))
	s.board[board], s.neutral[board] = legs, neutral
	return change
}
