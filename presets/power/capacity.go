package power

import (
	"time"

	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// Demand is what a state asks of what stands behind the supply.
type Demand struct {
	Apparent units.VoltAmps // over the legs, the voltage to the middle of the source times the leg's worst current
	Real     units.Watts    // of everything at its level, with what is lost on the way
}

// Demand gives what a state may ask of a transformer or generator. The legs' worst currents need not come at one moment, so the apparent power errs safe.
//
// What is lost on the way counts by the currents that it makes larger: constant-power panels at a lower voltage draw more, and that more times the full
// voltage is what the supply gives beyond what arrives, as far as the two are in step.
func (m *Model) Demand(s State) Demand {
	var d Demand
	outputs := m.outputOfPanels()
	at := m.Worst(s, nil)
	volts := units.VoltAmps(m.rig.Supply.Middle())
	for i, c := range m.conductors {
		switch c.Kind {
		case rig.SupplyLeg:
			d.Apparent += volts * units.VoltAmps(at[i])
		case rig.CircuitWire:
			d.Real += m.realOf(c.Circuit, s, outputs, at[i])
		}
	}
	for _, l := range m.rig.Loads {
		d.Real += m.realOfLoad(l)
	}
	return d
}

// realOf gives a circuit's active power from its panels' watts and its current.
func (m *Model) realOf(circuit int, s State, outputs []int, amps units.Amps) units.Watts {
	if s.LockedOff != nil && s.LockedOff[circuit] {
		return 0
	}
	c := m.rig.Circuits[circuit]
	var watts units.Watts
	var arrives float64
	for _, p := range c.Panels {
		t := m.rig.PanelTypes[m.rig.Panels[p].Type]
		w := t.Watts(levelOf(s, outputs[p]))
		watts, arrives = watts+w, arrives+float64(w)/float64(t.PF)
	}
	given := float64(amps) * float64(m.rig.Supply.Volts(len(c.Poles)))
	return watts + units.Watts(max(0, given-arrives))
}

// realOfLoad gives another load's active power. A power factor that is not known counts as 1.
func (m *Model) realOfLoad(l rig.OtherLoad) units.Watts {
	volts := float64(m.rig.Supply.Middle())
	switch len(l.Legs) {
	case 2:
		volts = float64(m.rig.Supply.LineLine)
	case 3:
		volts *= 3
	}
	pf := float64(l.PF)
	if !(pf > 0 && pf <= 1) {
		pf = 1
	}
	return units.Watts(float64(l.Current) * volts * pf)
}

// Rise gives the active power that a switch from black to a state adds: what a generator has to take up.
func (m *Model) Rise(s State) units.Watts {
	black := s
	black.Levels = make([]units.Level, len(s.Levels))
	return m.Demand(s).Real - m.Demand(black).Real
}

// StepOf gives the largest part of a rise that falls into one settling time of a generator, when the rise is spread evenly over a fade: all of it where there
// is no fade, where the fade is shorter, or where the settling time is not known, since then no fade can be shown to help.
func StepOf(rise units.Watts, fade, settle time.Duration) units.Watts {
	if settle <= 0 || fade <= settle {
		return rise
	}
	return units.Watts(float64(rise) * (float64(settle) / float64(fade)))
}
