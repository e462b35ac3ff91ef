package power

import (
	"encoding/binary"
	"slices"
)

// A norm is largest at a corner of the box of sizes, and which corners can be largest does not depend on the sizes: they are the corners of a zonotope whose
// edges keep their directions. So the sets are found once, and a solve only measures them. A set too many costs time and never exactness, since every
// set is a possible state; a set too few would be an overrun that nobody sees.

// everySet lists every set of arms.
func everySet(arms []arm) [][]arm {
	var sets [][]arm
	for bits := range 1 << len(arms) {
		var set []arm
		for i, a := range arms {
			if bits>>i&1 == 1 {
				set = append(set, a)
			}
		}
		sets = append(sets, set)
	}
	return sets
}

// undominated drops every set that another one exceeds whatever the sizes: an arm that points away from none of a set's arms only makes it larger.
func undominated(arms []arm, sets [][]arm) [][]arm {
	return slices.DeleteFunc(sets, func(set []arm) bool {
		return slices.ContainsFunc(arms, func(a arm) bool { return !slices.Contains(set, a) && a.onlyAdds(set) })
	})
}

func (a arm) onlyAdds(set []arm) bool {
	return !slices.ContainsFunc(set, func(b arm) bool {
		return a.re*b.re+a.im*b.im < 0 || a.form == b.form && a.third*b.third < 0
	})
}

// vector is a current in the plane of the fundamental, with the third harmonic upright on it.
type vector [3]float64

func (a arm) vector() vector { return vector{a.re, a.im, a.third} }

func (v vector) dot(u vector) float64 { return v[0]*u[0] + v[1]*u[1] + v[2]*u[2] }

func (v vector) cross(u vector) vector {
	return vector{v[1]*u[2] - v[2]*u[1], v[2]*u[0] - v[0]*u[2], v[0]*u[1] - v[1]*u[0]}
}

// outerSets lists the sets that are corners of the zonotope: those on the far side of some plane. Every corner touches a facet, whose normal stands upright
// on two of the arms, and on that facet an edge along one of them; so it is the far side by the normal, ties settled across the edge, the rest along it.
func outerSets(arms []arm) [][]arm {
	var sets [][]arm
	seen := make(map[string]bool)
	add := func(order [3]vector) {
		set, key := farSide(arms, order)
		if !seen[key] {
			seen[key] = true
			sets = append(sets, set)
		}
	}
	for _, a := range arms {
		for _, b := range arms {
			edge := a.vector()
			normal := edge.cross(b.vector())
			across := normal.cross(edge)
			for signs := range 8 {
				add([3]vector{normal.signed(signs & 1), across.signed(signs & 2), edge.signed(signs & 4)})
			}
		}
	}
	return sets
}

func (v vector) signed(minus int) vector {
	if minus == 0 {
		return v
	}
	return vector{-v[0], -v[1], -v[2]}
}

// farSide gives the arms on the far side by the first direction that does not tie, and a key for the set.
func farSide(arms []arm, order [3]vector) (set []arm, key string) {
	var id []byte
	for i, a := range arms {
		if ahead(a.vector(), order) {
			set = append(set, a)
			id = binary.AppendUvarint(id, uint64(i))
		}
	}
	return set, string(id)
}

// tie is larger than what rounding leaves of a product that should be nothing, with arms of length one.
const tie = 1e-12

func ahead(v vector, order [3]vector) bool {
	for _, d := range order {
		if p := v.dot(d); p > tie || p < -tie {
			return p > 0
		}
	}
	return false
}
