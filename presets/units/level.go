package units

import "math"

// Level is an output's brightness as a fraction of the panels' calibrated peak, from 0 to 1.
type Level float64

// Valid reports whether the level is a number from 0 to 1.
func (l Level) Valid() bool { return l >= 0 && l <= 1 }

// String prints the level as per cent: "42 %".
func (l Level) String() string { return trimmed(float64(l)*100, 1) + " %" }

// Down gives the highest level that a device with so many steps can hold and that is not above l. Rounding is darker, never brighter,
// since a step up could carry a circuit over its limit. Steps of 0 leave l as it is. A level that is a step but for the last bits of a
// floating-point number counts as that step, so that a level survives the way to a device and back.
func (l Level) Down(steps int) Level {
	if steps <= 0 {
		return l
	}
	return Level(math.Floor(float64(l)*float64(steps)+stepSlack) / float64(steps))
}

// Up gives the lowest level on a step that is not below l: the safe reading of what a device reports.
func (l Level) Up(steps int) Level {
	if steps <= 0 {
		return l
	}
	return Level(math.Max(0, math.Ceil(float64(l)*float64(steps)-stepSlack)) / float64(steps))
}

// stepSlack is larger than what a level loses as a 32-bit float on the wire (6e-8 of it, times 65 535 steps) and far smaller than a step.
const stepSlack = 1e-2

// Index gives the step that l stands on, counted from 0, rounding down.
func (l Level) Index(steps int) int { return int(math.Floor(float64(l)*float64(steps) + stepSlack)) }
