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
		f.current[i] = m.drawAll(c, s, v, f)
	}
}

// still leaves a circuit's panels without current.
func (f *Flow) still(c *circuit) {
	clear(f.apparent[c.from:c.to])
	clear(f.own[c.from:c.to])
}

// drawAll has every panel of a circuit draw its current at one voltage, and gives their sum.
func (m *Model) drawAll(c *circuit, s State, v complex128, f *Flow) complex128 {
	re, im := real(v), imag(v)
	one := 1 / (re*re + im*im)
	re, im = re*one, im*one
	var sumRe, sumIm float64
	for i := c.from; i < c.to; i++ {
		l := &m.chain[i]
		k := &m.kinds[l.kind]
		va := k.white
		if l.output >= 0 {
			va = k.black + s.light(int(l.output))*(k.white-k.black)
		}
		ownRe, ownIm := va*(re*k.cos+im*k.sin), va*(im*k.cos-re*k.sin)
		f.apparent[i], f.own[i] = va, pair{ownRe, ownIm}
		sumRe += ownRe
		sumIm += ownIm
	}
	return complex(sumRe, sumIm)
}

// round goes once through a circuit from its board's voltage: what the panels drew takes voltages down, and at these they draw a little more. Where the board's
// voltage has changed since, they are first taken to draw the same power at the new one. It gives the change in volts at the far end.
func (m *Model) round(i int, v complex128, f *Flow) float64 {
	c := &m.circuits[i]
	was := f.current[i]
	scale := cmplx.Conj(over(f.sent[i], v)) * complex(1+f.ahead[i], 0)
	chain, own, apparent := m.chain[c.from:c.to], f.own[c.from:c.to], f.apparent[c.from:c.to]
	own, apparent = own[:len(chain)], apparent[:len(chain)]
	sRe, sIm := real(scale), imag(scale)
	in := was * scale
	inRe, inIm := real(in), imag(in)
	atRe, atIm, z := real(v), imag(v), c.home
	var sumRe, sumIm float64
	for k := range chain {
		t := &m.kinds[chain[k].kind]
		atRe -= z.r*inRe - z.x*inIm
		atIm -= z.r*inIm + z.x*inRe
		o := own[k]
		inRe -= o.re*sRe - o.im*sIm
		inIm -= o.re*sIm + o.im*sRe
		w := apparent[k] / (atRe*atRe + atIm*atIm)
		o = pair{w * (atRe*t.cos + atIm*t.sin), w * (atIm*t.cos - atRe*t.sin)}
		own[k] = o
		sumRe += o.re
		sumIm += o.im
		z = c.jump
	}
	f.current[i], f.sent[i] = complex(sumRe, sumIm), v
	if !(atRe*atRe+atIm*atIm > working*working*square(v)) {
		f.fallen[i] = true
	}
	f.ahead[i] = c.ahead(f.current[i], in, v)
	return length(f.current[i]-in) * c.whole
}

// ahead gives what part of its current a circuit will still gain when a round from one current came out at another. Each round leaves about that part of the
// error that is lost on the way to where the load is centred, three quarters of the whole for an even chain.
func (c *circuit) ahead(out, in, v complex128) float64 {
	size := square(out)
	if size == 0 {
		return 0
	}
	left := 0.75 * c.whole * math.Sqrt(size/square(v))
	gain := real((out-in)*cmplx.Conj(out)) / size
	return max(-0.1, min(0.1, gain*left))
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
	moved := length(v-f.sent[i]) > 10*fine
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

// report goes through a circuit once more and writes what its panels see.
func (m *Model) reportChain(i int, f *Flow) {
	c := &m.circuits[i]
	x := f.banks[c.bank].x
	at, in, z := f.sent[i], f.current[i], complex(c.home.r, c.home.x)
	for k := c.from; k < c.to; k++ {
		l := &m.chain[k]
		at -= z * in
		volts := math.Sqrt(real(at)*real(at) + imag(at)*imag(at))
		own := f.apparent[k] / volts
		x[c.loads[l.load].group] += own
		f.Panel[l.panel] = PanelFlow{units.Volts(volts), units.Amps(math.Sqrt(real(in)*real(in) + imag(in)*imag(in))), units.Amps(own)}
		in -= complex(f.own[k].re, f.own[k].im)
		z = complex(c.jump.r, c.jump.x)
	}
}
