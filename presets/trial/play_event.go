package trial

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"lookgate/presets/plant"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// playEvents are what may happen: words, with one in capitals for a name or figure.
var playEvents = []struct {
	words string
	do    func(p *player, args []string) bool
}{
	{"device NAME restarts", (*player).deviceRestarts},
	{"device NAME loses the next COUNT packets", (*player).deviceLoses},
	{"device NAME is slow by TIME", (*player).deviceSlow},
	{"device NAME confirms after TIME", (*player).deviceConfirms},
	{"device NAME mute", func(p *player, args []string) bool { return p.deviceMute(args, true) }},
	{"device NAME speaks", func(p *player, args []string) bool { return p.deviceMute(args, false) }},
	{"the next packet to NAME is late by TIME", (*player).deviceLate},
	{"circuit NAME trips", (*player).circuitTrips},
	{"another hand at NAME sets LEVEL", (*player).anotherHand},
	{"another hand at NAME makes it black", (*player).anotherHandBlack},
	{"the daemon dies", (*player).daemonDies},
	{"the daemon starts", (*player).daemonStarts},
	{"the machine starts again", (*player).machineStarts},
	{"disk full", func(p *player, _ []string) bool { p.full = true; return true }},
	{"disk well", func(p *player, _ []string) bool { p.full = false; return true }},
}

// event lets something happen. It reports whether the words were understood.
func (p *player) event(words string) bool {
	got := strings.Fields(strings.ReplaceAll(words, " %", "%"))
	for _, e := range playEvents {
		want := strings.Fields(e.words)
		if len(want) != len(got) {
			continue
		}
		var args []string
		same := true
		for i, w := range want {
			if w == strings.ToUpper(w) {
				args = append(args, got[i])
			} else {
				same = same && w == got[i]
			}
		}
		if same {
			p.marks = append(p.marks, playMark{p.now, "*"})
			return e.do(p, args)
		}
	}
	return false
}

func (p *player) findDevice(name string) int {
	return slices.IndexFunc(p.truth.Devices, func(d rig.Device) bool { return d.Name == name })
}

func (p *player) deviceRestarts(args []string) bool {
	d := p.findDevice(args[0])
	if d >= 0 {
		p.plant.Restart(p.now, d)
		p.deeds()
	}
	return d >= 0
}

// countedOn is how many lost packets in a row a look that has to come down in time is told through.
const countedOn = 6

func (p *player) deviceLoses(args []string) bool {
	d := p.findDevice(args[0])
	n, err := strconv.Atoi(args[1])
	if d >= 0 {
		p.devices[d].loses = n
		p.unheard = p.unheard || n > countedOn
	}
	return d >= 0 && err == nil
}

// longer reads how much longer packets to a device take; never longer than a packet lives, which is assumed.
func (p *player) longer(args []string) (d int, by time.Duration, ok bool) {
	d = p.findDevice(args[0])
	by, err := time.ParseDuration(args[1])
	if d < 0 || err != nil {
		return d, by, false
	}
	if life := p.truth.Devices[d].PacketLife; by+playWire > life {
		p.cannot("a packet to %s arrives within %v or never: that is assumed", args[0], life)
	}
	return d, by, true
}

func (p *player) deviceSlow(args []string) bool {
	d, by, ok := p.longer(args)
	if ok {
		p.devices[d].slow = by
	}
	return ok
}

func (p *player) deviceLate(args []string) bool {
	d, by, ok := p.longer(args)
	if ok {
		p.devices[d].late = by
	}
	return ok
}

func (p *player) deviceConfirms(args []string) bool {
	d := p.findDevice(args[0])
	by, err := time.ParseDuration(args[1])
	if d >= 0 {
		p.devices[d].confirms = by
	}
	return d >= 0 && err == nil
}

func (p *player) deviceMute(args []string, mute bool) bool {
	d := p.findDevice(args[0])
	if d >= 0 {
		p.plant.Mute(d, mute)
	}
	return d >= 0
}

func (p *player) circuitTrips(args []string) bool {
	c := slices.IndexFunc(p.truth.Circuits, func(c rig.Circuit) bool { return c.Name == args[0] })
	if c >= 0 {
		p.plant.Trip(p.now, c)
		p.deeds()
	}
	return c >= 0
}

func (p *player) anotherHand(args []string) bool {
	level, ok := playLevel(args[1])
	return ok && p.touch(args[0], level, false)
}

func (p *player) anotherHandBlack(args []string) bool { return p.touch(args[0], -1, true) }

// touch sets an output at its device itself; a level below 0 leaves it as it is.
func (p *player) touch(name string, level units.Level, black bool) bool {
	o := slices.IndexFunc(p.truth.Outputs, func(o rig.Output) bool { return o.Name == name })
	if o < 0 {
		return false
	}
	if level < 0 {
		level, _ = p.plant.Held(o)
	}
	p.hand = true
	p.plant.Hand(p.now, o, level, black)
	p.plant.TakeLog()
	p.say("%s is set by another hand: %s", name, p.packetPart(plant.Packet{Kind: handedKind(black), Output: o, Level: level, Black: black}))
	return true
}

func handedKind(black bool) plant.Kind {
	if black {
		return plant.SetBlack
	}
	return plant.SetLevel
}

func (p *player) daemonDies([]string) bool {
	if p.engine == nil {
		return false
	}
	p.die()
	p.say("the daemon is gone")
	return true
}

// machineStarts starts the daemon on a machine that was off: nobody knows for how long.
func (p *player) machineStarts([]string) bool {
	if p.engine != nil {
		return false
	}
	p.say("the machine starts, and the daemon on what is on disk: nobody knows how long it was gone")
	p.lost = true
	p.start()
	p.lost = false
	return true
}

func (p *player) daemonStarts([]string) bool {
	if p.engine != nil {
		return false
	}
	p.say("the daemon starts on what is on disk")
	p.start()
	return true
}
