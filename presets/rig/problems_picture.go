package rig

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Bit depths per channel that a mode may have.
const (
	minDepth = 8
	maxDepth = 16
)

func (f *finder) devices() {
	for i, d := range f.Devices {
		if d.Class == NoClass {
			f.add("no-class", "devices", i, "class", d.Name)
		}
		if d.Steps < 1 || d.Steps > maxSteps {
			f.add("steps-range", "devices", i, "steps", d.Name, d.Steps, maxSteps)
		}
		if !d.Restart.Valid() {
			f.add("restart-range", "devices", i, "restart", d.Name, d.Restart)
		}
		f.lasts(i, "packet_life", d.Name, d.PacketLife)
		f.lasts(i, "settling", d.Name, d.Settling)
		f.lasts(i, "retry", d.Name, d.Retry)
		if d.Class == Silent && d.Repeats < 1 {
			f.add("repeats-missing", "devices", i, "repeats", d.Name, d.Repeats)
		}
		if sure := d.slowest(); d.Class == Silent && f.Hold > 0 && sure > f.Hold {
			f.add("hold-short", "devices", i, "repeats", d.Name, inMs(sure), inMs(f.Hold))
		}
	}
}

// slowest gives how long a silent device may take to be sure of a new look: down, picture, out of the black and up again, each told so often and then waited for.
func (d *Device) slowest() time.Duration {
	return 4 * (time.Duration(d.Repeats)*d.Retry + d.PacketLife + d.Settling)
}

func (f *finder) lasts(i int, key, device string, d time.Duration) {
	if d <= 0 {
		f.add("time-not-positive", "devices", i, key, key+" of device "+device, inMs(d))
	}
}

// inMs prints a time as a site's files have it.
func inMs(d time.Duration) string {
	return strconv.FormatFloat(float64(d)/float64(time.Millisecond), 'f', -1, 64) + " ms"
}

// address is one output's place at a device.
type address struct {
	device int
	at     string
}

func (f *finder) outputs() {
	chains := make([]chain, len(f.Outputs))
	taken := map[address]string{}
	for i, o := range f.Outputs {
		chains[i] = chain{o.Name, o.Panels}
		if !has(o.Device, len(f.Devices)) {
			continue
		}
		if by, used := taken[address{o.Device, o.Address}]; used {
			f.add("address-taken", "outputs", i, "address", o.Name, o.Address, f.Devices[o.Device].Name, by)
		} else {
			taken[address{o.Device, o.Address}] = o.Name
		}
	}
	f.chains("outputs", "output", "drives", chains)
	f.holders()
}

// holders checks that the device of an output is the processor of its panels, where the device is a processor at all.
func (f *finder) holders() {
	isProcessor, used := make([]bool, len(f.Devices)), make([]bool, len(f.Devices))
	for _, p := range f.Processors {
		if has(p.Device, len(isProcessor)) {
			isProcessor[p.Device], used[p.Device] = true, true
		}
	}
	for _, o := range f.Outputs {
		if has(o.Device, len(used)) {
			used[o.Device] = true
		}
	}
	for i, u := range used {
		if !u {
			f.add("device-unused", "devices", i, "name", f.Devices[i].Name)
		}
	}
	of := f.processorOf()
	for i, o := range f.Outputs {
		if !has(o.Device, len(f.Devices)) || !isProcessor[o.Device] {
			continue
		}
		var wrong []int
		names := []string{}
		for _, p := range o.Panels {
			if !has(p, len(of)) || !has(of[p], len(f.Processors)) || f.Processors[of[p]].Device == o.Device {
				continue
			}
			wrong = append(wrong, p)
			if n := f.Processors[of[p]].Name; !slices.Contains(names, n) {
				names = append(names, n)
			}
		}
		if len(wrong) > 0 {
			hang := fmt.Sprintf("%d of its panels hang", len(wrong))
			if len(wrong) == 1 {
				hang = "one of its panels hangs"
			}
			f.add("output-other-processor", "outputs", i, "device", o.Name, f.Devices[o.Device].Name, hang, strings.Join(names, ", "))
		}
	}
}

// processorOf gives the processor of each panel's data run, -1 where it has none.
func (f *finder) processorOf() []int {
	of := make([]int, len(f.Panels))
	for i := range of {
		of[i] = -1
	}
	for _, d := range f.DataRuns {
		for _, p := range d.Panels {
			if has(p, len(of)) {
				of[p] = d.Processor
			}
		}
	}
	return of
}

func (f *finder) zones() {
	zoned := make([]bool, len(f.Outputs))
	for i, z := range f.Zones {
		if len(z.Outputs) == 0 {
			f.add("zone-empty", "zones", i, "outputs", z.Name)
		}
		for k, o := range z.Outputs {
			if !has(o, len(zoned)) {
				continue
			}
			if slices.Contains(z.Outputs[:k], o) {
				f.add("zone-twice", "zones", i, "outputs", z.Name, f.Outputs[o].Name)
			}
			zoned[o] = true
		}
	}
	for i, in := range zoned {
		if !in {
			f.add("output-no-zone", "outputs", i, "name", f.Outputs[i].Name)
		}
	}
}

func (f *finder) processors() {
	for i, p := range f.Processors {
		positive(f, "processors", i, "port", "processor "+p.Name, p.Port)
		if !partOf(p.Usable) {
			f.add("usable-range", "processors", i, "usable", p.Name, p.Usable)
		}
		for _, w := range p.Wire {
			if w.Depth < minDepth || w.Depth > maxDepth || w.Bits < w.Depth {
				f.add("wire-bits", "processors", i, "wire", p.Name, w.Depth, w.Bits, minDepth, maxDepth)
			}
		}
		for k, s := range p.Inputs {
			if has(s, len(f.Sources)) && slices.Contains(p.Inputs[:k], s) {
				f.add("input-twice", "processors", i, "inputs", p.Name, f.Sources[s].Name)
			}
		}
	}
}

func (f *finder) dataRuns() {
	chains := make([]chain, len(f.DataRuns))
	type port struct{ processor, number int }
	taken := map[port]string{}
	for i, d := range f.DataRuns {
		chains[i] = chain{d.Name, d.Panels}
		f.whole("data_runs", i, "port", "data run "+d.Name, d.Port)
		if walls := f.wallsOf(d.Panels); len(walls) > 1 {
			f.add("run-over-walls", "data_runs", i, "panels", d.Name, strings.Join(walls, ", "))
		}
		if !has(d.Processor, len(f.Processors)) {
			continue
		}
		if by, used := taken[port{d.Processor, d.Port}]; used {
			f.add("port-taken", "data_runs", i, "port", d.Name, d.Port, f.Processors[d.Processor].Name, by)
		} else {
			taken[port{d.Processor, d.Port}] = d.Name
		}
	}
	f.chains("data_runs", "data run", "passes", chains)
}

// wallsOf gives the names of the walls that panels stand on, each once.
func (f *finder) wallsOf(panels []int) []string {
	var names []string
	for _, p := range panels {
		if !has(p, len(f.Panels)) || !has(f.Panels[p].Wall, len(f.Walls)) {
			continue
		}
		if n := f.Walls[f.Panels[p].Wall].Name; !slices.Contains(names, n) {
			names = append(names, n)
		}
	}
	return names
}

// pictures checks sources and modes.
func (f *finder) pictures() {
	taken := make([]bool, len(f.Sources))
	for _, p := range f.Processors {
		for _, s := range p.Inputs {
			if has(s, len(taken)) {
				taken[s] = true
			}
		}
	}
	for i, s := range f.Sources {
		f.whole("sources", i, "pixels", "source "+s.Name, s.Width)
		f.whole("sources", i, "pixels", "source "+s.Name, s.Height)
		if !s.Rate.Valid() {
			f.add("rate-missing", "sources", i, "rate", "source "+s.Name)
		}
		if !taken[i] {
			f.add("source-unused", "sources", i, "name", s.Name)
		}
	}
	for i, m := range f.Modes {
		if !m.WallRate.Valid() {
			f.add("rate-missing", "modes", i, "wall_rate", "mode "+m.Name)
		}
		if m.BitDepth < minDepth || m.BitDepth > maxDepth {
			f.add("depth-range", "modes", i, "bit_depth", m.Name, m.BitDepth, minDepth, maxDepth)
		}
	}
}
