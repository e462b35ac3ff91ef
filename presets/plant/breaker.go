package plant

import (
	"math/rand/v2"
	"time"

	"lookgate/presets/units"
)

// Breaker is the true state of a circuit's breaker.
type Breaker uint8

// The states. A locked breaker stays open until the lock is taken off; one that is only open may be closed at any moment.
const (
	In Breaker = iota
	Out
	Locked
)

// String gives the word for the state.
func (b Breaker) String() string { return [...]string{"in", "out", "locked-off"}[b] }

// Breaker gives a circuit's breaker's true state.
func (p *Plant) Breaker(circuit int) Breaker { return p.breakers[circuit] }

// SetBreaker is a person at the board: opens, locks or closes a circuit's breaker.
func (p *Plant) SetBreaker(now time.Duration, circuit int, to Breaker) {
	p.now = max(p.now, now)
	p.breakers[circuit] = to
	if to == In {
		p.note(Closed, circuit, Packet{})
		return
	}
	p.note(Opened, circuit, Packet{})
}

// Trip opens a circuit's breaker as a fault does. An open one stays as it is.
func (p *Plant) Trip(now time.Duration, circuit int) {
	p.now = max(p.now, now)
	if p.breakers[circuit] != In {
		return
	}
	p.breakers[circuit] = Out
	p.note(Tripped, circuit, Packet{})
}

// tripAny trips any breaker, plans its return and the next trip.
func (p *Plant) tripAny() {
	if p.habits.TripEvery == 0 {
		return
	}
	circuit := p.rng.IntN(len(p.breakers))
	if p.breakers[circuit] == In {
		p.Trip(p.now, circuit)
		p.plan(event{at: p.now + upTo(p.rng, p.habits.TripFor), what: returns, index: circuit})
	}
	p.plan(event{at: p.now + around(p.rng, p.habits.TripEvery), what: trips})
}

// closeAgain closes a tripped breaker, unless somebody locked it meanwhile.
func (p *Plant) closeAgain(circuit int) {
	if p.breakers[circuit] == Out {
		p.SetBreaker(p.now, circuit, In)
	}
}

// changeLoad gives another load another value and plans the next change.
func (p *Plant) changeLoad(load int) {
	p.loads[load] = drawLoad(p.rng, p.rig.Loads[load].Current)
	p.note(LoadChanged, load, Packet{})
	p.plan(event{at: p.now + around(p.rng, p.habits.LoadEvery), what: changes, index: load})
}

// drawLoad draws what another load draws: nothing, its maximum or anything between, so that both ends are met often.
func drawLoad(rng *rand.Rand, most units.Amps) units.Amps {
	switch rng.IntN(4) {
	case 0:
		return 0
	case 1:
		return most
	}
	return most * units.Amps(rng.Float64())
}

// SetLoad makes another load draw so much, for a test or a scenario.
func (p *Plant) SetLoad(now time.Duration, load int, a units.Amps) {
	p.now = max(p.now, now)
	p.loads[load] = a
	p.note(LoadChanged, load, Packet{})
}
