package rig

import "strings"

// maxName is the longest name of a part, in characters: what still fits a button and a column of a table.
const maxName = 32

// ValidName reports whether a name can stand as one part of an OSC address: 1 to 32 printable ASCII characters, none of them one that OSC 1.0 gives
// a meaning in addresses and patterns.
func ValidName(s string) bool {
	if s == "" || len(s) > maxName {
		return false
	}
	for i := range len(s) {
		if s[i] <= ' ' || s[i] > '~' || strings.IndexByte("#*,/?[]{}", s[i]) >= 0 {
			return false
		}
	}
	return true
}

// names checks the names of every part that people or stations call by name.
func (f *finder) names() {
	nameAll(f, "cables", "cables", f.Cables, func(c Cable) string { return c.Name })
	nameAll(f, "boards", "boards", f.Boards, func(b Board) string { return b.Name })
	nameAll(f, "panel_types", "panel types", f.PanelTypes, func(t PanelType) string { return t.Name })
	nameAll(f, "walls", "walls", f.Walls, func(w Wall) string { return w.Name })
	nameAll(f, "circuits", "circuits", f.Circuits, func(c Circuit) string { return c.Name })
	nameAll(f, "loads", "loads", f.Loads, func(l OtherLoad) string { return l.Name })
	nameAll(f, "devices", "devices", f.Devices, func(d Device) string { return d.Name })
	nameAll(f, "outputs", "outputs", f.Outputs, func(o Output) string { return o.Name })
	nameAll(f, "zones", "zones", f.Zones, func(z Zone) string { return z.Name })
	nameAll(f, "processors", "processors", f.Processors, func(p Processor) string { return p.Name })
	nameAll(f, "data_runs", "data runs", f.DataRuns, func(d DataRun) string { return d.Name })
	nameAll(f, "sources", "sources", f.Sources, func(s Source) string { return s.Name })
	nameAll(f, "modes", "modes", f.Modes, func(m Mode) string { return m.Name })
	if !ValidName(f.Supply.Name) {
		f.add("name-bad", "supply", -1, "name", quoted(f.Supply.Name))
	}
}

func nameAll[T any](f *finder, part, words string, list []T, name func(T) string) {
	seen := make(map[string]bool, len(list))
	for i, x := range list {
		n := name(x)
		if !ValidName(n) {
			f.add("name-bad", part, i, "name", quoted(n))
		} else if seen[n] {
			f.add("name-twice", part, i, "name", quoted(n), words)
		}
		seen[n] = true
	}
}
