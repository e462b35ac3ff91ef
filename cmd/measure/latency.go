package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"os"
	"path/filepath"
	"strings"
	"time"

	"lookgate/daemon"
	"lookgate/daemon/record"
	"lookgate/presets"
	"lookgate/presets/rig"
	"lookgate/presets/site"
	"lookgate/protocols"
	"lookgate/protocols/osc"
	demosite "lookgate/testdata/sites/demo"
)

// patience is how long one packet may take before something is wrong.
const patience = 5 * time.Second

// bench is a daemon over the demo site, with devices that are sockets of this program and answer at once, and the two baselines.
type bench struct {
	daemon  *daemon.Daemon
	surface *osc.Surface
	devices []*device
	levels  chan time.Time // when a level arrived at any of them
	relay   *relay
	client  *net.UDPConn
	store   *record.Store
	folder  string
	pace    time.Duration // from one timed packet to the next, for lookgate and baselines alike
}

// latency measures a lowering and a raise, from the console's packet to the first packet at a device.
func latency(blocks, each int, pace time.Duration) ([]row, error) {
	b, err := newBench()
	b.pace = pace
	if err != nil {
		return nil, errors.Join(err, b.close())
	}
	var down, up, bare, kept [][]time.Duration
	for range blocks {
		for _, part := range []struct {
			into *[][]time.Duration
			run  func(int) ([]time.Duration, error)
		}{{&bare, b.relayed(false)}, {&down, b.lowerings}, {&kept, b.relayed(true)}, {&up, b.raises}} {
			times, err := part.run(each)
			if err != nil {
				return nil, errors.Join(err, b.close())
			}
			*part.into = append(*part.into, times)
		}
	}
	rows := beside("lowering: OSC in to the first packet at a device", "bare UDP relay", down, bare, 2, 3)
	rows = append(rows, beside("raising: the same, through the disk", "relay and one insert of 300 bytes", up, kept, 2, 1.5)...)
	return rows, b.close()
}

func newBench() (*bench, error) {
	b := &bench{levels: make(chan time.Time, 1024)}
	s, err := demo()
	if err != nil {
		return b, err
	}
	if b.folder, err = os.MkdirTemp("", "lookgate-measure-"); err != nil {
		return b, err
	}
	var wires []protocols.Device
	for i := range s.Rig.Devices {
		d, err := newDevice(s.Rig, i, b.levels)
		if err != nil {
			return b, err
		}
		b.devices = append(b.devices, d)
		w, err := osc.NewDevice(s.Rig, i, osc.DeviceConfig{Address: d.conn.LocalAddr().String()})
		if err != nil {
			return b, err
		}
		wires = append(wires, w)
	}
	b.daemon, err = daemon.New(daemon.Options{Plan: presets.NewPlan(s.Rig, s.Book), StateDir: filepath.Join(b.folder, "state"), Devices: wires, Surfaces: b.surfaces})
	if err == nil {
		err = os.MkdirAll(filepath.Join(b.folder, "bare"), 0o755)
	}
	if err == nil {
		err = os.MkdirAll(filepath.Join(b.folder, "state"), 0o755)
	}
	if err == nil {
		err = b.daemon.Start()
	}
	if err == nil {
		b.store, err = record.Open(filepath.Join(b.folder, "bare"), record.Options{})
	}
	if err == nil {
		b.relay, err = newRelay(b.store)
	}
	if err == nil {
		b.client, err = net.ListenUDP("udp", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
	}
	return b, err
}

func (b *bench) surfaces(desk protocols.Desk) []protocols.Surface {
	b.surface, _ = osc.NewSurface(desk, osc.Config{Listen: "127.0.0.1:0", Stations: []protocols.Station{{Name: "console"}}, Limits: osc.DefaultLimits()})
	return []protocols.Surface{b.surface}
}

// demo gives the demo site, without fades, with a zone that is one output of the device that is watched.
func demo() (*site.Site, error) {
	texts := map[string][]byte{}
	for _, name := range site.Files {
		text, err := fs.ReadFile(demosite.Files, name)
		if err != nil {
			return nil, err
		}
		texts[name] = text
	}
	s, problems := site.Read(texts)
	if s == nil {
		return nil, fmt.Errorf("the demo site: %v", problems)
	}
	for i := range s.Book.Presets {
		s.Book.Presets[i].FadeUp, s.Book.Presets[i].FadeDown = 0, 0
	}
	s.Rig.Zones = append(s.Rig.Zones, rig.Zone{Name: "watched", Outputs: []int{0}})
	return s, nil
}

func (b *bench) close() error {
	var errs []error
	if b.daemon != nil {
		errs = append(errs, b.daemon.Stop())
	}
	for _, d := range b.devices {
		errs = append(errs, d.conn.Close())
	}
	if b.relay != nil {
		errs = append(errs, b.relay.close())
	}
	if b.store != nil {
		errs = append(errs, b.store.Close())
	}
	return errors.Join(append(errs, os.RemoveAll(b.folder))...)
}

// say sends a command to the daemon.
func (b *bench) say(address string, arguments ...any) (time.Time, error) {
	packet, err := osc.Encode(address, arguments...)
	if err != nil {
		return time.Time{}, err
	}
	to, err := net.ResolveUDPAddr("udp", b.surface.Addr())
	if err != nil {
		return time.Time{}, err
	}
	began := time.Now().Round(0) // the wall clock, which is what the kernel stamps with
	_, err = b.client.WriteToUDP(packet, to)
	return began, err
}

// settle says something and waits until the watched output holds a level near the one that is meant.
func (b *bench) settle(level float32, address string, arguments ...any) error {
	if _, err := b.say(address, arguments...); err != nil {
		return err
	}
	return b.until(level)
}

// until waits until the daemon believes that the watched output holds a level.
func (b *bench) until(level float32) error {
	for end := time.Now().Add(patience); time.Now().Before(end); {
		o := b.daemon.View().Outputs[0]
		if o.Confirmed && float32(o.Wanted) > level-0.005 && float32(o.Wanted) < level+0.005 {
			return nil
		}
		b.pause()
	}
	return fmt.Errorf("the watched output did not come to %v: %+v", level, b.daemon.View().Outputs[0])
}

// pause lets the daemon make its next view.
func (b *bench) pause() {
	changed, stop := b.daemon.Watch()
	defer stop()
	select {
	case <-changed:
	case <-time.After(5 * time.Millisecond):
	}
}

// lowerings brings a look on and takes one output down step by step.
func (b *bench) lowerings(n int) ([]time.Duration, error) {
	if err := b.settle(0.447, "/lookgate/recall/1"); err != nil {
		return nil, err
	}
	var times []time.Duration
	for i := range n {
		level := 0.44 - 0.004*float32(i%100)
		if i > 0 && i%100 == 0 {
			if err := b.settle(0.447, "/lookgate/recall/1"); err != nil {
				return nil, err
			}
		}
		t, err := b.timed("/lookgate/zone/watched/level", level)
		if err != nil {
			return nil, err
		}
		times = append(times, t)
	}
	return times, nil
}

// raises recalls a look brighter than it is, which has to be on disk before the device is told, and darker again in between.
func (b *bench) raises(n int) ([]time.Duration, error) {
	var times []time.Duration
	for range n {
		if err := b.settle(0.223, "/lookgate/recall/1/level", float32(0.5)); err != nil {
			return nil, err
		}
		t, err := b.timed("/lookgate/recall/1/level", float32(1))
		if err != nil {
			return nil, err
		}
		times = append(times, t)
		if err := b.until(0.447); err != nil {
			return nil, err
		}
	}
	return times, nil
}

// timed says something and waits for the first level that reaches a device.
func (b *bench) timed(address string, arguments ...any) (time.Duration, error) {
	<-time.After(b.pace)
	b.drain()
	began, err := b.say(address, arguments...)
	if err != nil {
		return 0, err
	}
	select {
	case at := <-b.levels:
		return b.first(at).Sub(began), nil
	case <-time.After(patience):
		return 0, fmt.Errorf("nothing reached a device after %s", strings.TrimSpace(fmt.Sprint(address, " ", arguments)))
	}
}

// first gives the earliest of an arrival and those that are told just after it: which device's goroutine tells first is not which packet arrived first.
func (b *bench) first(at time.Time) time.Time {
	end := time.After(time.Millisecond)
	for {
		select {
		case other := <-b.levels:
			if other.Before(at) {
				at = other
			}
		case <-end:
			return at
		}
	}
}

// drain forgets what arrived before.
func (b *bench) drain() {
	for {
		select {
		case <-b.levels:
		default:
			return
		}
	}
}

// relayed times packets through the bare relay, with one insert on disk on the way or without.
func (b *bench) relayed(keep bool) func(int) ([]time.Duration, error) {
	return func(n int) ([]time.Duration, error) {
		b.relay.keep.Store(keep)
		packet, err := osc.Encode("/lookgate/zone/watched/level", float32(0.4))
		if err != nil {
			return nil, err
		}
		var times []time.Duration
		for range n {
			<-time.After(b.pace)
			began := time.Now().Round(0)
			if _, err := b.client.WriteToUDPAddrPort(packet, b.relay.addr()); err != nil {
				return nil, err
			}
			select {
			case at := <-b.relay.arrived:
				times = append(times, at.Sub(began))
			case <-time.After(patience):
				return nil, errors.New("nothing came through the relay")
			}
		}
		return times, nil
	}
}

// bareRow is what the baseline inserts: as many bytes as a usual line of the record.
func bareRow() record.RecordRow {
	text, _ := json.Marshal(strings.Repeat("x", 298))
	return record.RecordRow{At: time.Now(), Kind: record.Note, Payload: text}
}
