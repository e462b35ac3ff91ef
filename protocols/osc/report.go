package osc

import (
	"errors"
	"fmt"
	"net"
	"time"

	"lookgate/presets/engine"
	"lookgate/presets/units"
)

// reportLimits take a report of as many outputs as fit into one message.
func reportLimits() Limits {
	limits := DefaultLimits()
	limits.Arguments = MaxMessage / 4
	return limits
}

// read takes reports until the socket is closed. Packets of other hosts and what
// is no whole report of this device are passed over: silence releases nothing,
// half a report could. The port is not looked at, as many devices answer from
// another than the one that they listen on. A socket that only fails ends it, and
// the device is silent from then on.
func (d *Device) read(conn *net.UDPConn, report func(engine.Report)) {
	buffer := make([]byte, 1<<16)
	limits := reportLimits()
	for broken := 0; broken < brokenReads; {
		n, from, err := conn.ReadFromUDPAddrPort(buffer)
		if errors.Is(err, net.ErrClosed) {
			return
		}
		if err != nil {
			broken++
			continue
		}
		broken = 0
		if from.Addr().Unmap() != d.remote.Addr() {
			continue
		}
		groups, err := Decode(buffer[:n], limits)
		if err != nil {
			continue
		}
		d.deliver(groups, report)
	}
}

func (d *Device) deliver(groups []Group, report func(engine.Report)) {
	now := time.Now()
	for _, g := range groups {
		if g.Tag.After(now) {
			continue // what a device will be is nothing that it told of itself
		}
		for _, m := range g.Messages {
			if r, err := d.parseReport(m); err == nil {
				report(r)
			}
		}
	}
}

// parseReport reads one report. Every output of the device has to be in it, once.
func (d *Device) parseReport(m Message) (engine.Report, error) {
	if m.Address != reportAddress || m.Discard != nil {
		return engine.Report{}, fmt.Errorf("%s is no report", m.Address)
	}
	r := engine.Report{Device: d.index, Levels: make([]units.Level, len(d.outputs)), Black: make([]bool, len(d.outputs))}
	at, err := d.reportHead(&r, m)
	if err != nil {
		return engine.Report{}, err
	}
	if len(m.Arguments) != at+3*len(d.outputs) {
		return engine.Report{}, fmt.Errorf("%d arguments for %d outputs", len(m.Arguments), len(d.outputs))
	}
	seen := make([]bool, len(d.outputs))
	for ; at < len(m.Arguments); at += 3 {
		if err := d.reportOutput(&r, seen, m, at); err != nil {
			return engine.Report{}, err
		}
	}
	return r, nil
}

// reportHead reads what precedes the outputs, and returns where they begin.
func (d *Device) reportHead(r *engine.Report, m Message) (int, error) {
	at := 0
	if d.numbered {
		n, err := m.Whole(at)
		if err != nil {
			return 0, err
		}
		if n < 0 {
			return 0, fmt.Errorf("number %d is negative", n)
		}
		r.Number = uint64(n)
		at++
	}
	layout, err := m.Whole(at)
	if err != nil {
		return 0, err
	}
	mode, err := m.Whole(at + 1)
	if err != nil {
		return 0, err
	}
	r.Picture = engine.Picture{Layout: int(layout), Mode: int(mode)}
	return at + 2, nil
}

func (d *Device) reportOutput(r *engine.Report, seen []bool, m Message, at int) error {
	address, err := m.Text(at)
	if err != nil {
		return err
	}
	i, ok := d.placeOf(address)
	if !ok || seen[i] {
		return fmt.Errorf("output %q is unknown or told twice", address)
	}
	seen[i] = true
	n, err := m.Number(at + 1)
	if err != nil {
		return err
	}
	if r.Levels[i] = units.Level(n); !r.Levels[i].Valid() {
		return fmt.Errorf("output %q at level %v, which is not from 0 to 1", address, n)
	}
	r.Black[i], err = m.Switch(at + 2)
	return err
}

func (d *Device) placeOf(address string) (int, bool) {
	for i, o := range d.outputs {
		if d.rig.Outputs[o].Address == address {
			return i, true
		}
	}
	return 0, false
}
