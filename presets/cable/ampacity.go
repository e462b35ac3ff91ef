package cable

import "lookgate/presets/units"

// Table names a column of published ampacities, of copper at an ambient temperature of 30 °C.
type Table string

// The columns. NEC 310.16: up to three current-carrying conductors in a raceway or cable, by the temperature that the insulation stands. NEC 400.5(A)(1): flexible
// cord, column A with three current-carrying conductors and B with two. Portable feeder cable (NEC 400.5(A)(2), Type W and stage cable) by its insulation and
// the number of current-carrying conductors in it. IEC 60364-5-52: PVC of 70 °C, three loaded conductors, in conduit on a wall (B2) or clipped to it (C), and C with two.
const (
	Building60 Table = "NEC 310.16, 60 °C"
	Building75 Table = "NEC 310.16, 75 °C"
	Building90 Table = "NEC 310.16, 90 °C"
	CordA      Table = "NEC 400.5(A)(1), column A"
	CordB      Table = "NEC 400.5(A)(1), column B"
	Feeder901  Table = "NEC 400.5(A)(2), 90 °C, 1 conductor"
	Feeder902  Table = "NEC 400.5(A)(2), 90 °C, 2 conductors"
	Feeder903  Table = "NEC 400.5(A)(2), 90 °C, 3 conductors"
	Feeder751  Table = "NEC 400.5(A)(2), 75 °C, 1 conductor"
	Feeder752  Table = "NEC 400.5(A)(2), 75 °C, 2 conductors"
	Feeder753  Table = "NEC 400.5(A)(2), 75 °C, 3 conductors"
	Feeder601  Table = "NEC 400.5(A)(2), 60 °C, 1 conductor"
	Feeder602  Table = "NEC 400.5(A)(2), 60 °C, 2 conductors"
	Feeder603  Table = "NEC 400.5(A)(2), 60 °C, 3 conductors"
	ConduitB2  Table = "IEC 60364-5-52, PVC, 3 loaded, B2"
	ClippedC   Table = "IEC 60364-5-52, PVC, 3 loaded, C"
	ClippedC2  Table = "IEC 60364-5-52, PVC, 2 loaded, C"
)

// sheet is several columns of one printed table, a row for each size. 0 is no figure.
type sheet struct {
	columns []Table
	rows    map[string][]units.Amps
}

// sheets are the printed tables. The two-loaded column of IEC 60364-5-52 is from memory; the others were read in secondary copies, which the rows of testdata/published
// name.
var sheets = []sheet{
	{[]Table{Building60, Building75, Building90}, map[string][]units.Amps{
		"14 AWG": {15, 20, 25}, "12 AWG": {20, 25, 30}, "10 AWG": {30, 35, 40}, "8 AWG": {40, 50, 55}, "6 AWG": {55, 65, 75}, "4 AWG": {70, 85, 95}, "3 AWG": {85, 100, 115},
		"2 AWG": {95, 115, 130}, "1 AWG": {110, 130, 145}, "1/0 AWG": {125, 150, 170}, "2/0 AWG": {145, 175, 195}, "3/0 AWG": {165, 200, 225}, "4/0 AWG": {195, 230, 260},
	}},
	{[]Table{CordA, CordB}, map[string][]units.Amps{
		"18 AWG": {7, 10}, "16 AWG": {10, 13}, "14 AWG": {15, 18}, "12 AWG": {20, 25}, "10 AWG": {25, 30}, "8 AWG": {35, 40}, "6 AWG": {45, 55}, "4 AWG": {60, 70}, "2 AWG": {80, 95},
	}},
	{[]Table{Feeder901, Feeder902, Feeder903, Feeder751, Feeder752, Feeder753, Feeder601, Feeder602, Feeder603}, map[string][]units.Amps{
		"4/0 AWG": {405, 361, 316, 360, 317, 277, 300, 265, 232}, "3/0 AWG": {350, 313, 274, 310, 275, 241, 260, 230, 201}, "2/0 AWG": {300, 271, 237, 265, 238, 208, 225, 199, 174},
		"1/0 AWG": {260, 234, 205, 230, 207, 181, 195, 173, 151}, "2 AWG": {190, 174, 152, 170, 152, 133, 140, 128, 112}, "4 AWG": {140, 130, 114, 125, 115, 101, 105, 96, 84},
		"6 AWG": {105, 99, 87, 95, 88, 77, 0, 0, 0}, "8 AWG": {80, 74, 65, 70, 65, 57, 0, 0, 0},
	}},
	{[]Table{ConduitB2, ClippedC, ClippedC2}, map[string][]units.Amps{
		"1.5 mm²": {15, 17, 19.5}, "2.5 mm²": {20, 24, 27}, "4 mm²": {27, 32, 36}, "6 mm²": {34, 41, 46}, "10 mm²": {46, 57, 63}, "16 mm²": {62, 76, 85}, "25 mm²": {80, 96, 0},
		"35 mm²": {99, 119, 0},
	}},
}

// Ampacity gives what a conductor of a size may carry by a column, before the factors for heat and company, and whether the column has the size.
func Ampacity(t Table, s Size) (units.Amps, bool) {
	for _, sh := range sheets {
		for i, c := range sh.columns {
			if c == t {
				row := sh.rows[s.String()]
				if row == nil {
					return 0, false
				}
				return row[i], row[i] > 0
			}
		}
	}
	return 0, false
}

// Most gives the highest ampacity that any column has for a size, and whether one has it: nothing of that size is rated above it at 30 °C.
func Most(s Size) (units.Amps, bool) {
	most := units.Amps(0)
	for _, sh := range sheets {
		for _, a := range sh.rows[s.String()] {
			most = max(most, a)
		}
	}
	return most, most > 0
}

// SmallBreaker gives the largest breaker that small copper conductors may stand behind, whatever they could carry: NEC 240.4(D). It is false for larger sizes.
func SmallBreaker(s Size) (units.Amps, bool) {
	switch s.String() {
	case "14 AWG":
		return 15, true
	case "12 AWG":
		return 20, true
	case "10 AWG":
		return 30, true
	}
	return 0, false
}

// HarmonicFactor gives what part of its rating a cable of four or five cores carries when its neutral is loaded by third harmonics, by their share of the line current,
// and whether it is the neutral's current that must be within it: IEC 60364-5-52 annex E, table E.52.1.
func HarmonicFactor(third units.Share) (part units.Share, byNeutral bool) {
	switch {
	case third <= 0.15:
		return 1, false
	case third <= 0.33:
		return 0.86, false
	case third <= 0.45:
		return 0.86, true
	default:
		return 1, true
	}
}
