package power

import (
	"math"
	"slices"
)

// sweep finds the largest sum of currents whose directions are uncertain. Looked at from a direction φ, an arm of size X reaches X·cos of the angle from φ to the
// nearest direction that it may have, and the largest sum is the largest total reach over all φ. Between breakpoints that depend on the directions
// alone, the total is A·cos φ + B·sin φ + C, whose maximum has a closed form.
type sweep struct{ pieces []piece }

// piece is a stretch of φ below 180 degrees with the reach of every arm, per amp.
type piece struct {
	from, to struct{ cos, sin float64 }
	reach    []reach
}

// reach is a·cos φ + b·sin φ + c.
type reach struct{ a, b, c float64 }

// newSweep prepares the arms. With shed, an arm may be of any size up to its own, so one that would pull back is left out.
func newSweep(arms []arm, shed bool) *sweep {
	s := new(sweep)
	at := breakpoints(arms)
	for i, from := range at {
		to := at[(i+1)%len(at)]
		if i == len(at)-1 {
			to += 360
		}
		if to-from < 1e-9 {
			continue
		}
		var p piece
		p.from.cos, p.from.sin = unit(from)
		p.to.cos, p.to.sin = unit(to)
		for _, a := range arms {
			p.reach = append(p.reach, a.reach((from+to)/2, shed))
		}
		s.pieces = append(s.pieces, p)
	}
	return s
}

// breakpoints gives, ascending, where an arm's reach changes its form, and the quarter turns so that no piece is too long.
func breakpoints(arms []arm) []float64 {
	at := []float64{0, 90, 180, 270}
	for _, a := range arms {
		for _, turn := range []float64{a.spread, -a.spread, a.spread + 90, -a.spread - 90, 180} {
			d := math.Mod(a.angle+turn, 360)
			if d < 0 {
				d += 360
			}
			at = append(at, d)
		}
	}
	slices.Sort(at)
	return at
}

// reach gives how far the arm reaches near φ.
func (a arm) reach(phi float64, shed bool) reach {
	off := math.Remainder(phi-a.angle, 360)
	switch {
	case math.Abs(off) <= a.spread:
		return reach{c: 1}
	case shed && math.Abs(off) >= a.spread+90:
		return reach{}
	}
	re, im := unit(a.angle + math.Copysign(a.spread, off))
	return reach{a: re, b: im}
}

// largest gives the largest sum for arms of these sizes.
func (s *sweep) largest(x []float64) float64 {
	var best float64
	for i := range s.pieces {
		p := &s.pieces[i]
		var a, b, c float64
		for k, r := range p.reach {
			a, b, c = a+x[k]*r.a, b+x[k]*r.b, c+x[k]*r.c
		}
		best = max(best, a*p.from.cos+b*p.from.sin+c)
		if b*p.from.cos-a*p.from.sin > 0 && b*p.to.cos-a*p.to.sin < 0 {
			best = max(best, math.Sqrt(a*a+b*b)+c)
		}
	}
	return best
}
