package cable

import "lookgate/presets/units"

// perKft are resistances to direct current at 75 °C, of copper, in ohms for a thousand feet: NEC chapter 9 table 8, columns uncoated solid (which ends at 8 AWG),
// uncoated stranded and coated stranded. 0 is no figure.
var perKft = map[string][3]float64{
	"14 AWG": {3.07, 3.14, 3.26}, "12 AWG": {1.93, 1.98, 2.05}, "10 AWG": {1.21, 1.24, 1.29}, "8 AWG": {0.764, 0.778, 0.809}, "6 AWG": {0, 0.491, 0.510},
	"4 AWG": {0, 0.308, 0.321}, "3 AWG": {0, 0.245, 0.254}, "2 AWG": {0, 0.194, 0.201}, "1 AWG": {0, 0.154, 0.160}, "1/0 AWG": {0, 0.122, 0.127},
	"2/0 AWG": {0, 0.0967, 0.101}, "3/0 AWG": {0, 0.0766, 0.0797}, "4/0 AWG": {0, 0.0608, 0.0626},
}

// perKm are the highest resistances to direct current at 20 °C, of plain copper, in ohms for a kilometre: IEC 60228, class 2 and class 5.
var perKm = map[string][2]float64{
	"1 mm²": {18.1, 19.5}, "1.5 mm²": {12.1, 13.3}, "2.5 mm²": {7.41, 7.98}, "4 mm²": {4.61, 4.95}, "6 mm²": {3.08, 3.30}, "10 mm²": {1.83, 1.91}, "16 mm²": {1.15, 1.21},
	"25 mm²": {0.727, 0.780}, "35 mm²": {0.524, 0.554}, "50 mm²": {0.387, 0.386}, "70 mm²": {0.268, 0.272},
}

// reactancePerKft are reactances at 60 Hz of single conductors in a conduit that is not magnetic, in ohms for a thousand feet: NEC chapter 9 table 9.
var reactancePerKft = map[string]float64{
	"14 AWG": 0.058, "12 AWG": 0.054, "10 AWG": 0.050, "8 AWG": 0.052, "6 AWG": 0.051, "4 AWG": 0.048, "3 AWG": 0.047, "2 AWG": 0.045, "1 AWG": 0.046, "1/0 AWG": 0.044,
	"2/0 AWG": 0.043, "3/0 AWG": 0.042, "4/0 AWG": 0.041,
}

const (
	metresPerKft = 304.8
	alphaNEC     = 0.00323                     // per kelvin from 75 °C: the note to NEC chapter 9 table 8
	alphaIEC     = 0.00393                     // per kelvin from 20 °C: IEC 60228 for copper
	reactanceIEC = units.OhmsPerMetre(0.08e-3) // IEC 60364-5-52 annex G, its 0.08 mΩ/m; from memory
)

// Resistance gives the resistance of one conductor of copper at the temperature that it has under load, and whether the tables have that size so stranded. Class 2
// and class 5 are of sizes in mm², the others of American gauges.
func Resistance(s Size, st Stranding, at units.Celsius) (units.OhmsPerMetre, bool) {
	if st == Class2 || st == Class5 {
		r := perKm[s.String()][st-Class2]
		return units.OhmsPerMetre(r / 1000 * (1 + alphaIEC*(float64(at)-20))), r > 0
	}
	if st > Class5 {
		return 0, false
	}
	r := perKft[s.String()][st]
	return units.OhmsPerMetre(r / metresPerKft * (1 + alphaNEC*(float64(at)-75))), r > 0
}

// Reactance gives the reactance of one conductor at the mains' frequency, and whether the tables have that size. That of American gauges is for 60 Hz, which is above
// what it is at 50 Hz.
func Reactance(s Size) (units.OhmsPerMetre, bool) {
	if x, ok := reactancePerKft[s.String()]; ok {
		return units.OhmsPerMetre(x / metresPerKft), true
	}
	_, ok := perKm[s.String()]
	return reactanceIEC, ok
}
