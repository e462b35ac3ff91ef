// Package hatch gives chains of panels hatches that tell neighbours apart without colour: the same one on paper and on the wall.
package hatch

import (
	"slices"

	"lookgate/presets/rig"
)

// Tile is the side of the square that a hatch repeats, in units of its own; lines are one unit wide.
const Tile = 8

// Line is one stroke of a hatch, from one point of the tile to another. What reaches out of the tile comes back in at the other side.
type Line struct{ X1, Y1, X2, Y2 int }

var (
	rising  = []Line{{0, 8, 8, 0}, {-2, 2, 2, -2}, {6, 10, 10, 6}}
	falling = []Line{{0, 0, 8, 8}, {-2, 6, 2, 10}, {6, -2, 10, 2}}
	level   = []Line{{0, 4, 8, 4}}
	upright = []Line{{4, 0, 4, 8}}
)

// hatches are all there are. The first is plain.
var hatches = [][]Line{
	nil,
	rising,
	level,
	falling,
	upright,
	slices.Concat(level, upright),
	{{3, 4, 5, 4}}, // dots
	slices.Concat(rising, falling),
}

// Count is the number of hatches.
var Count = len(hatches)

// Lines gives the strokes of a hatch, from 0 to [Count] - 1.
func Lines(hatch int) []Line { return hatches[hatch] }

// place is where a panel stands.
type place struct{ wall, column, row int }

// Assign gives each chain a hatch, so that no two whose panels touch, also at a corner, have the same one, while there are hatches left for that. Each panel is on
// one chain.
func Assign(r *rig.Rig, chains [][]int) []int {
	owner := map[place]int{}
	for i, panels := range chains {
		for _, p := range panels {
			owner[placeOf(r, p)] = i
		}
	}
	given := make([]int, len(chains))
	for i, panels := range chains {
		var taken [16]int // how many panels at its side have the hatch already
		for _, p := range panels {
			around(placeOf(r, p), func(at place) {
				if o, ok := owner[at]; ok && o < i {
					taken[given[o]]++
				}
			})
		}
		given[i] = freest(taken[:Count], i)
	}
	return given
}

func placeOf(r *rig.Rig, panel int) place {
	p := r.Panels[panel]
	return place{p.Wall, p.Column, p.Row}
}

func around(p place, do func(place)) {
	for dx := -1; dx <= 1; dx++ {
		for dy := -1; dy <= 1; dy++ {
			if dx != 0 || dy != 0 {
				do(place{p.wall, p.column + dx, p.row + dy})
			}
		}
	}
}

// freest gives the hatch that is taken the least, the first from i on.
func freest(taken []int, i int) int {
	best := i % len(taken)
	for k := range taken {
		if at := (i + k) % len(taken); taken[at] < taken[best] {
			best = at
		}
	}
	return best
}
