package engine

import (
	"lookgate/presets/rig"
)

// register is what one value of a device may be: a level, a blackout flag, a picture. It is a set and not a number, because a packet may be lost, late
// or doubled. The guard judges by the set; what was wanted never enters it.
type register[T comparable] struct {
	base    []T         // what it may hold, packets under way and restarts left out
	packets []packet[T] // what may still arrive, oldest first
	number  uint64      // numbered devices: a report below it does not speak of this register
	differs Instant     // silent devices: when a packet with another value than the newest was last written
	repeats int         // silent devices: writes of the newest value since no other value can arrive any more
	quiet   Instant     // no new packet before this, after a write that failed
	assumed bool        // base rests on silence: no device told it
	again   bool        // silent devices: a command came since the value was told, so it is told again
}

// packet is one value on its way. Its life starts when the write returns; before that the worker may still hold it for any length of time.
type packet[T comparable] struct {
	write   WriteID
	number  uint64
	value   T
	written bool
	dead    bool // too old to arrive: it has been acted on or it is lost
	at      Instant
}

// sent puts a new packet into the set, at the moment that it is handed to the worker.
func (r *register[T]) sent(id WriteID, number uint64, v T) {
	if n := r.newest(); n == nil || n.value != v || r.again {
		r.repeats = 0
	}
	r.packets, r.again = append(r.packets, packet[T]{write: id, number: number, value: v}), false
}

// newest gives the packet that was handed over last and may still be under way, or nil.
func (r *register[T]) newest() *packet[T] {
	if len(r.packets) == 0 {
		return nil
	}
	return &r.packets[len(r.packets)-1]
}

// wrote starts a packet's life. It reports whether the packet was one of this register's.
func (r *register[T]) wrote(id WriteID, now Instant, d *rig.Device) bool {
	for i := range r.packets {
		p := &r.packets[i]
		if p.write != id {
			continue
		}
		p.written, p.at = true, now
		if d.Class == rig.Silent {
			r.count(*p, now, d)
		}
		return true
	}
	return false
}

// count keeps a silent device's tally. Only a write after everything else has died can be the last to arrive, so only such writes count.
func (r *register[T]) count(p packet[T], now Instant, d *rig.Device) {
	if p.value != r.newest().value {
		r.differs, r.repeats = now, 0
		return
	}
	if now >= r.lastOther(p.value)+d.PacketLife {
		r.repeats++
	}
}

// lastOther gives when a packet with another value was last written.
func (r *register[T]) lastOther(v T) Instant {
	last := r.differs
	for _, p := range r.packets {
		if p.value != v && p.written && p.at > last {
			last = p.at
		}
	}
	return last
}

// dropped takes out a packet that never left. It reports whether it was one of this register's; the newest one's loss makes the next wait a little, since
// a socket that fails at once would otherwise be asked without pause.
func (r *register[T]) dropped(id WriteID, until Instant) bool {
	for i := range r.packets {
		if r.packets[i].write != id {
			continue
		}
		if i == len(r.packets)-1 {
			r.quiet = until
		}
		r.packets = append(r.packets[:i], r.packets[i+1:]...)
		return true
	}
	return false
}

// expire lets go of packets whose lives are over: they have arrived or are lost, and silence does not say which. A numbered device's stay, since the number of a
// late report tells whether it speaks of them, and so do a silent device's until its newest value is settled; a reporting device's become part of the base.
func (r *register[T]) expire(now Instant, d *rig.Device) {
	if d.Class == rig.Reporting {
		life := 2*d.PacketLife + d.Settling
		r.keep(func(p packet[T]) bool {
			if p.written && now > p.at+life {
				r.add(p.value)
				return false
			}
			return true
		})
		return
	}
	for i := range r.packets {
		if p := &r.packets[i]; p.written && now > p.at+d.PacketLife {
			p.dead = true
		}
	}
	if d.Class == rig.Silent {
		r.settle(now, d)
	}
	r.merge()
}

// merge keeps the newest of the dead packets of each value, so that a device that never answers does not make the list grow.
func (r *register[T]) merge() {
	kept := r.packets[:0]
	for i, p := range r.packets {
		newer := false
		for _, q := range r.packets[i+1:] {
			newer = newer || q.dead && q.value == p.value
		}
		if !p.dead || !newer {
			kept = append(kept, p)
		}
	}
	r.packets = kept
}

// settle takes a silent device's newest value as held once its repeats are out and their lives over. It stands outside the promise.
func (r *register[T]) settle(now Instant, d *rig.Device) {
	n := r.newest()
	if n == nil || !n.written || r.repeats < d.Repeats || now <= n.at+d.PacketLife+d.Settling {
		return
	}
	for _, p := range r.packets {
		if !p.written {
			return
		}
	}
	r.base, r.packets, r.assumed = []T{n.value}, nil, true
	r.differs = n.at
}

// told takes a report of value v with the device's highest number n, by the release rule of the device's class. Numbered: the device drops all packets
// up to n, so only later ones stay. Reporting: what was written within two packet lives and the settling time may have arrived after the device looked.
func (r *register[T]) told(v T, n uint64, now Instant, d *rig.Device) {
	switch d.Class {
	case rig.Numbered:
		if n < r.number {
			return
		}
		r.number = n
		r.keep(func(p packet[T]) bool { return p.number > n })
	case rig.Reporting:
		reach := now - 2*d.PacketLife - d.Settling
		r.keep(func(p packet[T]) bool { return !p.written || p.at >= reach })
	default:
		return
	}
	r.base, r.assumed = []T{v}, false
}

func (r *register[T]) keep(stays func(packet[T]) bool) {
	kept := r.packets[:0]
	for _, p := range r.packets {
		if stays(p) {
			kept = append(kept, p)
		}
	}
	r.packets = kept
}

// holds reports whether the register certainly holds v: nothing else is possible. Restarts are not counted here; the guard counts them.
func (r *register[T]) holds(v T) bool {
	if len(r.base) != 1 || r.base[0] != v {
		return false
	}
	for _, p := range r.packets {
		if p.value != v {
			return false
		}
	}
	return true
}

// certain reports whether v is what the register holds as far as its device can say: for a silent one, once all repeats are out and over.
func (r *register[T]) certain(v T, d *rig.Device) bool {
	return r.holds(v) && (d.Class != rig.Silent || len(r.packets) == 0 && !r.again)
}

// may reports whether the register may hold v now or later.
func (r *register[T]) may(v T) bool {
	for _, b := range r.base {
		if b == v {
			return true
		}
	}
	for _, p := range r.packets {
		if p.value == v {
			return true
		}
	}
	return false
}

func (r *register[T]) add(v T) {
	for _, b := range r.base {
		if b == v {
			return
		}
	}
	r.base = append(r.base, v)
}

// due reports whether v has to be sent (again), and if not now, when to look again. A value that stands in the worker's slot is not sent twice.
func (r *register[T]) due(v T, now Instant, d *rig.Device) (bool, Instant) {
	if r.certain(v, d) || d.Class != rig.Silent && r.holds(v) {
		return false, never
	}
	if now < r.quiet {
		return false, r.quiet
	}
	n := r.newest()
	if n == nil || n.value != v || r.again {
		return true, never
	}
	if !n.written {
		return false, never
	}
	if d.Class == rig.Silent && r.repeats >= d.Repeats {
		return false, n.at + d.PacketLife + d.Settling + 1
	}
	if now >= n.at+d.Retry {
		return true, never
	}
	return false, n.at + d.Retry
}

// deadlines hands over the moments at which expire or due would change their minds.
func (r *register[T]) deadlines(v T, now Instant, d *rig.Device, at func(Instant)) {
	life := d.PacketLife
	switch d.Class {
	case rig.Reporting:
		life = 2*d.PacketLife + d.Settling
	case rig.Silent:
		life = d.PacketLife + d.Settling
	}
	for _, p := range r.packets {
		if p.written && (!p.dead || d.Class == rig.Silent) {
			at(p.at + life + 1)
		}
	}
	if _, next := r.due(v, now, d); next < never {
		at(next)
	}
	if n := r.newest(); n != nil && n.value != v { // something darker on the way to v
		if _, next := r.due(n.value, now, d); next < never {
			at(next)
		}
	}
}

const never = Instant(1<<63 - 1)
