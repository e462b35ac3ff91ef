// Package units holds the physical quantities that cross package borders: each has its own type, so that a level cannot be taken for a share
// or watts for amps. It parses them from the words of a site file, prints them for people and compares them.
package units

import (
	"fmt"
	"math"
	"strconv"
)

// The quantities. Each is a plain number in the unit that its name gives.
type (
	// Amps is a current in amperes, rms.
	Amps float64
	// Volts is a voltage in volts, rms.
	Volts float64
	// Watts is active power in watts.
	Watts float64
	// VoltAmps is apparent power in volt-amperes.
	VoltAmps float64
	// Ohms is a resistance in ohms.
	Ohms float64
	// Nits is a luminance in candela per square metre.
	Nits float64
	// Stops is a ratio of light as a power of two: one stop up is twice the light.
	Stops float64
	// Degrees is an angle. A displacement is positive where the current lags.
	Degrees float64
	// Millimetres is a length.
	Millimetres float64
	// Metres is a length of cable, one way.
	Metres float64
	// OhmsPerMetre is the resistance or reactance of one conductor of a cable, for each metre of it.
	OhmsPerMetre float64
	// Celsius is a temperature.
	Celsius float64
	// Share is a fraction of something, from 0 to 1: a continuous factor, a power factor, a usable part of a link.
	Share float64
	// BitsPerSecond is a data rate.
	BitsPerSecond float64
)

// String prints amps with the tenths that a clamp meter shows: "14.2 A".
func (a Amps) String() string { return decimals(float64(a), 1) + " A" }

// String prints volts: "208 V", "117.6 V".
func (v Volts) String() string { return trimmed(float64(v), 1) + " V" }

// String prints watts: "2844 W".
func (w Watts) String() string { return trimmed(float64(w), 1) + " W" }

// String prints volt-amperes, large ones as they stand on a plate: "2994 VA", "150 kVA".
func (va VoltAmps) String() string {
	if math.Abs(float64(va)) >= 10_000 {
		return trimmed(float64(va)/1000, 2) + " kVA"
	}
	return trimmed(float64(va), 1) + " VA"
}

// String prints ohms: "0.4 ohm".
func (o Ohms) String() string { return trimmed(float64(o), 4) + " ohm" }

// String prints nits: "600 nits".
func (n Nits) String() string { return trimmed(float64(n), 1) + " nits" }

// String prints stops with their sign: "+0.6 stops".
func (s Stops) String() string {
	if math.IsInf(float64(s), 0) {
		return "no light"
	}
	return fmt.Sprintf("%+.1f stops", float64(s))
}

// String prints degrees: "18.2°".
func (d Degrees) String() string { return trimmed(float64(d), 1) + "°" }

// String prints millimetres: "500 mm".
func (m Millimetres) String() string { return trimmed(float64(m), 1) + " mm" }

// String prints metres: "12.5 m".
func (m Metres) String() string { return trimmed(float64(m), 2) + " m" }

// String prints what cable tables print, for a kilometre: "6.496 ohm/km".
func (o OhmsPerMetre) String() string { return trimmed(float64(o)*1000, 4) + " ohm/km" }

// String prints a temperature: "40 °C".
func (c Celsius) String() string { return trimmed(float64(c), 1) + " °C" }

// String prints a share as per cent: "80 %".
func (s Share) String() string { return trimmed(float64(s)*100, 1) + " %" }

// String prints a data rate with the prefix that links are sold by: "940 Mb/s".
func (b BitsPerSecond) String() string {
	switch v := float64(b); {
	case v >= 1e9:
		return trimmed(v/1e9, 3) + " Gb/s"
	case v >= 1e6:
		return trimmed(v/1e6, 1) + " Mb/s"
	default:
		return trimmed(v, 0) + " b/s"
	}
}

// StopsBetween gives the stops from one amount of light up to another. From nothing, or to nothing, it is infinite.
func StopsBetween(from, to Level) Stops { return Stops(math.Log2(float64(to) / float64(from))) }

// Finite reports whether v is a number that can be computed with: neither NaN nor infinite.
func Finite[T ~float64](v T) bool { return !math.IsNaN(float64(v)) && !math.IsInf(float64(v), 0) }

func decimals(v float64, n int) string { return strconv.FormatFloat(v, 'f', n, 64) }

// trimmed prints at most n decimals and no trailing zeros.
func trimmed(v float64, n int) string {
	p := math.Pow(10, float64(n))
	return strconv.FormatFloat(math.Round(v*p)/p, 'f', -1, 64)
}
