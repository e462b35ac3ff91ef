package plant

import (
	"math"
	"math/cmplx"
	"math/rand/v2"

	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// degrees is a true displacement: how far a load's current lags its voltage.
type degrees = units.Degrees

// conductorAt is what the arithmetic needs to know of one of the rig's conductors.
type conductorAt struct {
	kind                rig.Kind
	circuit, board, leg int
}

// bus adds up what hangs on one board, or on the supply.
type bus struct {
	leg     [3]complex128 // phasor of each leg's current
	neutral complex128    // fundamental of what line-to-neutral loads return through the neutral
	third   float64       // third harmonic that they return, in amperes; of a split-phase second leg it counts negative
}

// drawAngles draws the true displacement of each panel type and other load of which the rig does not know it: anything within plus or minus arccos of its power
// factor, since displacement alone cannot make the power factor better than its cosine. Both ends are drawn often.
func (p *Plant) drawAngles() {
	for _, t := range p.rig.PanelTypes {
		p.typeAngles = append(p.typeAngles, drawAngle(p.rng, t.DisplacementKnown, t.Displacement, t.PF))
	}
	for _, l := range p.rig.Loads {
		p.loadAngles = append(p.loadAngles, drawAngle(p.rng, l.DisplacementKnown, l.Displacement, l.PF))
	}
}

func drawAngle(rng *rand.Rand, known bool, is units.Degrees, pf units.Share) degrees {
	if known {
		return is
	}
	most := units.Degrees(math.Acos(float64(pf)) * 180 / math.Pi)
	switch rng.IntN(4) {
	case 0:
		return most
	case 1:
		return -most
	}
	return most * units.Degrees(2*rng.Float64()-1)
}

// True gives the true current of every conductor, in the order of the rig's conductors, appended to dst[:0]. It adds the phasor of every single panel and load:
// line-to-neutral voltages stand at 0, -120 and +120 degrees (split phase at 0 and 180), and a load between two legs stands along the difference of theirs.
// A single-phase neutral carries what its leg carries. Any other neutral is the root of the fundamental's square and the third harmonic's square; third
// harmonics of a wye's legs are in step, those of the two legs of a split phase are opposed, and all loads on one leg are taken to be in step.
func (p *Plant) True(dst []units.Amps) []units.Amps {
	circuits, buses := p.sums()
	supply := len(p.rig.Boards)
	dst = dst[:0]
	for _, c := range p.conductors {
		switch c.kind {
		case rig.CircuitWire, rig.CableWire:
			dst = append(dst, units.Amps(cmplx.Abs(circuits[c.circuit])))
		case rig.BoardLeg, rig.FeederWire:
			dst = append(dst, units.Amps(cmplx.Abs(buses[c.board].leg[c.leg])))
		case rig.BoardNeutral:
			dst = append(dst, p.neutralOf(buses[c.board]))
		case rig.SupplyLeg:
			dst = append(dst, units.Amps(cmplx.Abs(buses[supply].leg[c.leg])))
		case rig.SupplyNeutral:
			dst = append(dst, p.neutralOf(buses[supply]))
		default: // A kind that the judge does not know must not pass for harmless.
			dst = append(dst, units.Amps(math.Inf(1)))
		}
	}
	return dst
}

// sums gives the currents of every circuit, and what meets on every board and on the supply.
func (p *Plant) sums() ([]complex128, []bus) {
	if p.sags() {
		s := p.sagged()
		return s.circuit, s.buses
	}
	circuits := make([]complex128, len(p.rig.Circuits))
	buses := make([]bus, len(p.rig.Boards)+1)
	for i := range p.panels {
		p.addPanel(i, circuits, buses)
	}
	for i := range p.loads {
		p.addLoad(i, &buses[p.rig.Loads[i].Board])
	}
	for i := range p.rig.Boards { // none of them hangs on another: such a plant sags
		buses[len(p.rig.Boards)].add(buses[i])
	}
	return circuits, buses
}

// addPanel adds one panel to its circuit and its board. A panel behind an open breaker draws nothing.
func (p *Plant) addPanel(panel int, circuits []complex128, buses []bus) {
	at := p.panels[panel]
	if at.circuit < 0 || p.breakers[at.circuit] != In {
		return
	}
	circuit := p.rig.Circuits[at.circuit]
	kind := p.rig.Panels[panel].Type
	t := p.rig.PanelTypes[kind]
	legs := p.legs[at.circuit]
	watts := float64(t.Black) + float64(p.panelLevel(at.output))*float64(t.White-t.Black)
	amps := watts / (float64(p.volts(len(legs))) * float64(t.PF))
	circuits[at.circuit] += phasor(amps, 0, p.typeAngles[kind])
	p.addOn(&buses[circuit.Board], legs, amps, p.typeAngles[kind], float64(t.Third))
}

// panelLevel gives the level at which full white would draw what an output's panels draw. Panels that no device levels stand at full white.
func (p *Plant) panelLevel(output int) units.Level {
	if output < 0 {
		return 1
	}
	if p.devices[p.rig.Outputs[output].Device].dark {
		return 0
	}
	return p.State(output) * units.Level(p.part(output))
}

// volts gives the voltage across a load on so many legs.
func (p *Plant) volts(legs int) units.Volts {
	if legs == 2 {
		return p.rig.Supply.LineLine
	}
	return p.rig.Supply.LineNeutral
}

// addLoad adds another load to its board. One on three legs draws its current from each, as three equal loads to the neutral.
func (p *Plant) addLoad(load int, b *bus) {
	l := p.rig.Loads[load]
	amps, third := float64(p.loads[load]), float64(l.Third)
	if len(l.Legs) < 3 {
		p.addOn(b, l.Legs, amps, p.loadAngles[load], third)
		return
	}
	for _, leg := range l.Legs {
		p.addOn(b, []int{leg}, amps, p.loadAngles[load], third)
	}
}

// addOn adds a load on one leg, which returns through the neutral, or on two, where what leaves on the first comes back on the second.
func (p *Plant) addOn(b *bus, legs []int, amps float64, lag degrees, third float64) {
	if len(legs) == 2 {
		across := p.voltageAngle(legs[0], legs[1])
		i := phasor(amps, across, lag)
		b.leg[legs[0]] += i
		b.leg[legs[1]] -= i
		return
	}
	leg := legs[0]
	i := phasor(amps, p.legAngle(leg), lag)
	b.leg[leg] += i
	b.neutral += i
	if p.rig.Supply.System == rig.SplitPhase && leg == 1 {
		b.third -= amps * third
		return
	}
	b.third += amps * third
}

// legAngle gives the angle of a leg's voltage to neutral.
func (p *Plant) legAngle(leg int) degrees {
	if p.rig.Supply.System == rig.SplitPhase {
		return [...]degrees{0, 180}[leg]
	}
	return [...]degrees{0, -120, 120}[leg]
}

// voltageAngle gives the angle of the voltage from one leg to another: +30 degrees from L1 to L2, -90 from L2 to L3, +150 from L3 to L1, and the opposite the
// other way round; 0 and 180 in a split phase.
func (p *Plant) voltageAngle(from, to int) degrees {
	if p.rig.Supply.System == rig.SplitPhase {
		return p.legAngle(from)
	}
	forward := [...]degrees{30, -90, 150}
	if (from+1)%3 == to {
		return forward[from]
	}
	return forward[to] + 180
}

// phasor gives a current that lags a voltage at that angle.
func phasor(amps float64, voltage, lag degrees) complex128 {
	return cmplx.Rect(amps, float64(voltage-lag)*math.Pi/180)
}

// add adds another bus's currents.
func (b *bus) add(other bus) {
	for leg := range b.leg {
		b.leg[leg] += other.leg[leg]
	}
	b.neutral += other.neutral
	b.third += other.third
}

// neutralOf gives the current of a bus's neutral.
func (p *Plant) neutralOf(b bus) units.Amps {
	if p.rig.Supply.System == rig.SinglePhase {
		return units.Amps(cmplx.Abs(b.leg[0]))
	}
	return units.Amps(math.Hypot(cmplx.Abs(b.neutral), b.third))
}

// Would gives the currents that the plant would draw with every output at these levels, all breakers closed and every other load at its maximum. It changes nothing.
func (p *Plant) Would(dst []units.Amps, levels []units.Level) []units.Amps {
	q := *p
	q.breakers = make([]Breaker, len(p.breakers))
	q.devices = make([]device, len(p.devices))
	q.outputs = make([]output, len(p.outputs))
	q.loads = make([]units.Amps, len(p.loads))
	for i, l := range levels {
		q.outputs[i].level = l
	}
	for i := range q.loads {
		q.loads[i] = p.rig.Loads[i].Current
	}
	return q.True(dst)
}
