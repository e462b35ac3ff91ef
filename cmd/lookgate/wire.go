package main

import (
	"context"
	"fmt"
	"io"
	"log"
	"log/slog"
	"os"
	"path/filepath"
	"runtime/debug"
	"sync/atomic"
	"time"

	"lookgate/daemon"
	"lookgate/presets"
	"lookgate/presets/engine"
	"lookgate/presets/rig"
	"lookgate/presets/site"
	"lookgate/protocols"
	"lookgate/protocols/httpd"
	"lookgate/protocols/osc"
	"lookgate/protocols/ws"
	"lookgate/web"
)

// booth is one running daemon with its ways in and out: everything that this program wires.
type booth struct {
	folder string
	site   *site.Site
	edges  edges
	daemon *daemon.Daemon
	osc    *osc.Surface
	http   protocols.Surface
	turned atomic.Int64 // when the daemon's view last changed, in nanoseconds of the wall clock
}

// boothOptions are what the subcommands differ in.
type boothOptions struct {
	watch bool
	state string // folder of the record
	log   io.Writer
	edges edges // as the site's files have them, whatever the command line made of them
}

// plantedFault is a mistake that the kill test plants in a process of its own, to see that it would be found. The program never sets it.
var plantedFault engine.Fault

// collectAt is how much garbage, as a per cent of what is in use, is let lie before it is collected: some tens of megabytes, for fewer commands that come late by a
// collection.
const collectAt = 400

// newBooth wires a daemon over a site that was read from a folder. Nothing is opened yet.
func newBooth(folder string, s *site.Site, o boothOptions) (*booth, error) {
	debug.SetGCPercent(collectAt)
	b := &booth{folder: folder, site: s, edges: o.edges}
	b.turned.Store(time.Now().UnixNano())
	if err := os.MkdirAll(o.state, 0o755); err != nil {
		return nil, fmt.Errorf("the state folder cannot be made: %w\ngive the daemon's user the right to write there", err)
	}
	if s.Listen.OSC != "" {
		if _, err := osc.NewSurface(nil, b.oscConfig()); err != nil {
			return nil, err
		}
	}
	var devices []protocols.Device
	for i, wire := range s.Devices {
		d, err := deviceOf(s.Rig, i, wire)
		if err != nil {
			return nil, err
		}
		devices = append(devices, d)
	}
	d, err := daemon.New(daemon.Options{
		Plan: presets.NewPlan(s.Rig, s.Book), Settings: engine.Settings{Watch: o.watch, Fault: plantedFault}, StateDir: o.state, Devices: devices,
		Surfaces: func(desk protocols.Desk) []protocols.Surface { return b.surfaces(desk, o.log) },
		ReadSite: b.read, Log: slog.New(slog.NewTextHandler(o.log, nil)),
	})
	b.daemon = d
	return b, err
}

// deviceOf gives the wire to a device. A simulated one speaks OSC as a real one does; only what stands behind the socket differs.
func deviceOf(r *rig.Rig, i int, w site.Wire) (protocols.Device, error) {
	c := osc.DeviceConfig{Address: w.Address}
	if w.ReplyPort != 0 {
		c.Listen = fmt.Sprintf(":%d", w.ReplyPort)
	}
	return osc.NewDevice(r, i, c)
}

// surfaces makes the ways in that the site asks for.
func (b *booth) surfaces(desk protocols.Desk, out io.Writer) []protocols.Surface {
	var list []protocols.Surface
	if b.site.Listen.OSC != "" {
		b.osc, _ = osc.NewSurface(desk, b.oscConfig()) // newBooth has seen that it can be made
		list = append(list, b.osc)
	}
	if b.site.Listen.HTTP != "" {
		b.http = b.httpSurface(desk, stationsOf(b.site), log.New(out, "", log.LstdFlags))
		list = append(list, b.http)
	}
	return list
}

func (b *booth) oscConfig() osc.Config {
	return osc.Config{Listen: b.site.Listen.OSC, Stations: stationsOf(b.site), Limits: osc.DefaultLimits()}
}

func (b *booth) httpSurface(desk protocols.Desk, stations []protocols.Station, lg *log.Logger) protocols.Surface {
	assets, err := httpd.Assets(web.Files())
	if err != nil {
		panic("the panel that is built in does not load: " + err.Error())
	}
	clients := ws.New(desk, ws.Options{Stations: stations, Plant: func(r *rig.Rig) any { return httpd.PlantOf(r) }, Age: b.age, Log: lg})
	return httpd.New(desk, httpd.Options{Listen: b.site.Listen.HTTP, Hosts: b.site.Listen.Hosts, Age: b.age, Log: lg},
		httpd.Mount{Path: "/", Handler: assets}, httpd.Mount{Path: "/ws", Handler: clients})
}

func stationsOf(s *site.Site) []protocols.Station {
	var list []protocols.Station
	for _, st := range s.Stations {
		list = append(list, protocols.Station(st))
	}
	return list
}

// age says how long ago the daemon last turned: it makes a new view at least twice a second.
func (b *booth) age() time.Duration { return time.Since(time.Unix(0, b.turned.Load())) }

// follow keeps the age.
func (b *booth) follow(ctx context.Context) {
	changed, stop := b.daemon.Watch()
	defer stop()
	for {
		select {
		case <-changed:
			b.turned.Store(time.Now().UnixNano())
		case <-ctx.Done():
			return
		}
	}
}

// read reads the site again for a reload. What a reload cannot change is said as a problem.
func (b *booth) read() (*presets.Plan, []string) {
	s, problems, err := readSite(b.folder)
	if err != nil {
		return nil, []string{err.Error()}
	}
	var list []string
	for _, p := range problems {
		if !p.Warning {
			list = append(list, p.String())
		}
	}
	if len(list) > 0 {
		return nil, list
	}
	if list = b.edges.changed(edgesOf(s)); len(list) > 0 {
		return nil, list
	}
	return presets.NewPlan(s.Rig, s.Book), nil
}

// stateOf gives the folder of a site's record.
func stateOf(folder string) string { return filepath.Join(folder, "state") }
