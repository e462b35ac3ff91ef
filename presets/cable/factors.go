package cable

import "lookgate/presets/units"

// band is one line of an ambient table: the factors up to a temperature, for insulations of 60, 75 and 90 °C. 0 is no figure: the cable may not be used there.
type band struct {
	to      units.Celsius
	factors [3]units.Share
}

// ambientNEC are the factors of NEC 310.15(B)(1) for ratings at 30 °C.
var ambientNEC = []band{
	{25, [3]units.Share{1.08, 1.05, 1.04}}, {30, [3]units.Share{1, 1, 1}}, {35, [3]units.Share{0.91, 0.94, 0.96}}, {40, [3]units.Share{0.82, 0.88, 0.91}},
	{45, [3]units.Share{0.71, 0.82, 0.87}}, {50, [3]units.Share{0.58, 0.75, 0.82}}, {55, [3]units.Share{0.41, 0.67, 0.76}}, {60, [3]units.Share{0, 0.58, 0.71}},
}

// ambientPVC are those of IEC 60364-5-52 table B.52.14 for PVC of 70 °C, as far as they are read: at 30, 40 and 50 °C.
var ambientPVC = []band{{30, [3]units.Share{1}}, {40, [3]units.Share{0.87}}, {50, [3]units.Share{0.71}}}

// AmbientFactor gives what part of its rating at 30 °C a cable carries in an ambient temperature, by the temperature that its insulation stands: 60, 75 and 90 °C by
// NEC 310.15(B)(1), in whose bands a temperature counts with the upper end; 70 °C (PVC) by IEC 60364-5-52. It is false outside the tables. Cooler than the tables'
// first line counts as that line, and cold is no reason for more than the rating.
func AmbientFactor(insulation, ambient units.Celsius) (units.Share, bool) {
	table, column := ambientNEC, 0
	switch insulation {
	case 60:
	case 75:
		column = 1
	case 90:
		column = 2
	case 70:
		table = ambientPVC
	default:
		return 0, false
	}
	for _, b := range table {
		if ambient <= b.to {
			return min(1, b.factors[column]), b.factors[column] > 0
		}
	}
	return 0, false
}

// GroupingFactor gives what part of its rating each of n current-carrying conductors carries that lie together: NEC 310.15(C)(1).
func GroupingFactor(n int) units.Share {
	switch {
	case n <= 3:
		return 1
	case n <= 6:
		return 0.80
	case n <= 9:
		return 0.70
	case n <= 20:
		return 0.50
	case n <= 30:
		return 0.45
	case n <= 40:
		return 0.40
	default:
		return 0.35
	}
}
