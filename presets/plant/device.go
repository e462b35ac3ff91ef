package plant

import (
	"time"

	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// arrive is a packet reaching its device. The device acts on it within half its settling time, in order of arrival, and makes a report of it within the
// other half. An ask at a device without numbers is answered at once, so its report may still lack what arrived just before.
func (p *Plant) arrive(packet Packet) {
	d, is := &p.devices[packet.Device], p.rig.Devices[packet.Device]
	switch {
	case d.deaf:
		p.note(Deaf, packet.Device, packet)
	case is.Class == rig.Silent && packet.Kind == Ask:
		// It cannot tell, and nothing else was asked of it.
	case is.Class == rig.Reporting && packet.Kind == Ask:
		p.planReport(packet.Device)
	default:
		d.busy = max(d.busy, p.now+upTo(p.rng, is.Settling/2))
		p.plan(event{at: d.busy, what: acts, index: packet.Device, life: d.life, packet: packet})
	}
}

// act is a device acting on a packet. A numbered device drops what is not newer than the last that it acted on; asks carry numbers too, and so an ask that was
// acted on keeps every older packet out.
func (p *Plant) act(e event) {
	d, is := &p.devices[e.index], p.rig.Devices[e.index]
	if e.life != d.life {
		p.note(Unheard, e.index, e.packet)
		return
	}
	if is.Class == rig.Numbered {
		if e.packet.Number <= d.number {
			p.note(Stale, e.index, e.packet)
			return
		}
		d.number = e.packet.Number
	}
	p.set(e.packet, is.Steps)
	p.note(Applied, e.index, e.packet)
	if is.Class == rig.Numbered || is.Class == rig.Reporting && chance(p.rng, p.habits.Echo) {
		p.planReport(e.index)
	}
}

// set changes what a device holds. Levels are rounded down to the device's steps.
func (p *Plant) set(packet Packet, steps int) {
	switch packet.Kind {
	case SetLevel:
		p.outputs[packet.Output].level, p.outputs[packet.Output].fresh = packet.Level.Down(steps), false
	case SetBlack:
		p.outputs[packet.Output].black = packet.Black
	case SetPicture:
		p.devices[packet.Device].picture, p.devices[packet.Device].shows = packet.Picture, packet.Picture.Layout
	}
}

// planReport lets a device make a report within half its settling time.
func (p *Plant) planReport(device int) {
	at := p.now + upTo(p.rng, p.rig.Devices[device].Settling/2)
	p.plan(event{at: at, what: tells, index: device, life: p.devices[device].life})
}

// tell is a device making a report of what it holds at this moment.
func (p *Plant) tell(e event) {
	d := &p.devices[e.index]
	if e.life != d.life || d.mute {
		return
	}
	p.note(Told, e.index, Packet{Number: d.number})
	p.sendReport(p.report(e.index))
}

// report gives what a device would tell of itself now.
func (p *Plant) report(device int) Report {
	d := &p.devices[device]
	r := Report{Device: device, Number: d.number, Picture: d.picture, Levels: make([]units.Level, len(d.outputs)), Black: make([]bool, len(d.outputs))}
	for i, o := range d.outputs {
		r.Levels[i], r.Black[i] = p.Held(o)
	}
	return r
}

// ownRestart is a device restarting by habit; it plans the next one.
func (p *Plant) ownRestart(device int) {
	if p.habits.RestartEvery == 0 {
		return
	}
	p.restart(device)
	p.plan(event{at: p.now + around(p.rng, p.habits.RestartEvery), what: restarts, index: device})
}

// restart puts every output of a device at the restart level and not black, and its picture back to none. A numbered device keeps its number. Whatever it was
// about to do is gone, and it hears nothing until it has booted.
func (p *Plant) restart(device int) {
	d := &p.devices[device]
	d.life++
	d.deaf, d.dark = true, chance(p.rng, p.habits.DarkBoot)
	d.picture, d.busy = Picture{}, 0
	if p.habits.Forgets {
		d.number = 0
	}
	for _, o := range d.outputs {
		p.outputs[o] = output{level: p.restartLevel(device), fresh: true}
	}
	p.note(Restarted, device, Packet{})
	p.plan(event{at: p.now + upTo(p.rng, p.habits.BootTime), what: boots, index: device, life: d.life})
}

// restartLevel gives the level that a device's outputs have after its restart.
func (p *Plant) restartLevel(device int) units.Level {
	return p.rig.Devices[device].Restart.Down(p.rig.Devices[device].Steps)
}

// boot is a device hearing again. It may tell what it holds without being asked.
func (p *Plant) boot(e event) {
	d := &p.devices[e.index]
	if e.life != d.life {
		return
	}
	d.deaf, d.dark = false, false
	p.note(Booted, e.index, Packet{})
	if p.rig.Devices[e.index].Class != rig.Silent && chance(p.rng, p.habits.BootReport) {
		p.planReport(e.index)
	}
}

// Longest gives the longest time after which a packet written now, the device's answer to it and whatever they cause have all happened, for waiting things out.
func (p *Plant) Longest() time.Duration {
	var longest time.Duration
	for _, d := range p.rig.Devices {
		longest = max(longest, 2*d.PacketLife+d.Settling)
	}
	return longest
}
