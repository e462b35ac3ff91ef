package power

import (
	"math"
	"slices"

	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// Instantaneous gives the band in which a breaker of a curve trips at once: at low it must hold for 0.1 s, at high it must trip within that (IEC 60898-1). A
// curve that is not known gives zeros.
func Instantaneous(c rig.Curve, rated units.Amps) (low, high units.Amps) {
	times := map[rig.Curve][2]units.Amps{rig.CurveB: {3, 5}, rig.CurveC: {5, 10}, rig.CurveD: {10, 20}}[c]
	return times[0] * rated, times[1] * rated
}

// Basis says what a judgement of switching a circuit on rests on.
type Basis uint8

// The bases, from the best down. A maker's count of panels a breaker covers all that happens; peaks against a band are a bound.
const (
	NotKnown  Basis = iota
	MakersRow       // the maker's figure for such a breaker
	PeakBand        // the panels' inrush peaks against the low end of the breaker's band
)

// SwitchOn is whether a circuit's own breaker holds when it is closed on all of its panels.
type SwitchOn struct {
	Circuit int
	Basis   Basis
	Used    units.Share // of what the breaker holds; above 1 it may trip
	Most    int         // how many of its panels, from the first of the chain, the breaker holds; as many as there are where Used is at most 1
	Peak    units.Amps  // all panels' peaks together, crest; only on the basis of peaks
	Holds   units.Amps  // low end of the breaker's band; only on the basis of peaks
	Missing []int       // panel types of which neither figure is known, ascending
}

// SwitchOns judges every circuit in the rig's order.
func (m *Model) SwitchOns() []SwitchOn {
	all := make([]SwitchOn, len(m.rig.Circuits))
	for i := range all {
		all[i] = m.switchOn(i, m.rig.Circuits[i].Curve)
	}
	return all
}

// SwitchOnWith judges a circuit as if its breaker, of the same rating, had another curve.
func (m *Model) SwitchOnWith(circuit int, c rig.Curve) SwitchOn { return m.switchOn(circuit, c) }

// switchOn takes the makers' figures where every panel has one that fits: a panel of which n are allowed takes an nth of the breaker, so that mixed chains add
// up. Else it takes the peaks. Panels of a chain are switched on together, and their pulses come at one point of the wave, so peaks add up.
//
// Peaks are held against the low end of the band as it stands: with no factor for how much shorter than a half-wave the pulse is, since only the
// breaker's maker knows that one, and without what lies between a crest and an effective value. So the bound errs safe, by a factor of 1.4 and of the pulse's.
func (m *Model) switchOn(circuit int, curve rig.Curve) SwitchOn {
	c := m.rig.Circuits[circuit]
	of := SwitchOn{Circuit: circuit}
	if of.byMaker(m.rig, c, curve) {
		return of
	}
	low, _ := Instantaneous(curve, c.Breaker)
	for _, p := range c.Panels {
		kind := m.rig.Panels[p].Type
		peak := m.rig.PanelTypes[kind].Inrush.Peak
		if peak <= 0 {
			of.Missing = append(of.Missing, kind)
			continue
		}
		if of.Peak += peak; of.Peak <= low {
			of.Most++
		}
	}
	slices.Sort(of.Missing)
	of.Missing = slices.Compact(of.Missing)
	if len(of.Missing) > 0 || low == 0 {
		return SwitchOn{Circuit: circuit, Missing: of.Missing}
	}
	of.Basis, of.Holds, of.Used = PeakBand, low, units.Share(of.Peak/low)
	return of
}

// byMaker judges by the makers' figures and reports whether all panels have one.
func (of *SwitchOn) byMaker(r *rig.Rig, c rig.Circuit, curve rig.Curve) bool {
	counts := make([]int, len(r.PanelTypes))
	for i, p := range c.Panels {
		kind := r.Panels[p].Type
		if _, ok := perBreaker(r.PanelTypes[kind], c.Breaker, curve); !ok {
			*of = SwitchOn{Circuit: of.Circuit}
			return false
		}
		counts[kind]++
		if of.Used = usedBy(r, counts, c.Breaker, curve); of.Used <= 1 {
			of.Most = i + 1
		}
	}
	of.Basis = MakersRow
	return len(c.Panels) > 0
}

// usedBy adds up the parts of a breaker that panels take, by their number of each type.
func usedBy(r *rig.Rig, counts []int, breaker units.Amps, curve rig.Curve) units.Share {
	var used float64
	for kind, n := range counts {
		if n > 0 {
			most, _ := perBreaker(r.PanelTypes[kind], breaker, curve)
			used += float64(n) / float64(most)
		}
	}
	if math.Abs(used-1) < 1e-9 { // thirds and sevenths of a breaker that is just full
		return 1
	}
	return units.Share(used)
}

// perBreaker gives the maker's figure for a breaker, the first that fits.
func perBreaker(t rig.PanelType, breaker units.Amps, curve rig.Curve) (int, bool) {
	for _, row := range t.PerBreaker {
		if row.Panels > 0 && row.Breaker == breaker && (row.Curve == rig.NoCurve || row.Curve == curve) {
			return row.Panels, true
		}
	}
	return 0, false
}
