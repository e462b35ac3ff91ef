package rig

import (
	"math"

	"lookgate/presets/units"
)

func (f *finder) panelTypes() {
	used := make([]bool, len(f.PanelTypes))
	for _, p := range f.Panels {
		if has(p.Type, len(used)) {
			used[p.Type] = true
		}
	}
	for i, t := range f.PanelTypes {
		f.panelType(i, t)
		if !used[i] {
			f.add("type-unused", "panel_types", i, "name", t.Name)
		}
	}
}

func (f *finder) panelType(i int, t PanelType) {
	of := "panel type " + t.Name
	positive(f, "panel_types", i, "size_mm", of, t.Width)
	positive(f, "panel_types", i, "size_mm", of, t.Height)
	f.whole("panel_types", i, "pixels", of, t.PixelsX)
	f.whole("panel_types", i, "pixels", of, t.PixelsY)
	positive(f, "panel_types", i, "peak_nits", of, t.Peak)
	positive(f, "panel_types", i, "white_w", of, t.White)
	positive(f, "panel_types", i, "feed_through_a", of, t.FeedThrough)
	if !(t.Black >= 0) {
		f.add("figure-negative", "panel_types", i, "black_w", "black_w of "+of, t.Black)
	} else if t.White > 0 && t.White < t.Black {
		f.add("white-below-black", "panel_types", i, "white_w", t.Name, t.White, t.Black)
	}
	f.nature("panel_types", i, of, t.PF, t.Displacement, t.DisplacementKnown, t.Third)
	f.primaries(i, t)
	f.switchOn(i, t)
}

// primariesOff is how far the primaries' figures together may be from the white figure before somebody should know.
const primariesOff = 0.1

// primaries checks what full level of each primary alone adds to black.
func (f *finder) primaries(i int, t PanelType) {
	of, sum, known := "panel type "+t.Name, units.Watts(0), 0
	missing := ""
	for _, p := range []struct {
		key   string
		watts units.Watts
	}{{"red_w", t.Red}, {"green_w", t.Green}, {"blue_w", t.Blue}} {
		stated(f, "panel_types", i, p.key, of, p.watts, p.watts)
		if sum += p.watts; p.watts != 0 {
			known++
		} else {
			missing = p.key
		}
	}
	switch {
	case known == 0:
	case known < 3:
		f.add("primaries-part", "panel_types", i, "", t.Name, missing)
	case t.White > 0 && math.Abs(float64(t.Black+sum-t.White)) > primariesOff*float64(t.White):
		f.add("primaries-sum", "panel_types", i, "white_w", t.Name, t.Black+sum, t.White)
	}
}

// switchOn checks what a panel draws when it is switched on, and what it leaks.
func (f *finder) switchOn(i int, t PanelType) {
	of := "panel type " + t.Name
	stated(f, "panel_types", i, "inrush_peak_a", of, t.Inrush.Peak, t.Inrush.Peak)
	if t.Inrush.Width < 0 {
		f.add("figure-not-positive", "panel_types", i, "inrush_us", "inrush_us of "+of, t.Inrush.Width)
	}
	if t.Inrush.Peak != 0 && t.Inrush.Width == 0 {
		f.add("figure-alone", "panel_types", i, "inrush_peak_a", "inrush_peak_a", "inrush_us")
	}
	if t.Inrush.Width != 0 && t.Inrush.Peak == 0 {
		f.add("figure-alone", "panel_types", i, "inrush_us", "inrush_us", "inrush_peak_a")
	}
	for _, row := range t.PerBreaker {
		if !(row.Breaker > 0) || !units.Finite(row.Breaker) || row.Panels < 1 {
			f.add("per-breaker", "panel_types", i, "per_breaker", t.Name, plural(row.Panels, "panel"), row.Breaker)
		}
	}
	if !(t.Leakage >= 0) || !units.Finite(t.Leakage) {
		f.add("figure-negative", "panel_types", i, "leakage_ma", "leakage_ma of "+of, units.InMilliamps(t.Leakage))
	}
}

// place is where one panel stands.
type place struct{ wall, column, row int }

func (f *finder) panels() {
	for i, w := range f.Walls {
		f.whole("walls", i, "columns", "wall "+w.Name, w.Columns)
		f.whole("walls", i, "rows", "wall "+w.Name, w.Rows)
	}
	seen := make(map[place]bool, len(f.Panels))
	for i, p := range f.Panels {
		if !has(p.Wall, len(f.Walls)) || !has(p.Type, len(f.PanelTypes)) {
			continue
		}
		w, at := f.Walls[p.Wall], place{p.Wall, p.Column, p.Row}
		if !has(p.Column-1, w.Columns) || !has(p.Row-1, w.Rows) || seen[at] {
			f.add("panel-misplaced", "walls", p.Wall, "", f.PanelName(i))
		}
		seen[at] = true
		if has(w.Type, len(f.PanelTypes)) && !alike(f.PanelTypes[p.Type], f.PanelTypes[w.Type]) {
			f.add("wall-mixed-pixels", "walls", p.Wall, "except", f.PanelName(i), f.PanelTypes[p.Type].Name, f.PanelTypes[w.Type].Name)
		}
	}
}

// alike reports whether two types fit into one regular raster.
func alike(a, b PanelType) bool {
	return a.Width == b.Width && a.Height == b.Height && a.PixelsX == b.PixelsX && a.PixelsY == b.PixelsY
}

// chain is one circuit, data run or output: a name and its panels.
type chain struct {
	name   string
	panels []int
}

// chains checks that every panel is on exactly one chain of a kind, once. What is wrong is told by chain, by pair of chains and by wall, since one
// mistake can concern hundreds of panels.
func (f *finder) chains(part, word, verb string, chains []chain) {
	owner := make([]int, len(f.Panels)) // chain, from 1
	for i, c := range chains {
		if len(c.panels) == 0 {
			f.add("chain-empty", part, i, "panels", word, c.name)
		}
		var twice []int
		shared, with := map[int][]int{}, []int{}
		for _, p := range c.panels {
			switch {
			case !has(p, len(owner)):
			case owner[p] == i+1:
				twice = append(twice, p)
			case owner[p] != 0:
				other := owner[p] - 1
				if shared[other] == nil {
					with = append(with, other)
				}
				shared[other] = append(shared[other], p)
			default:
				owner[p] = i + 1
			}
		}
		if len(twice) > 0 {
			f.add("chain-twice", part, i, "panels", word, c.name, verb, f.PanelNames(twice))
		}
		for _, other := range with {
			f.add("panel-in-two", part, i, "panels", word, chains[other].name, c.name, f.PanelNames(shared[other]))
		}
	}
	f.chainless(word, owner)
}

// chainless tells, by wall, which panels no chain has.
func (f *finder) chainless(word string, owner []int) {
	without := make([][]int, len(f.Walls))
	for p, o := range owner {
		if o == 0 && has(f.Panels[p].Wall, len(without)) {
			without[f.Panels[p].Wall] = append(without[f.Panels[p].Wall], p)
		}
	}
	for wall, panels := range without {
		if len(panels) > 0 {
			f.add("panel-in-none", "walls", wall, "", counted(len(panels)), word, f.PanelNames(panels))
		}
	}
}
