package presets

import (
	"strconv"

	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// The standard ratings of breakers and mains. North American: NEC 240.6(A). IEC: preferred currents of IEC 60898-1 up to 125 A, above that the R10 series of
// IEC 60059 (from memory).
var (
	ratingsNorthAmerica = []units.Amps{15, 20, 25, 30, 35, 40, 45, 50, 60, 70, 80, 90, 100, 110, 125, 150, 175, 200, 225, 250, 300, 350, 400, 450, 500,
		600, 700, 800, 1000, 1200, 1600, 2000, 2500, 3000, 4000, 5000, 6000}
	ratingsIEC = []units.Amps{6, 8, 10, 13, 16, 20, 25, 32, 40, 50, 63, 80, 100, 125, 160, 200, 250, 315, 400, 500, 630, 800, 1000, 1250, 1600, 2000,
		2500, 3150, 4000, 5000, 6300}
)

// ratings chooses the list by how the board counts its poles, which is what tells the two practices apart.
func ratings(n rig.Numbering) []units.Amps {
	if n == rig.ByWays {
		return ratingsIEC
	}
	return ratingsNorthAmerica
}

// ratingFor gives the lowest standard rating that carries a current continuously at a factor.
func ratingFor(worst units.Amps, factor units.Share, n rig.Numbering) (units.Amps, bool) {
	for _, r := range ratings(n) {
		if units.Amps(float64(r)*float64(factor)) >= worst {
			return r, true
		}
	}
	return 0, false
}

// ratingAtMost gives the highest standard rating that is not above another.
func ratingAtMost(limit units.Amps, n rig.Numbering) (units.Amps, bool) {
	var best units.Amps
	for _, r := range ratings(n) {
		if r <= limit {
			best = r
		}
	}
	return best, best > 0
}

// short prints a rating as it stands on the breaker: "25 A".
func short(a units.Amps) string { return strconv.FormatFloat(float64(a), 'f', -1, 64) + " A" }

// against prints a current beside its limit: "18.4 A of at most 16.0 A", with as many decimals as it takes to tell them apart.
func against(worst, limit units.Amps) string {
	for n := 1; n < 9; n++ {
		a, b := strconv.FormatFloat(float64(worst), 'f', n, 64), strconv.FormatFloat(float64(limit), 'f', n, 64)
		if a != b {
			return a + " A of at most " + b + " A"
		}
	}
	return worst.String() + " of at most " + limit.String()
}
