package power

import (
	"slices"

	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// LeakageShare is how much of its rated residual current the loads behind a residual-current device may leak in normal use: 30 %, after IEC 60364-5-53 and
// BS 7671 531.3.2. The device may trip from 50 % on (IEC 61008-1), and leakage adds to what a fault, or switching on, brings besides.
const LeakageShare units.Share = 0.3

// Leakage is what the panels behind one residual-current device leak to earth in normal use.
type Leakage struct {
	Circuit  int // -1 where the device is a board's
	Board    int // -1 where it is a circuit's
	Residual units.Amps
	Sum      units.Amps // arithmetic, of the panels whose figure is known
	Limit    units.Amps // [LeakageShare] of the device's rating
	Unknown  []int      // panel types of whose leakage nothing is known, ascending
	Loads    []int      // other loads behind it, of whose leakage a rig says nothing
}

// Leakage gives every residual-current device of the rig with what leaks behind it: circuits' in the rig's order, then boards'. Leakages of different legs are
// out of step and add up to less; how much less nobody knows of supplies with filters of their own, so the plain sum counts.
func (m *Model) Leakage() []Leakage {
	var all []Leakage
	for i, c := range m.rig.Circuits {
		if c.Residual > 0 {
			l := Leakage{Circuit: i, Board: -1, Residual: c.Residual}
			l.leak(m.rig, c)
			all = append(all, l.closed())
		}
	}
	for i, b := range m.rig.Boards {
		if b.Residual <= 0 {
			continue
		}
		l := Leakage{Circuit: -1, Board: i, Residual: b.Residual}
		for _, c := range m.rig.Circuits {
			if hangsOn(m.rig, c.Board, i) {
				l.leak(m.rig, c)
			}
		}
		for k, load := range m.rig.Loads {
			if hangsOn(m.rig, load.Board, i) {
				l.Loads = append(l.Loads, k)
			}
		}
		all = append(all, l.closed())
	}
	return all
}

// leak adds a circuit's panels.
func (l *Leakage) leak(r *rig.Rig, c rig.Circuit) {
	for _, p := range c.Panels {
		kind := r.Panels[p].Type
		if a := r.PanelTypes[kind].Leakage; a > 0 {
			l.Sum += a
		} else {
			l.Unknown = append(l.Unknown, kind)
		}
	}
}

func (l Leakage) closed() Leakage {
	slices.Sort(l.Unknown)
	l.Unknown, l.Limit = slices.Compact(l.Unknown), units.Amps(float64(LeakageShare)*float64(l.Residual))
	return l
}

// hangsOn reports whether a board hangs on another, at once or through others; the supply, -1, has all behind it.
func hangsOn(r *rig.Rig, board, on int) bool {
	for at, fed := board, true; fed; at, fed = r.Fed(at) {
		if at == on {
			return true
		}
	}
	return on < 0
}
