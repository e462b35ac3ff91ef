package units

// Unit names what a [Quantity] counts, in the letters that people read.
type Unit string

// The units that findings carry.
const (
	None   Unit = ""
	A      Unit = "A"
	V      Unit = "V"
	W      Unit = "W"
	Px     Unit = "px"
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

// InPixels wraps a count of pixels.
func InPixels(n int64) Quantity { return Quantity{float64(n), Px} }

// InBits wraps a data rate.
func InBits(b BitsPerSecond) Quantity { return Quantity{float64(b), Bps} }

// InLevel wraps a level.
func InLevel(l Level) Quantity { return Quantity{float64(l), Level1} }

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
	case Bps:
		return BitsPerSecond(q.Value).String()
	case Level1:
		return Level(q.Value).String()
	case Px:
		return trimmed(q.Value, 0) + " px"
	default:
		return trimmed(q.Value, 3)
	}
}
