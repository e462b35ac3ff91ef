package power

import (
	"math"
	"math/cmplx"

	"lookgate/presets/units"
)

// begin gives every panel its volt-amperes and the current that it would draw at its board's voltage.
func (m *Model) begin(s State, f *Flow) {
	for i := range m.circuits {
		c := &m.circuits[i]
		v := f.banks[c.bank].across(c.connection, m.rig.Supply.System.Legs())
		f.sent[i], f.change[i] = v, math.Inf(1)
		if s.LockedOff != nil && s.LockedOff[i] {
			f.still(c)
			continue
		}
		f.current[i] = m.drawAll(c, s, v, f) * c.lag
		// Each round leaves about that part of its error that is lost on the way to where the load is centred, three quarters of the whole for an even chain.
		f.left[i] = min(0.5, 0.75*c.whole*math.Sqrt(square(f.current[i])/square(v)))
	}
}

// still leaves a circuit's panels without current.
func (f *Flow) still(c *circuit) {
	clear(f.apparent[c.from:c.to])
	clear(f.own[c.from:c.to])
}

// drawAll has every panel of a circuit draw its current, and gives their sum. What each loses on the way is guessed for a start: the part that it loses at full white,
// by how much of full white is on.
func (m *Model) drawAll(c *circuit, s State, v complex128, f *Flow) complex128 {
	on := 1.0
	if total := m.apparent(c, s, f); c.white > 0 {
		on = total / c.white
	}
	one := 1 / square(v)
	re, im := real(v)*one, imag(v)*one
	var sumRe, sumIm float64
	for i := c.from; i < c.to; i++ {
		lost := m.lost[i] * on
		va := f.apparent[i] * (1 + lost + lost*lost) // one over one less what is lost, nearly
		own := pair{va * re, va * im}
		if !c.alike {
			own = own.back(&m.kinds[m.chain[i].kind])
		}
		f.own[i] = own
		sumRe += own.re
		sumIm += own.im
	}
	return complex(sumRe, sumIm)
}

// apparent gives every panel of a circuit its volt-amperes, and gives their sum.
func (m *Model) apparent(c *circuit, s State, f *Flow) float64 {
	va := f.apparent[c.from:c.to]
	if c.even {
		l := &m.chain[c.from]
		k := &m.kinds[l.kind]
		same := k.black + s.light(int(l.output))*(k.white-k.black)
		for i := range va {
			va[i] = same
		}
		return same * float64(len(va))
	}
	total := 0.0
	for i := range va {
		l := &m.chain[c.from+i]
		k := &m.kinds[l.kind]
		va[i] = k.white
		if l.output >= 0 {
			va[i] = k.black + s.light(int(l.output))*(k.white-k.black)
		}
		total += va[i]
	}
	return total
}

// back turns a current back by the lag of its kind. Where all of a circuit is of one kind its currents are kept unturned, and turned all at once.
func (p pair) back(k *kind) pair {
	return pair{p.re*k.cos + p.im*k.sin, p.im*k.cos - p.re*k.sin}
}

// round goes once through a circuit from its board's voltage: what the panels drew takes voltages down, and at these they draw a little more. Where the board's
// voltage has changed since, they are first taken to draw the same power at the new one. It gives the change in volts at the far end.
func (m *Model) round(i int, v complex128, f *Flow) float64 {
	c := &m.circuits[i]
	scale := complex(1+f.ahead[i], 0)
	if f.sent[i] != v {
		scale *= cmplx.Conj(over(f.sent[i], v))
	}
	in := f.current[i] * scale
	// Currents stand in f as they were: what loses them is scaled instead.
	var out, end complex128
	if c.alike {
		out, end = f.pass(c, v, c.homeLoses*scale, c.jumpLoses*scale, f.current[i]*cmplx.Conj(c.lag))
	} else {
		out, end = m.passMixed(c, v, scale, f.current[i], f)
	}
	f.current[i], f.sent[i] = out*c.lag, v
	if !(square(end) > working*working*square(v)) {
		f.fallen[i] = true
	}
	f.ahead[i] = f.left[i] * gain(f.current[i], in)
	return length(f.current[i]-in) * c.whole
}

// gain gives by what part a current came out larger than it went in, along itself, within bounds.
func gain(out, in complex128) float64 {
	size := square(out)
	if size == 0 {
		return 0
	}
	return max(-0.2, min(0.2, real((out-in)*cmplx.Conj(out))/size))
}

// pass takes the currents of a chain of one kind from its first panel to its last: home and jump are what one of them loses. It gives their new sum and the last voltage.
func (f *Flow) pass(c *circuit, v, home, jump, in complex128) (sum, end complex128) {
	own, apparent := f.own[c.from:c.to], f.apparent[c.from:c.to]
	apparent = apparent[:len(own)]
	atRe, atIm, inRe, inIm := real(v), imag(v), real(in), imag(in)
	zRe, zIm := real(home), imag(home)
	var sumRe, sumIm float64
	for k := range own {
		atRe -= zRe*inRe - zIm*inIm
		atIm -= zRe*inIm + zIm*inRe
		o := &own[k]
		inRe -= o.re
		inIm -= o.im
		w := apparent[k] / (atRe*atRe + atIm*atIm)
		o.re, o.im = w*atRe, w*atIm
		sumRe += o.re
		sumIm += o.im
		zRe, zIm = real(jump), imag(jump)
	}
	return complex(sumRe, sumIm), complex(atRe, atIm)
}

// passMixed is pass for a chain of several kinds, each current turned by itself.
func (m *Model) passMixed(c *circuit, v, scale, in complex128, f *Flow) (sum, end complex128) {
	at, z := v, c.homeLoses*scale
	for k := c.from; k < c.to; k++ {
		at -= z * in
		in -= complex(f.own[k].re, f.own[k].im)
		w := f.apparent[k] / square(at)
		f.own[k] = pair{w * real(at), w * imag(at)}.back(&m.kinds[m.chain[k].kind])
		sum += complex(f.own[k].re, f.own[k].im)
		z = c.jumpLoses * scale
	}
	return sum, at
}

// over gives a/b, square |v|² and length no less than |v| and no more than half as much again. They are for figures near the voltage of a plant: the library's
// look after infinities, which costs more than all the rest.
func over(a, b complex128) complex128 { return a * cmplx.Conj(b) * complex(1/square(b), 0) }

func square(v complex128) float64 { return real(v)*real(v) + imag(v)*imag(v) }

func length(v complex128) float64 { return math.Abs(real(v)) + math.Abs(imag(v)) }

// chains goes once through every circuit at the voltages of its board, or as often as it takes where these do not hang on the load. It reports whether all of
// them have settled.
func (m *Model) chains(s State, f *Flow, once bool) bool {
	done := true
	legs := m.rig.Supply.System.Legs()
	for i := range m.circuits {
		c := &m.circuits[i]
		v := f.banks[c.bank].across(c.connection, legs)
		if f.fallen[i] || s.LockedOff != nil && s.LockedOff[i] || c.whole == 0 && f.sent[i] == v {
			f.sent[i] = v
			continue
		}
		settled := f.chain(m, i, v)
		for n := 1; !settled && !once && !f.fallen[i]; n++ {
			settled = f.chain(m, i, v)
			f.fallen[i] = f.fallen[i] || n > most
		}
		done = done && settled
	}
	return done
}

// chain goes once through a circuit and reports whether that leaves no more than a fine error. Each round takes the error down by the same part, so what is left is a
// geometric series. A change that grows has no end.
func (f *Flow) chain(m *Model, i int, v complex128) bool {
	moved := length(v-f.sent[i]) > 100*fine
	change, before := m.round(i, v, f), f.change[i]
	f.change[i] = change
	if !moved && change > before && change > fine {
		f.fallen[i] = true
		return true
	}
	part := 0.1
	if before > 0 && !math.IsInf(before, 1) {
		part = min(change/before, 0.99)
	}
	return f.fallen[i] || !moved && change*part <= fine*(1-part)
}

// reportChain goes through a circuit once more and writes what its panels see.
func (m *Model) reportChain(i int, f *Flow) {
	c := &m.circuits[i]
	in := f.current[i] * cmplx.Conj(c.lag)
	atRe, atIm, inRe, inIm := real(f.sent[i]), imag(f.sent[i]), real(in), imag(in)
	zRe, zIm := real(c.homeLoses), imag(c.homeLoses)
	third := c.thirds(&m.banks[c.bank])
	for k := c.from; k < c.to; k++ {
		atRe -= zRe*inRe - zIm*inIm
		atIm -= zRe*inIm + zIm*inRe
		volts := math.Sqrt(atRe*atRe + atIm*atIm)
		f.Panel[m.panelAt[k]] = PanelFlow{units.Volts(volts), units.Amps(math.Sqrt(inRe*inRe + inIm*inIm))}
		if third {
			f.banks[c.bank].x[c.loads[m.chain[k].load].group] += f.apparent[k] / volts
		}
		inRe, inIm = inRe-f.own[k].re, inIm-f.own[k].im
		zRe, zIm = real(c.jumpLoses), imag(c.jumpLoses)
	}
}

// thirds reports whether a circuit puts third harmonics into a neutral.
func (c *circuit) thirds(b *bank) bool {
	for _, l := range c.loads {
		if c.legs == 1 && b.groups[l.group].wave.third > 0 {
			return true
		}
	}
	return false
}
