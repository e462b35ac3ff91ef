package units

import "time"

// Unit names what a [Quantity] counts, in the letters that people read.
type Unit string

// The units that findings carry.
const (
	None   Unit = ""
	A      Unit = "A"
	V      Unit = "V"
	W      Unit = "W"
	VA     Unit = "VA"
	MA     Unit = "mA" // of leakage, which is a matter of thousandths
	Part   Unit = "share"
	Px     Unit = "px"
	S      Unit = "s"
	Bps    Unit = "b/s"
	Level1 Unit = "level"
	Count  Unit = "count"
)

// Quantity is a number with its unit, where one field has to hold any of them: a finding's computed value and its limit.
type Quantity struct {
	Value float64 `json:"value"`
	Unit  Unit    `json:"unit"`
}

// InAmps wraps a current.
func InAmps(a Amps) Quantity { return Quantity{float64(a), A} }

// InMilliamps wraps a current that is a matter of thousandths.
func InMilliamps(a Amps) Quantity { return Quantity{float64(a) * 1000, MA} }

// InWatts wraps active power.
func InWatts(w Watts) Quantity { return Quantity{float64(w), W} }

// InVoltAmps wraps apparent power.
func InVoltAmps(va VoltAmps) Quantity { return Quantity{float64(va), VA} }

// InShare wraps a part of something.
func InShare(s Share) Quantity { return Quantity{float64(s), Part} }

// InPixels wraps a count of pixels.
func InPixels(n int64) Quantity { return Quantity{float64(n), Px} }

// InBits wraps a data rate.
func InBits(b BitsPerSecond) Quantity { return Quantity{float64(b), Bps} }

// InLevel wraps a level.
func InLevel(l Level) Quantity { return Quantity{float64(l), Level1} }

// InSeconds wraps a length of time.
func InSeconds(d time.Duration) Quantity { return Quantity{d.Seconds(), S} }

// InCount wraps a number of things.
func InCount(n int) Quantity { return Quantity{float64(n), Count} }

// String prints the number as its unit's own type prints it.
func (q Quantity) String() string {
	switch q.Unit {
	case A:
		return Amps(q.Value).String()
	case V:
		return Volts(q.Value).String()
	case W:
		return Watts(q.Value).String()
	case VA:
		return VoltAmps(q.Value).String()
	case MA:
		return trimmed(q.Value, 1) + " mA"
	case Part:
		return Share(q.Value).String()
	case Bps:
		return BitsPerSecond(q.Value).String()
	case Level1:
		return Level(q.Value).String()
	case S:
		return Spoken(time.Duration(q.Value * float64(time.Second)))
	case Px:
		return trimmed(q.Value, 0) + " px"
	default:
		return trimmed(q.Value, 3)
	}
}
