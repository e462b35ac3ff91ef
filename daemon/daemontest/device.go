package daemontest

import (
	"context"
	"slices"
	"sync"
	"time"

	"lookgate/presets/engine"
	"lookgate/presets/rig"
	"lookgate/presets/units"
	"lookgate/protocols"
)

// Device is a fake device that does what it is told and tells of it as its class does. Its fields may be set before the daemon starts, or through Set. Its methods may
// be called from any goroutine.
type Device struct {
	OnOpen  func() error
	OnWrite func(engine.Action) error // an error is a packet that was not sent
	OnClose func() error
	Delay   time.Duration   // from the write to the effect
	Mute    bool            // it acts, and tells nothing
	Hang    <-chan struct{} // writes wait for it to be closed, whatever their deadline
	Held    []units.Level   // per output of the device: the levels that it stands at

	rig    *rig.Rig
	index  int
	place  map[int]int // from the rig's outputs to Held
	report func(engine.Report)

	mu      sync.Mutex
	black   []bool
	picture engine.Picture
	number  uint64
	sent    []Sent
	opens   int
	closes  int
	acting  []engine.Action // written and not yet acted on, oldest first
}

// Sent is one packet that left, and when.
type Sent struct {
	Action engine.Action
	At     time.Time
}

var _ protocols.Device = (*Device)(nil)

// NewDevice makes the fake of a device of the rig, dark after its start.
func NewDevice(r *rig.Rig, index int) *Device {
	d := &Device{rig: r, index: index, place: map[int]int{}}
	for o := range r.Outputs {
		if r.Outputs[o].Device == index {
			d.place[o] = len(d.Held)
			d.Held = append(d.Held, r.Devices[index].Restart)
		}
	}
	d.black = make([]bool, len(d.Held))
	return d
}

// Set changes fields while the daemon runs.
func (d *Device) Set(change func(*Device)) {
	d.mu.Lock()
	defer d.mu.Unlock()
	change(d)
}

// Name implements [protocols.Device].
func (d *Device) Name() string { return d.rig.Devices[d.index].Name }

// Open implements [protocols.Device].
func (d *Device) Open(report func(engine.Report)) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.OnOpen != nil {
		if err := d.OnOpen(); err != nil {
			return err
		}
	}
	d.opens++
	d.report = report
	return nil
}

// Close implements [protocols.Device].
func (d *Device) Close() error {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.closes++
	d.report = nil
	if d.OnClose != nil {
		return d.OnClose()
	}
	return nil
}

// Write implements [protocols.Device].
func (d *Device) Write(_ context.Context, a engine.Action) error {
	d.mu.Lock()
	hang, on := d.Hang, d.OnWrite
	d.mu.Unlock()
	if hang != nil {
		<-hang
	}
	if on != nil {
		if err := on(a); err != nil {
			return err
		}
	}
	d.mu.Lock()
	d.sent = append(d.sent, Sent{a, time.Now()})
	delay := d.Delay
	d.acting = append(d.acting, a)
	d.mu.Unlock()
	if delay > 0 {
		time.AfterFunc(delay, d.act)
	} else {
		d.act()
	}
	return nil
}

// act does what the oldest packet says, and reports if its class and the packet ask for it.
func (d *Device) act() {
	d.mu.Lock()
	a := d.acting[0]
	d.acting = d.acting[1:]
	class := d.rig.Devices[d.index].Class
	if class == rig.Numbered {
		if a.Number <= d.number {
			d.mu.Unlock()
			return
		}
		d.number = a.Number
	}
	switch a.Kind {
	case engine.SendLevel:
		d.Held[d.place[a.Output]] = a.Level.Down(d.rig.Devices[d.index].Steps)
	case engine.SendBlack:
		d.black[d.place[a.Output]] = a.Black
	case engine.SendPicture:
		d.picture = a.Picture
	}
	d.mu.Unlock()
	if class == rig.Numbered || class == rig.Reporting && a.Kind == engine.Ask {
		d.Tell()
	}
}

// Tell makes the device report what it holds, unless it is mute, silent or closed.
func (d *Device) Tell() {
	d.mu.Lock()
	r := engine.Report{Device: d.index, Number: d.number, Levels: slices.Clone(d.Held), Black: slices.Clone(d.black), Picture: d.picture}
	report := d.report
	if d.Mute || d.rig.Devices[d.index].Class == rig.Silent {
		report = nil
	}
	d.mu.Unlock()
	if report != nil {
		report(r)
	}
}

// Restart makes the device start by itself: it takes its restart level and forgets its blackout. A numbered one keeps its number.
func (d *Device) Restart() {
	d.mu.Lock()
	defer d.mu.Unlock()
	for i := range d.Held {
		d.Held[i], d.black[i] = d.rig.Devices[d.index].Restart, false
	}
	d.picture = engine.Picture{}
}

// Sent gives every packet that left, questions left out.
func (d *Device) Sent() []Sent {
	d.mu.Lock()
	defer d.mu.Unlock()
	return slices.DeleteFunc(slices.Clone(d.sent), func(s Sent) bool { return s.Action.Kind == engine.Ask })
}

// Asked gives how often the device was asked.
func (d *Device) Asked() int {
	d.mu.Lock()
	defer d.mu.Unlock()
	n := 0
	for _, s := range d.sent {
		if s.Action.Kind == engine.Ask {
			n++
		}
	}
	return n
}

// Light gives the level of an output of the rig as it stands on the wall, blackout counted.
func (d *Device) Light(output int) units.Level {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.black[d.place[output]] {
		return 0
	}
	return d.Held[d.place[output]]
}

// Opened and Closed give how often that happened.
func (d *Device) Opened() (opens, closes int) {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.opens, d.closes
}
