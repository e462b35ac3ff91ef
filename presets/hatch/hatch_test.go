package hatch_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/hatch"
	"lookgate/presets/rig"
	"lookgate/presets/rig/rigtest"
)

// touching reports whether two panels stand side by side or corner to corner.
func touching(a, b rig.Panel) bool {
	dx, dy := a.Column-b.Column, a.Row-b.Row
	return a.Wall == b.Wall && dx*dx <= 1 && dy*dy <= 1
}

func TestNeighboursDiffer(t *testing.T) {
	r := rigtest.Wye()
	rigtest.AddWall(r, "odd", 13, 7)
	wall := len(r.Walls) - 1
	var chains [][]int
	for _, size := range []int{3, 1, 5, 2, 7, 4, 6, 3, 9, 1, 2, 8, 40} { // by columns, wherever they end
		from := 0
		for _, c := range chains {
			from += len(c)
		}
		all := rigtest.Columns(r, wall, 1, 13)
		chains = append(chains, all[from:from+size])
	}
	given := hatch.Assign(r, chains)
	require.Len(t, given, len(chains))
	pairs := 0
	for i := range chains {
		for j := range i {
			for _, a := range chains[i] {
				for _, b := range chains[j] {
					if touching(r.Panels[a], r.Panels[b]) {
						require.NotEqual(t, given[i], given[j], "chains %d and %d", i, j)
						pairs++
					}
				}
			}
		}
	}
	require.Greater(t, pairs, 20, "the chains touch")
}

func TestMoreNeighboursThanHatches(t *testing.T) {
	r := rigtest.Wye()
	rigtest.AddWall(r, "ring", 5, 5)
	wall := len(r.Walls) - 1
	var chains [][]int
	for _, p := range rigtest.Columns(r, wall, 1, 5) {
		chains = append(chains, []int{p})
	}
	for _, h := range hatch.Assign(r, chains) {
		require.GreaterOrEqual(t, h, 0)
		require.Less(t, h, hatch.Count)
	}
}

func TestHatchesAreAllDifferent(t *testing.T) {
	for i := range hatch.Count {
		for j := range i {
			require.NotEqual(t, hatch.Lines(i), hatch.Lines(j))
		}
	}
}
