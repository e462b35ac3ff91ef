package plant

import (
	"math/rand/v2"
	"time"

	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// Plant is one simulated plant. Whoever made it must call it from one goroutine at a time, with times that never go back.
type Plant struct {
	rig        *rig.Rig
	habits     Habits
	rng        *rand.Rand
	now        time.Duration
	seq        uint64
	queue      queue
	devices    []device
	outputs    []output
	breakers   []Breaker
	loads      []units.Amps  // per other load: what it draws now
	loadAngles []degrees     // per other load: its true displacement
	typeAngles []degrees     // per panel type: its true displacement
	panels     []place       // per panel: where it hangs
	legs       [][]int       // per circuit: the legs of its poles
	conductors []conductorAt // in the rig's order
	runs       []run         // per output twice, then per device: losses in a row
	log        []Entry
	contents   Contents
}

// device is one device's own state.
type device struct {
	number  uint64 // highest command number acted on; survives the device's own restart
	picture Picture
	shows   int   // layout that it was told last, restarts or not
	outputs []int // of the rig's, in order
	deaf    bool
	dark    bool // panels dark until it has booted
	mute    bool // makes no reports
	life    int  // counts its restarts
	busy    time.Duration
}

// output is what a device holds for one output.
type output struct {
	level units.Level
	black bool
	fresh bool // no level has come since the device restarted
}

// place says where a panel hangs: indexes of its output and circuit, -1 for none.
type place struct{ output, circuit int }

// New makes a plant in which every output stands at its device's restart level, no breaker is open and every other load draws anything up to its maximum. The
// true displacement of whatever the rig does not know it of is drawn once. The rig must be one without problems, and rng the plant's alone or used in
// an order that is the same in every replay.
func New(r *rig.Rig, h Habits, rng *rand.Rand) *Plant {
	p := &Plant{
		rig: r, habits: h, rng: rng,
		devices:  make([]device, len(r.Devices)),
		outputs:  make([]output, len(r.Outputs)),
		breakers: make([]Breaker, len(r.Circuits)),
		loads:    make([]units.Amps, len(r.Loads)),
		panels:   make([]place, len(r.Panels)),
		runs:     make([]run, 2*len(r.Outputs)+len(r.Devices)),
	}
	for i, o := range r.Outputs {
		d := o.Device
		p.devices[d].outputs = append(p.devices[d].outputs, i)
		p.outputs[i].level = p.restartLevel(d)
	}
	p.hang()
	p.drawAngles()
	for i := range p.loads {
		p.loads[i] = drawLoad(rng, r.Loads[i].Current)
	}
	for _, c := range r.Circuits {
		p.legs = append(p.legs, r.Legs(c))
	}
	for _, c := range r.Conductors() {
		p.conductors = append(p.conductors, conductorAt{c.Kind, c.Circuit, c.Board, c.Leg})
	}
	p.planHabits()
	return p
}

// hang finds each panel's output and circuit.
func (p *Plant) hang() {
	for i := range p.panels {
		p.panels[i] = place{-1, -1}
	}
	for o := range p.rig.Outputs {
		for _, panel := range p.rig.Outputs[o].Panels {
			p.panels[panel].output = o
		}
	}
	for c := range p.rig.Circuits {
		for _, panel := range p.rig.Circuits[c].Panels {
			p.panels[panel].circuit = c
		}
	}
}

// planHabits puts the first restart of each device, the first trip and the first change of each load into the queue.
func (p *Plant) planHabits() {
	if p.habits.RestartEvery > 0 {
		for d := range p.devices {
			p.plan(event{at: p.now + around(p.rng, p.habits.RestartEvery), what: restarts, index: d})
		}
	}
	if p.habits.TripEvery > 0 && len(p.breakers) > 0 {
		p.plan(event{at: p.now + around(p.rng, p.habits.TripEvery), what: trips})
	}
	if p.habits.LoadEvery > 0 {
		for l := range p.loads {
			p.plan(event{at: p.now + around(p.rng, p.habits.LoadEvery), what: changes, index: l})
		}
	}
}

// Calm ends all faults: nothing is lost, doubled or late from now on, no device restarts and no breaker trips. What is on the wire stays so, devices that are
// restarting come up, and tripped breakers are still closed again when their time comes.
func (p *Plant) Calm() {
	h := &p.habits
	h.Wire.Loss, h.Wire.Duplicate, h.Wire.Late = 0, 0, 0
	h.RestartEvery, h.TripEvery = 0, 0
}

// State gives the light level that an output truly holds: its level, or 0 while it is black. Whether its panels are fed, or dark because the device is still
// starting, does not change what it holds.
func (p *Plant) State(output int) units.Level {
	if p.outputs[output].black {
		return 0
	}
	return p.outputs[output].level
}

// Held gives an output's level and blackout apart.
func (p *Plant) Held(output int) (units.Level, bool) {
	return p.outputs[output].level, p.outputs[output].black
}

// Shown gives what a device shows.
func (p *Plant) Shown(device int) Picture { return p.devices[device].picture }

// Hears says whether a device takes packets now: it does unless it is restarting.
func (p *Plant) Hears(device int) bool { return !p.devices[device].deaf }

// Mute keeps a device from making reports, or lets it make them again. It acts on packets all the same.
func (p *Plant) Mute(device int, mute bool) { p.devices[device].mute = mute }

// Hand sets an output as another hand does, at the device's own front panel.
func (p *Plant) Hand(now time.Duration, o int, l units.Level, black bool) {
	p.now = max(p.now, now)
	d := p.rig.Outputs[o].Device
	p.outputs[o] = output{level: l.Down(p.rig.Devices[d].Steps), black: black}
	p.note(Handed, d, Packet{Kind: SetLevel, Device: d, Output: o, Level: l, Black: black})
}

// Restart makes a device restart now, as if its power had failed.
func (p *Plant) Restart(now time.Duration, device int) {
	p.now = max(p.now, now)
	p.restart(device)
}
