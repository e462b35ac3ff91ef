package power

import "math"

// turn is how far an angle may be off, in radians: from lo, not above 0, to hi, not below it.
type turn struct{ lo, hi float64 }

// with gives the least turn that holds both.
func (t turn) with(u turn) turn { return turn{min(t.lo, u.lo), max(t.hi, u.hi)} }

// turnChain notes how far drop may turn the currents of a circuit's loads. A current that lags by φ loses R cos φ + X sin φ along the voltage, and
// X cos φ − R sin φ across it, which turns it back. Where voltages are at their lowest, currents and turns are at their most.
func (m *Model) turnChain(c *circuit, v []float64) {
	chain := m.chain[c.from:c.to]
	behind := 0.0
	for k := range chain {
		behind += m.kinds[chain[k].kind].white / v[k]
	}
	most := turn{}
	z := c.home
	for k := range chain {
		step := m.turnOf(c, z)
		most.lo, most.hi = most.lo+step.lo*behind/v[k], most.hi+step.hi*behind/v[k]
		behind -= m.kinds[chain[k].kind].white / v[k]
		z = c.jump
	}
	b := &m.banks[c.bank]
	for _, l := range c.loads {
		b.turned[l.group] = b.turned[l.group].with(most)
	}
	c.own.turnBy(most)
}

// turnOf gives what one amp through an impedance turns a voltage by, in radians and volts, whichever of the circuit's loads draws it.
func (m *Model) turnOf(c *circuit, z impedance) turn {
	var t turn
	for _, l := range c.loads {
		w := m.banks[c.bank].groups[l.group].wave
		for _, lag := range []float64{w.lag - w.spread, w.lag + w.spread} {
			sin, cos := math.Sincos(lag * math.Pi / 180)
			t = t.with(turn{z.r*sin - z.x*cos, z.r*sin - z.x*cos})
		}
	}
	return t
}

// turnWires has every leg, neutral and feeder count with what may have turned its currents, from the outermost boards in.
func (m *Model) turnWires() {
	for i := range m.banks {
		b := &m.banks[i]
		for k := range b.turned {
			b.turned[k] = turn{b.turned[k].lo + b.angle.lo, b.turned[k].hi + b.angle.hi}
		}
	}
	for i := len(m.rig.Boards) - 1; i >= 0; i-- {
		b := &m.banks[i]
		up := &m.banks[b.from]
		for k, at := range b.up {
			up.turned[at] = up.turned[at].with(b.turned[k])
		}
	}
	for i := range m.banks {
		b := &m.banks[i]
		for w := range b.wires {
			var most turn
			for _, a := range b.wires[w].arms {
				most = most.with(b.turned[a.group])
			}
			b.wires[w].turnBy(most)
		}
	}
}

// turnBy has the wire count with angles that are off by that much. Only differences matter, so half of it is the most that any current is off from the middle;
// and a current that is off by an angle changes a sum by no more than the angle times its size. Currents of one direction add up to no more than when in step.
func (w *wire) turnBy(t turn) {
	if w.mixed() {
		w.off = (t.hi - t.lo) / 2
	}
}

// mixed reports whether currents of different directions meet.
func (w *wire) mixed() bool {
	for _, a := range w.arms {
		if a.spread > 0 || math.Abs(a.re-w.arms[0].re)+math.Abs(a.im-w.arms[0].im) > 1e-9 {
			return true
		}
	}
	return false
}
