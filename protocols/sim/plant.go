// Package sim puts a simulated plant behind real sockets: one UDP port for each device of a rig, each with the habits of its class. What happens in the plant is
// written to a log as it happens, so that an outside process can be the judge of whoever drives it.
package sim

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/netip"
	"sync"
	"time"

	"lookgate/presets/plant"
	"lookgate/presets/rig"
)

// Options say how the plant behaves.
type Options struct {
	Listen []string                 // host:port for each device of the rig; empty entries and a nil list take any free port of loopback
	Habits plant.Habits             // what goes wrong by itself
	Late   map[string]time.Duration // devices whose reports leave so much later
	Mute   map[string]bool          // devices that never report
	Seed   uint64
	Log    io.Writer // one JSON line for everything that happens; nil for none
}

// Plant is a simulated plant with sockets.
type Plant struct {
	rig     *rig.Rig
	options Options
	conns   []*net.UDPConn
	from    []netip.AddrPort // who wrote to each device last: reports go there
	arrived chan datagram
	log     *log
	began   time.Time
	state   *plant.Plant
	readers sync.WaitGroup
}

type datagram struct {
	device int
	from   netip.AddrPort
	bytes  []byte
}

// New makes a plant for a rig without problems. Nothing is bound yet.
func New(r *rig.Rig, o Options) *Plant {
	return &Plant{rig: r, options: o, from: make([]netip.AddrPort, len(r.Devices)), arrived: make(chan datagram, 1024)}
}

// Open binds every device's port. After an error none is left bound.
func (p *Plant) Open() error {
	for i, d := range p.rig.Devices {
		listen := "127.0.0.1:0"
		if i < len(p.options.Listen) && p.options.Listen[i] != "" {
			listen = p.options.Listen[i]
		}
		at, err := net.ResolveUDPAddr("udp", listen)
		if err != nil {
			return errors.Join(fmt.Errorf("simulated device %s: %q is no address: %w\nwrite host:port", d.Name, listen, err), p.Close())
		}
		conn, err := net.ListenUDP("udp", at)
		if err != nil {
			return errors.Join(fmt.Errorf("simulated device %s: %w\nfree the port, or name another", d.Name, err), p.Close())
		}
		p.conns = append(p.conns, conn)
	}
	return nil
}

// Addr gives the address that a device listens on, once it is open.
func (p *Plant) Addr(device int) string { return p.conns[device].LocalAddr().String() }

// Close frees the ports.
func (p *Plant) Close() error {
	var errs []error
	for _, c := range p.conns {
		if err := c.Close(); err != nil && !errors.Is(err, net.ErrClosed) {
			errs = append(errs, err)
		}
	}
	p.readers.Wait()
	return errors.Join(errs...)
}

// Serve runs the plant until the context ends. One goroutine owns the plant; a log that cannot be written ends it with an error, since a judge that misses
// something is none.
func (p *Plant) Serve(ctx context.Context) error {
	p.begin()
	for i := range p.conns {
		p.readers.Go(func() { p.read(ctx, i) })
	}
	err := p.run(ctx)
	return errors.Join(err, p.Close())
}

// begin makes the plant's state: from now its clock runs.
func (p *Plant) begin() {
	p.began = time.Now()
	p.state = plant.New(p.rig, p.options.Habits, rand.New(rand.NewPCG(p.options.Seed, 7)))
	for i, d := range p.rig.Devices {
		p.state.Mute(i, p.options.Mute[d.Name])
	}
	p.log = newLog(p.rig, p.state, p.options.Log)
}

func (p *Plant) read(ctx context.Context, device int) {
	buffer := make([]byte, 1<<16)
	for {
		n, from, err := p.conns[device].ReadFromUDPAddrPort(buffer)
		if errors.Is(err, net.ErrClosed) {
			return
		}
		if err != nil {
			continue // what an earlier report met; the port is still bound
		}
		select {
		case p.arrived <- datagram{device, from, append([]byte(nil), buffer[:n]...)}:
		case <-ctx.Done():
			return
		}
	}
}

func (p *Plant) now() time.Duration { return time.Since(p.began) }

// run owns the plant.
func (p *Plant) run(ctx context.Context) error {
	if err := p.log.write(p.now(), nil, nil); err != nil {
		return err
	}
	timer := time.NewTimer(time.Hour)
	defer timer.Stop()
	for {
		if at, any := p.state.Next(); any {
			timer.Reset(max(at-p.now(), 0))
		} else {
			timer.Reset(time.Hour)
		}
		var d *datagram
		select {
		case <-ctx.Done():
			return nil
		case got := <-p.arrived:
			d = &got
		case <-timer.C:
		}
		if err := p.step(d); err != nil {
			return err
		}
	}
}

// step lets everything happen that was due, takes one datagram to its device, if there is one, and lets happen what follows from it at once.
func (p *Plant) step(d *datagram) error {
	now := p.now()
	if err := p.happen(now); err != nil || d == nil {
		return err
	}
	packet, refused := packetFor(p.rig, d.device, d.bytes)
	if refused == nil {
		p.from[d.device] = d.from
		p.state.Send(now, now, packet)
	}
	if err := p.log.write(now, d, refused); err != nil {
		return err
	}
	return p.happen(now)
}

// happen lets everything happen up to a time, one thing after another, and judges after each: what two changes that fall due together make between them is a
// state of the plant as well.
func (p *Plant) happen(to time.Duration) error {
	for next, any := p.state.Next(); any && next <= to; next, any = p.state.Next() {
		a, arrived := p.state.Step()
		if err := p.log.write(next, nil, nil); err != nil {
			return err
		}
		if arrived {
			p.report(a.Report)
		}
	}
	return nil
}

// report sends what a device tells, to whoever wrote to it last.
func (p *Plant) report(r plant.Report) {
	to, bytes := p.from[r.Device], reportOf(p.rig, r)
	if !to.IsValid() {
		return
	}
	send := func() { _, _ = p.conns[r.Device].WriteToUDPAddrPort(bytes, to) } // a report may be lost
	if late := p.options.Late[p.rig.Devices[r.Device].Name]; late > 0 {
		time.AfterFunc(late, send)
		return
	}
	send()
}
