package rig

import (
	"fmt"
	"strings"

	"lookgate/presets/units"
)

// finder collects what the checks find.
type finder struct {
	*Rig
	found []Problem
}

// Problems gives everything that is wrong with the rig, not the first thing only, warnings among the rest. It takes any rig, also one whose indexes
// point nowhere: what cannot be looked at because of that is left out, and the index itself is a problem.
func (r *Rig) Problems() []Problem {
	f := &finder{Rig: r}
	f.references()
	f.names()
	f.supply()
	f.drop()
	f.cables()
	f.boards()
	f.panelTypes()
	f.panels()
	f.circuits()
	f.loads()
	f.devices()
	f.outputs()
	f.zones()
	f.processors()
	f.dataRuns()
	f.pictures()
	f.unusedCables()
	if !(r.Hold > 0) {
		f.add("time-not-positive", "", -1, "hold", "the hold time", inMs(r.Hold))
	}
	return f.found
}

// add makes a problem of the code's template.
func (f *finder) add(code, part string, index int, key string, args ...any) {
	t := template(code)
	p := Problem{Code: code, Part: part, Index: index, Key: key, Warning: t.Warning}
	p.Sentence, p.Hint = t.Fill(args...)
	f.found = append(f.found, p)
}

// positive finds a figure that is zero, negative or no number.
func positive[T ~float64](f *finder, part string, index int, key, of string, v T) {
	positiveAs(f, part, index, key, of, v, v)
}

// positiveAs does so and prints the figure in other words.
func positiveAs[T ~float64](f *finder, part string, index int, key, of string, v T, words any) {
	if !(v > 0) || !units.Finite(v) {
		inner := key[strings.LastIndexByte(key, '.')+1:]
		f.add("figure-not-positive", part, index, key, inner+" of "+of, words)
	}
}

// stated finds a figure that may be left out, which 0 stands for, and that is below zero or no number.
func stated[T ~float64](f *finder, part string, index int, key, of string, v T, words any) {
	if v != 0 {
		positiveAs(f, part, index, key, of, v, words)
	}
}

// whole finds a count that is not above zero.
func (f *finder) whole(part string, index int, key, of string, n int) {
	if n <= 0 {
		f.add("figure-not-positive", part, index, key, key+" of "+of, n)
	}
}

// factor finds a continuous factor that is no part of a rating.
func (f *finder) factor(part string, index int, of string, s units.Share) {
	if !partOf(s) {
		f.add("factor-range", part, index, "factor", of, s)
	}
}

// partOf reports whether s is above 0 and at most 1.
func partOf(s units.Share) bool { return s > 0 && s <= 1 }

// has reports whether i is an index into n things.
func has(i, n int) bool { return i >= 0 && i < n }

// references finds indexes that point nowhere.
func (f *finder) references() {
	walls, types, boards := len(f.Walls), len(f.PanelTypes), len(f.Boards)
	for i, b := range f.Boards {
		f.reference("boards", i, "fed_by", b.Name, "board", b.From, boards+1)
	}
	panels, devices := len(f.Panels), len(f.Devices)
	for i, w := range f.Walls {
		f.reference("walls", i, "panel", w.Name, "panel type", w.Type, types)
	}
	for i, p := range f.Panels {
		at := fmt.Sprintf("panel %d", i)
		f.reference("walls", p.Wall, "", at, "wall", p.Wall, walls)
		f.reference("walls", p.Wall, "", at, "panel type", p.Type, types)
	}
	for i, c := range f.Circuits {
		f.reference("circuits", i, "board", c.Name, "board", c.Board, boards)
		f.reference("circuits", i, "panels", c.Name, "panel", outside(c.Panels, panels), panels)
	}
	for i, l := range f.Loads {
		f.reference("loads", i, "board", l.Name, "board", l.Board, boards)
	}
	for i, o := range f.Outputs {
		f.reference("outputs", i, "device", o.Name, "device", o.Device, devices)
		f.reference("outputs", i, "panels", o.Name, "panel", outside(o.Panels, panels), panels)
	}
	for i, z := range f.Zones {
		f.reference("zones", i, "outputs", z.Name, "output", outside(z.Outputs, len(f.Outputs)), len(f.Outputs))
	}
	for i, p := range f.Processors {
		f.reference("processors", i, "name", p.Name, "device", p.Device, devices)
		f.reference("processors", i, "inputs", p.Name, "source", outside(p.Inputs, len(f.Sources)), len(f.Sources))
	}
	for i, d := range f.DataRuns {
		f.reference("data_runs", i, "processor", d.Name, "processor", d.Processor, len(f.Processors))
		f.reference("data_runs", i, "panels", d.Name, "panel", outside(d.Panels, panels), panels)
	}
}

func (f *finder) reference(part string, index int, key, from, to string, i, n int) {
	if i != inside && !has(i, n) {
		f.add("reference-broken", part, index, key, from, to, i, n)
	}
}

// inside says that a list has no index outside its bounds.
const inside = -1 << 62

// outside gives the first index that points nowhere, or inside.
func outside(list []int, n int) int {
	for _, i := range list {
		if !has(i, n) {
			return i
		}
	}
	return inside
}
