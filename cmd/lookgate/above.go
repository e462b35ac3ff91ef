package main

import (
	"fmt"
	"time"

	"lookgate/presets"
	"lookgate/presets/units"
)

// aboveReport is a preset that takes circuits above their continuous limits for a while.
type aboveReport struct {
	Seconds  float64       `json:"seconds"` // at most, and then it is brought down
	Circuits []circuitTime `json:"circuits"`
}

// circuitTime is how long a circuit may be above its continuous limit, by the rig.
type circuitTime struct {
	Name    string  `json:"name"`
	Seconds float64 `json:"seconds"`     // over all looks
	Rest    float64 `json:"restSeconds"` // at or below the limit, before the next
}

// aboveOf names the circuits that a preset takes above their continuous limits; nil for none.
func aboveOf(plan *presets.Plan, v presets.Verdict, preset *presets.Preset) *aboveReport {
	if len(v.Above) == 0 {
		return nil
	}
	a := &aboveReport{Seconds: preset.Above.Seconds()}
	for _, i := range v.Above {
		c := plan.Rig.Circuits[i]
		a.Circuits = append(a.Circuits, circuitTime{c.Name, c.Above.For.Seconds(), c.Above.Rest.Seconds()})
	}
	return a
}

// aboveWords says for how long a preset is above continuous limits, and where.
func aboveWords(a *aboveReport) string {
	seconds := func(s float64) string { return units.Spoken(time.Duration(s * float64(time.Second))) }
	names := ""
	for i, c := range a.Circuits {
		if i == 4 && len(a.Circuits) > 5 {
			names += fmt.Sprintf(" and %d more", len(a.Circuits)-i)
			break
		}
		if i > 0 {
			names += ", "
		}
		names += fmt.Sprintf("%s (of %s, then %s of rest)", c.Name, seconds(c.Seconds), seconds(c.Rest))
	}
	return fmt.Sprintf("above the continuous limit for at most %s, then brought down by itself: circuit %s", seconds(a.Seconds), names)
}
