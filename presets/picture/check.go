package picture

import (
	"fmt"

	"lookgate/presets/finding"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// Check gives everything that is wrong with a mode and a list of windows, in the order of the windows, then of the processors, then of the data runs.
// The mode and what the windows name are indexes into the rig's slices, as [rig.Rig] has them. It says nothing of power.
func Check(r *rig.Rig, mode int, windows []Window) []finding.Finding {
	var fs []finding.Finding
	for i, w := range windows {
		fs = append(fs, outsideRaster(r, i, w)...)
	}
	fs = append(fs, missingSources(r, windows)...)
	return append(fs, overfullRuns(r, r.Modes[mode])...)
}

// edge is one side of a window that reaches too far.
type edge struct {
	words           string
	computed, limit int
}

// by gives how many pixels the window reaches over its limit.
func (e edge) by() int64 {
	return max(int64(e.computed)-int64(e.limit), int64(e.limit)-int64(e.computed))
}

// outsideRaster finds a window that reaches outside its wall's raster, or that holds no pixel. All sides are named, and the numbers are those of the
// side that reaches furthest.
func outsideRaster(r *rig.Rig, i int, w Window) []finding.Finding {
	edges := overreach(w, Raster(r, w.Wall))
	if len(edges) == 0 {
		return nil
	}
	worst, words := edges[0], ""
	for k, e := range edges {
		if e.by() > worst.by() {
			worst = e
		}
		if k > 0 {
			words += ", "
		}
		words += e.words
	}
	f := finding.New(finding.WindowOutside, windowPlace(r, i, w), fmt.Sprintf("%s, and the raster is %d × %d px", words, r.Walls[w.Wall].PixelsX, r.Walls[w.Wall].PixelsY))
	f.Computed, f.Limit = units.InPixels(int64(worst.computed)), units.InPixels(int64(worst.limit))
	fit := Fit(r, w)
	f.Remedies = []finding.Remedy{{When: finding.Later, Words: fmt.Sprintf("the rectangle that fits: x %d, y %d, width %d, height %d px", fit.X, fit.Y, fit.Width, fit.Height)}}
	return []finding.Finding{f}
}

func overreach(w Window, raster Rect) []edge {
	var es []edge
	add := func(bad bool, computed, limit int, words string) {
		if bad {
			es = append(es, edge{fmt.Sprintf(words, computed), computed, limit})
		}
	}
	add(w.Width <= 0, w.Width, 1, "it is %d px wide")
	add(w.Height <= 0, w.Height, 1, "it is %d px high")
	if len(es) > 0 {
		return es
	}
	add(w.X < 0, w.X, 0, "its left edge is at %d px")
	add(w.X > raster.Width-w.Width, sum(w.X, w.Width), raster.Width, "its right edge is at %d px")
	add(w.Y < 0, w.Y, 0, "its top edge is at %d px")
	add(w.Y > raster.Height-w.Height, sum(w.Y, w.Height), raster.Height, "its bottom edge is at %d px")
	return es
}

// Fit gives the nearest rectangle to a window that lies on its wall's raster: moved where it is small enough, else cut.
func Fit(r *rig.Rig, w Window) Rect {
	all := Raster(r, w.Wall)
	width, height := min(max(w.Width, 1), all.Width), min(max(w.Height, 1), all.Height)
	return Rect{min(max(w.X, 0), all.Width-width), min(max(w.Y, 0), all.Height-height), width, height}
}

// sum adds without wrapping round: an edge beyond what a number holds stands at the largest number.
func sum(a, b int) int {
	const most = int(^uint(0) >> 1)
	if a > 0 && b > most-a {
		return most
	}
	return a + b
}

// windowPlace names a window by its number in the list, since windows have no names of their own.
func windowPlace(r *rig.Rig, i int, w Window) finding.Place {
	return finding.Place{Kind: "window", Name: fmt.Sprintf("%d (%s on %s)", i+1, r.Sources[w.Source].Name, r.Walls[w.Wall].Name)}
}
