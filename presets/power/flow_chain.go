package power

import (
	"math"
	"math/cmplx"
)

// chains solves every circuit at the voltages of its board.
func (m *Model) chains(s State, f *Flow) {
	for i := range m.circuits {
		c := &m.circuits[i]
		v := f.banks[c.bank].across(c.connection, m.rig.Supply.System.Legs())
		if s.LockedOff != nil && s.LockedOff[i] {
			f.still(c, v)
			f.sent[i] = v
			continue
		}
		f.start(c, f.sent[i], v)
		f.sent[i] = v
		m.chainAt(i, v, f)
	}
}

// still leaves a circuit's panels with voltage and without current.
func (f *Flow) still(c *circuit, v complex128) {
	for k := c.from; k < c.to; k++ {
		f.re[k], f.im[k], f.inRe[k], f.inIm[k] = real(v), imag(v), 0, 0
	}
}

// start gives the voltages that a chain is solved from: the sending voltage, or those of the last solve moved along with it.
func (f *Flow) start(c *circuit, before, v complex128) {
	if before == 0 {
		re, im := real(v), imag(v)
		for k := c.from; k < c.to; k++ {
			f.re[k], f.im[k] = re, im
		}
		return
	}
	move := v / before
	for k := c.from; k < c.to; k++ {
		at := complex(f.re[k], f.im[k]) * move
		f.re[k], f.im[k] = real(at), imag(at)
	}
}

// chainAt solves one circuit from the voltages that stand in f: the currents that the panels draw at their voltages, summed from the last to the first; then the
// voltages that these leave, from the first to the last; until no voltage changes by more than the error that is left to it.
func (m *Model) chainAt(i int, v complex128, f *Flow) {
	c := &m.circuits[i]
	if c.home.none() && c.jump.none() {
		f.current[i] = m.drawAt(c, f)
		return
	}
	floor := working * cmplx.Abs(v)
	floor *= floor
	before := math.Inf(1)
	for range most {
		f.current[i] = m.drawAt(c, f)
		change, low := f.lose(c, v)
		if low < floor || change > before && change > fine {
			break
		}
		// Each round takes the error down by the same part, so what is left is a geometric series.
		if part := change / before; change < fine && (math.IsInf(before, 1) || change*part < fine*(1-part)) {
			return
		}
		before = change
	}
	f.fallen[i] = true
}

// fine is the error in volts that a solve may leave.
const fine = 1e-4

// drawAt sums up the currents of a chain at the voltages of f, from the last panel to the first.
func (m *Model) drawAt(c *circuit, f *Flow) complex128 {
	chain := m.chain[c.from:c.to]
	n := len(chain)
	re, im, va := f.re[c.from:c.to][:n], f.im[c.from:c.to][:n], f.apparent[c.from:c.to][:n]
	inRe, inIm := f.inRe[c.from:c.to][:n], f.inIm[c.from:c.to][:n]
	var sumRe, sumIm float64
	for k := n - 1; k >= 0; k-- {
		t := &m.kinds[chain[k].kind]
		w := va[k] / (re[k]*re[k] + im[k]*im[k])
		sumRe += w * (re[k]*t.cos + im[k]*t.sin)
		sumIm += w * (im[k]*t.cos - re[k]*t.sin)
		inRe[k], inIm[k] = sumRe, sumIm
	}
	return complex(sumRe, sumIm)
}

// lose sets the voltages that the currents of f leave, and gives the largest change and the square of the lowest voltage.
func (f *Flow) lose(c *circuit, v complex128) (change, low float64) {
	n := c.to - c.from
	re, im := f.re[c.from:c.to][:n], f.im[c.from:c.to][:n]
	inRe, inIm := f.inRe[c.from:c.to][:n], f.inIm[c.from:c.to][:n]
	atRe, atIm, z := real(v), imag(v), c.home
	for k := range re {
		atRe -= z.r*inRe[k] - z.x*inIm[k]
		atIm -= z.r*inIm[k] + z.x*inRe[k]
		change = max(change, math.Abs(re[k]-atRe)+math.Abs(im[k]-atIm))
		re[k], im[k], z = atRe, atIm, c.jump
	}
	return change, atRe*atRe + atIm*atIm
}
