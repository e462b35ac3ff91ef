package main

import (
	"errors"
	"net"
	"net/netip"
	"sync/atomic"
	"time"

	"lookgate/daemon/record"
	"lookgate/presets/rig"
	"lookgate/protocols/osc"
)

// device is a socket in the place of a device: it takes over at once what it is told, and tells so at once.
type device struct {
	conn   *net.UDPConn
	levels chan time.Time // when a level arrived
	rig    *rig.Rig
	index  int
	number int64
	layout int32
	mode   int32
	level  map[string]float32
	black  map[string]bool
}

func newDevice(r *rig.Rig, index int, levels chan time.Time) (*device, error) {
	conn, err := net.ListenUDP("udp", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
	if err != nil {
		return nil, err
	}
	if err := stamp(conn); err != nil {
		return nil, errors.Join(err, conn.Close())
	}
	d := &device{conn: conn, levels: levels, rig: r, index: index, level: map[string]float32{}, black: map[string]bool{}}
	go d.read()
	return d, nil
}

func (d *device) read() {
	buffer := make([]byte, 1500)
	for {
		n, from, at, err := receive(d.conn, buffer)
		if errors.Is(err, net.ErrClosed) {
			return
		}
		if err != nil {
			continue
		}
		groups, err := osc.Decode(buffer[:n], osc.DefaultLimits())
		if err != nil || len(groups) == 0 || len(groups[0].Messages) == 0 {
			continue
		}
		if d.take(groups[0].Messages[0]) {
			d.levels <- at
		}
		d.tell(from)
	}
}

// take does what a message says, and reports whether it was a level.
func (d *device) take(m osc.Message) bool {
	if n := len(m.Arguments); n > 0 && d.rig.Devices[d.index].Class == rig.Numbered {
		d.number, _ = m.Arguments[n-1].(int64)
	}
	if m.Address == "/wall/picture" && len(m.Arguments) >= 2 {
		d.layout, _ = m.Arguments[0].(int32)
		d.mode, _ = m.Arguments[1].(int32)
	}
	for _, o := range d.outputs() {
		switch m.Address {
		case "/wall/output/" + o.Address + "/level":
			d.level[o.Address], _ = m.Arguments[0].(float32)
			return true
		case "/wall/output/" + o.Address + "/black":
			d.black[o.Address], _ = m.Arguments[0].(bool)
		}
	}
	return false
}

func (d *device) outputs() []rig.Output {
	var list []rig.Output
	for _, o := range d.rig.Outputs {
		if o.Device == d.index {
			list = append(list, o)
		}
	}
	return list
}

// tell reports, if the device is of a class that does.
func (d *device) tell(to netip.AddrPort) {
	var arguments []any
	switch d.rig.Devices[d.index].Class {
	case rig.Silent:
		return
	case rig.Numbered:
		arguments = append(arguments, d.number)
	}
	arguments = append(arguments, d.layout, d.mode)
	for _, o := range d.outputs() {
		arguments = append(arguments, o.Address, d.level[o.Address], d.black[o.Address])
	}
	packet, err := osc.Encode("/wall/report", arguments...)
	if err == nil {
		_, _ = d.conn.WriteToUDPAddrPort(packet, to) // a report may be lost
	}
}

// relay is the least that stands between two sockets: a read and a write, with one insert on disk in between where keep says so.
type relay struct {
	in, out, end *net.UDPConn
	keep         atomic.Bool
	arrived      chan time.Time
	store        *record.Store
}

func newRelay(store *record.Store) (*relay, error) {
	r := &relay{arrived: make(chan time.Time, 16), store: store}
	for _, c := range []**net.UDPConn{&r.in, &r.out, &r.end} {
		conn, err := net.ListenUDP("udp", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
		if err != nil {
			return r, err
		}
		*c = conn
	}
	if err := stamp(r.end); err != nil {
		return r, err
	}
	go r.pass()
	go r.receive()
	return r, nil
}

func (r *relay) addr() netip.AddrPort { return r.in.LocalAddr().(*net.UDPAddr).AddrPort() }

func (r *relay) pass() {
	buffer := make([]byte, 1500)
	to := r.end.LocalAddr().(*net.UDPAddr).AddrPort()
	for {
		n, _, err := r.in.ReadFromUDPAddrPort(buffer)
		if err != nil {
			return
		}
		if r.keep.Load() && r.store.Append(nil, []record.RecordRow{bareRow()}) != nil {
			continue // shows as a packet that never comes
		}
		_, _ = r.out.WriteToUDPAddrPort(buffer[:n], to)
	}
}

func (r *relay) receive() {
	buffer := make([]byte, 1500)
	for {
		_, _, at, err := receive(r.end, buffer)
		if err != nil {
			return
		}
		r.arrived <- at
	}
}

func (r *relay) close() error {
	var errs []error
	for _, c := range []*net.UDPConn{r.in, r.out, r.end} {
		if c != nil {
			errs = append(errs, c.Close())
		}
	}
	return errors.Join(errs...)
}
