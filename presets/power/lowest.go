package power

import (
	"math"

	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// impedance is what one conductor, or a loop of two, puts in the way of a current, in ohms.
type impedance struct{ r, x float64 }

// loop gives the impedance of there and back.
func loop(z rig.Impedance) impedance { return impedance{2 * float64(z.R), 2 * float64(z.X)} }

func (z impedance) none() bool { return z == impedance{} }

func (z impedance) size() float64 { return math.Hypot(z.r, z.x) }

// volts are the voltages on a bank, as magnitudes: from each leg to neutral, and from each leg to the next.
type volts struct{ neutral, next [3]float64 }

// of gives the voltage that a circuit stands at.
func (v volts) of(c connection) float64 {
	if c.legs == 2 {
		return v.next[c.first]
	}
	return v.neutral[c.first]
}

// working is the part of the sending voltage below which a chain is taken to have no working point. One lumped load has its last at one half; spread loads can
// go a little lower.
const working = 0.3

// settle finds the lowest voltage that every panel can see, and from it the amps of every panel at black and at full white. A board's voltage hangs on the
// currents in its feeder, and these on the voltage: from the supply's voltage down both settle. No feeder is taken to carry more than its main, since the guard
// lets it carry no more than a part of that.
func (m *Model) settle() {
	s := m.rig.Supply
	nominal := volts{}
	for leg := range s.System.Legs() {
		nominal.neutral[leg], nominal.next[leg] = float64(s.LineNeutral), float64(s.LineLine)
	}
	for i := range m.banks {
		m.banks[i].lowest = nominal
	}
	m.reckon()
	if !m.drops {
		return
	}
	m.turnWires()
	full := State{Levels: make([]units.Level, len(m.rig.Outputs))}
	for o := range full.Levels {
		full.Levels[o] = 1
	}
	var worst []units.Amps
	for range 100 {
		worst = m.Worst(full, worst)
		if m.lower(worst) < settled {
			break
		}
		m.reckon()
		m.turnWires()
	}
}

// settled is the change in volts at which an iteration ends, well under the millivolt that anybody asks for.
const settled = 1e-6

// lower brings the boards' voltages to where worst currents pull them, and gives the largest change.
func (m *Model) lower(worst []units.Amps) float64 {
	change := 0.0
	for i := range m.rig.Boards {
		b := &m.banks[i]
		from := &m.banks[b.from]
		leg, neutral := m.carried(i, worst)
		z, was := b.feeder.size(), b.lowest
		b.angle = from.angle
		for a := range m.rig.Supply.System.Legs() {
			next := (a + 1) % m.rig.Supply.System.Legs()
			b.lower(from, a, z*(leg[a]+neutral), z*(leg[a]+leg[next]))
			change = max(change, math.Abs(was.neutral[a]-b.lowest.neutral[a]), math.Abs(was.next[a]-b.lowest.next[a]))
		}
	}
	return change
}

// Drops reports whether any run of the rig is described, so that voltage is lost on it.
func (m *Model) Drops() bool { return m.drops }

// Lowest gives the lowest voltage that a panel can see, at which its current is counted; 0 where no circuit feeds it.
func (m *Model) Lowest(panel int) units.Volts { return units.Volts(m.lowest[panel]) }

// Fragile reports whether some circuit has no working point with all of its panels at full white: [Model.Flow] says whether it has one in a state.
func (m *Model) Fragile() bool { return m.fragile }

// lower sets the voltages of one leg, to neutral and to the next leg, and how far what is lost may turn them.
func (b *bank) lower(from *bank, leg int, neutral, next float64) {
	b.lowest.neutral[leg] = max(from.lowest.neutral[leg]-neutral, working*from.lowest.neutral[leg])
	b.lowest.next[leg] = max(from.lowest.next[leg]-next, working*from.lowest.next[leg])
	for _, part := range []float64{neutral / from.lowest.neutral[leg], next / from.lowest.next[leg]} {
		if part > 0 && units.Finite(part) {
			off := math.Asin(min(1, part))
			b.angle = b.angle.with(turn{from.angle.lo - off, from.angle.hi + off})
		}
	}
}

// carried gives the largest currents of a board's legs and neutral.
func (m *Model) carried(board int, worst []units.Amps) (leg [3]float64, neutral float64) {
	b := m.rig.Boards[board]
	for _, i := range m.banks[board].at {
		switch c := m.conductors[i]; c.Kind {
		case rig.BoardLeg:
			leg[c.Leg] = math.Min(float64(worst[i]), float64(b.Main))
		case rig.BoardNeutral:
			neutral = math.Min(float64(worst[i]), float64(b.Neutral))
		}
	}
	return leg, neutral
}

// reckon sums up every circuit's loads and terms at the voltages of the banks.
func (m *Model) reckon() {
	for i := range m.terms {
		m.terms[i].slope = 0
	}
	for i := range m.banks {
		clear(m.banks[i].turned)
	}
	m.lowest, m.lost = make([]float64, len(m.rig.Panels)), make([]float64, len(m.chain))
	var room []float64
	for i := range m.circuits {
		c := &m.circuits[i]
		for k := range c.loads {
			c.loads[k].base = 0
		}
		room = m.lowestVolts(i, room)
		sent := m.banks[c.bank].lowest.of(c.connection)
		c.white = 0
		for k := range room {
			l := &m.chain[c.from+k]
			t := &m.kinds[l.kind]
			c.white += t.white
			m.lost[c.from+k] = 1 - room[k]/sent
			m.lowest[l.panel] = room[k]
			black, white := t.black/room[k], t.white/room[k]
			if l.term < 0 {
				c.loads[l.load].base += white
				continue
			}
			c.loads[l.load].base += black
			m.terms[l.term].slope += white - black
		}
	}
}

// lowestVolts gives the lowest voltage that each panel of a circuit can see: with all of its panels at full white. Losses are taken as magnitudes, which is a
// little more than they are. Where full white leaves no working point, no more than the breaker's rating is taken to flow, all of it to the end.
func (m *Model) lowestVolts(circuit int, v []float64) []float64 {
	c := &m.circuits[circuit]
	n, sent := c.to-c.from, m.banks[c.bank].lowest.of(c.connection)
	if cap(v) < n {
		v = make([]float64, n)
	}
	v = v[:n]
	for k := range v {
		v[k] = sent
	}
	if c.home.none() && c.jump.none() {
		return v
	}
	if !m.lose(c, sent, v) {
		m.fragile = true
		rating := float64(m.rig.Circuits[circuit].Breaker)
		for k := range v {
			v[k] = sent - rating*(c.home.size()+float64(k)*c.jump.size())
			v[k] = max(v[k], working*sent)
		}
	}
	m.turnChain(c, v)
	return v
}

// lose brings v from the sending voltage down to where the panels' currents at full white hold it, and reports whether there is such a point.
func (m *Model) lose(c *circuit, sent float64, v []float64) bool {
	home, jump := c.home.size(), c.jump.size()
	chain := m.chain[c.from:c.to]
	for range 1000 {
		total := 0.0
		for k := range chain {
			total += m.kinds[chain[k].kind].white / v[k]
		}
		at, behind, change := sent-home*total, total, 0.0
		for k := range chain {
			if k > 0 {
				at -= jump * behind
			}
			behind -= m.kinds[chain[k].kind].white / v[k]
			change = max(change, math.Abs(v[k]-at))
			if v[k] = at; !(at > working*sent) {
				return false
			}
		}
		if change < settled {
			return true
		}
	}
	return false
}
