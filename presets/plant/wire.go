package plant

import (
	"time"

	"lookgate/presets/rig"
)

// run counts how often in a row the network lost the same value to the same place.
type run struct {
	value  Packet
	losses int
}

// Send puts a packet on the wire. The write began now and returns at that time: the packet, if it is not lost, arrives at any time from now to the device's
// packet life after the return, and so does its double if it gets one.
func (p *Plant) Send(now, returned time.Duration, packet Packet) {
	p.now = max(p.now, now)
	if p.loses(packet) {
		p.note(Lost, packet.Device, packet)
		return
	}
	copies := 1
	if chance(p.rng, p.habits.Wire.Duplicate) {
		copies = 2
	}
	for range copies {
		at := p.now + p.travel(returned-now, p.rig.Devices[packet.Device].PacketLife)
		p.plan(event{at: at, what: arrives, index: packet.Device, packet: packet})
	}
}

// Apply lets a packet reach its device now, for whoever has a network of their own.
func (p *Plant) Apply(now time.Duration, packet Packet) {
	p.now = max(p.now, now)
	p.arrive(packet)
}

// travel draws the time that a packet takes whose write took that long.
func (p *Plant) travel(write, life time.Duration) time.Duration {
	if chance(p.rng, p.habits.Wire.Late) {
		return upTo(p.rng, write+life)
	}
	return min(upTo(p.rng, write+p.habits.Wire.Delay), write+life)
}

// loses draws whether the network loses a packet. To a silent device it never loses all repeats of one value: that such a device holds what it was told so often
// is an assumption of the proof.
func (p *Plant) loses(packet Packet) bool {
	lost := chance(p.rng, p.habits.Wire.Loss)
	d := p.rig.Devices[packet.Device]
	if d.Class != rig.Silent || packet.Kind == Ask {
		return lost
	}
	r := p.runOf(packet)
	if r.value != packet {
		*r = run{value: packet}
	}
	if !lost || r.losses >= d.Repeats-1 {
		r.losses = 0
		return false
	}
	r.losses++
	return true
}

// runOf gives the count that a set belongs to.
func (p *Plant) runOf(packet Packet) *run {
	switch packet.Kind {
	case SetLevel:
		return &p.runs[2*packet.Output]
	case SetBlack:
		return &p.runs[2*packet.Output+1]
	}
	return &p.runs[2*len(p.outputs)+packet.Device]
}

// sendReport puts a report on the wire to the daemon, where it fares as a packet does.
func (p *Plant) sendReport(r Report) {
	if chance(p.rng, p.habits.Wire.Loss) {
		p.note(ReportLost, r.Device, Packet{})
		return
	}
	copies := 1
	if chance(p.rng, p.habits.Wire.Duplicate) {
		copies = 2
	}
	for range copies {
		at := p.now + p.travel(0, p.rig.Devices[r.Device].PacketLife)
		p.plan(event{at: at, what: delivers, index: r.Device, report: r})
	}
}
