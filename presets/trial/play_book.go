package trial

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"lookgate/presets"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// load reads "load fan: 3 A on L2, pf 0.85".
func (h *playHead) load(name string, parts []string) {
	amps, legs, _ := strings.Cut(parts[0], " on ")
	l := rig.OtherLoad{Name: name, Current: h.amps(amps), Legs: h.legs(legs), PF: 1, DisplacementKnown: true}
	for _, part := range parts[1:] {
		l.PF, l.DisplacementKnown = units.Share(h.number(strings.TrimPrefix(part, "pf "), "")), false
	}
	h.rig.Loads = append(h.rig.Loads, l)
}

// device reads "device p1: numbered, restart 10 %, steps 100, packet life 200 ms, settling 50 ms, retry 300 ms, repeats 3".
func (h *playHead) device(name string, parts []string) {
	d := rig.Device{Name: name, Steps: 100, PacketLife: 200 * time.Millisecond, Settling: 40 * time.Millisecond, Retry: 300 * time.Millisecond, Repeats: 3}
	for _, class := range []rig.Class{rig.Numbered, rig.Reporting, rig.Silent} {
		if parts[0] == class.String() {
			d.Class = class
		}
	}
	for _, part := range parts[1:] {
		i := strings.IndexAny(part, "0123456789")
		if i < 0 {
			h.wrong("%q is not understood", part)
			continue
		}
		switch figure := part[i:]; strings.TrimSpace(part[:i]) {
		case "restart":
			d.Restart = units.Level(h.share(figure))
		case "steps":
			d.Steps = int(h.number(figure, ""))
		case "packet life":
			d.PacketLife = h.time(figure)
		case "settling":
			d.Settling = h.time(figure)
		case "retry":
			d.Retry = h.time(figure)
		case "repeats":
			d.Repeats = int(h.number(figure, ""))
		default:
			h.wrong("%q is not understood", part)
		}
	}
	h.rig.Processors = append(h.rig.Processors, rig.Processor{Name: name, Device: len(h.rig.Devices), Port: 1e9, Usable: 1})
	h.rig.Devices = append(h.rig.Devices, d)
}

// output reads "output left: on p1, circuits A1 A2" or "output left: on p1, 6 panels of A1". Each output is a zone of its own name too.
func (h *playHead) output(name string, parts []string) {
	o := rig.Output{Name: name, Address: strconv.Itoa(len(h.rig.Outputs) + 1), Device: -1}
	for _, part := range parts {
		words := strings.Fields(part)
		switch {
		case len(words) == 2 && words[0] == "on":
			o.Device = slices.IndexFunc(h.rig.Devices, func(d rig.Device) bool { return d.Name == words[1] })
		case len(words) > 1 && strings.TrimSuffix(words[0], "s") == "circuit":
			for _, c := range words[1:] {
				o.Panels = append(o.Panels, h.take(c, -1)...)
			}
		case len(words) == 4 && words[1] == "panels" && words[2] == "of":
			o.Panels = append(o.Panels, h.take(words[3], int(h.number(words[0], "")))...)
		default:
			h.wrong("%q is not understood", part)
		}
	}
	if o.Device < 0 {
		h.wrong("there is no such device")
		return
	}
	n := len(h.rig.Outputs)
	h.rig.Outputs = append(h.rig.Outputs, o)
	h.rig.Zones = append(h.rig.Zones, rig.Zone{Name: name, Outputs: []int{n}})
	h.rig.DataRuns = append(h.rig.DataRuns, rig.DataRun{Name: name, Processor: o.Device, Port: n + 1, Panels: o.Panels})
}

// take gives the next panels of a circuit that no output has; all of them for -1.
func (h *playHead) take(circuit string, n int) []int {
	i := slices.IndexFunc(h.rig.Circuits, func(c rig.Circuit) bool { return c.Name == circuit })
	if i < 0 {
		h.wrong("there is no circuit %q", circuit)
		return nil
	}
	if n < 0 {
		n = h.panels[i] - h.taken[i]
	}
	first := h.taken[i]
	for _, before := range h.panels[:i] {
		first += before
	}
	h.taken[i] += n
	return numbers(first, n)
}

// hang makes the wall: one row of panels, circuit after circuit.
func (h *playHead) hang() {
	h.at = "circuits"
	n := 0
	for i, count := range h.panels {
		h.rig.Circuits[i].Panels = numbers(n, count)
		n += count
	}
	h.rig.Walls = []rig.Wall{{Name: "wall", Columns: n, Rows: 1, PixelsX: 168 * n, PixelsY: 168}}
	for i := range n {
		h.rig.Panels = append(h.rig.Panels, rig.Panel{Column: i + 1, Row: 1})
	}
}

// zone reads "zone all: left right".
func (h *playHead) zone(name string, parts []string) {
	z := rig.Zone{Name: name}
	for word := range strings.FieldsSeq(parts[0]) {
		o := slices.IndexFunc(h.rig.Outputs, func(o rig.Output) bool { return o.Name == word })
		if o < 0 {
			h.wrong("there is no output %q", word)
			return
		}
		z.Outputs = append(z.Outputs, o)
	}
	h.rig.Zones = append(h.rig.Zones, z)
}

// preset reads "preset 2 left-up: left 80 %, right 20 % cap 50 %, top auto up to 60 %, fade up 1 s, fade down 2 s, no dip, mode video, above 30 min".
func (h *playHead) preset(name string, parts []string) {
	number, words, _ := strings.Cut(name, " ")
	p := presets.Preset{Number: int(h.number(number, "")), Name: words}
	for _, part := range parts {
		first, rest, _ := strings.Cut(part, " ")
		switch {
		case strings.HasPrefix(part, "fade up "):
			p.FadeUp = h.time(strings.TrimPrefix(part, "fade up "))
		case strings.HasPrefix(part, "fade down "):
			p.FadeDown = h.time(strings.TrimPrefix(part, "fade down "))
		case strings.HasPrefix(part, "above "):
			p.Above = h.time(strings.TrimPrefix(part, "above "))
		case part == "no dip":
			p.NoDip = true
		case first == "mode":
			p.Mode = max(0, slices.IndexFunc(h.rig.Modes, func(m rig.Mode) bool { return m.Name == rest }))
		default:
			p.Zones = append(p.Zones, h.level(first, rest))
		}
	}
	h.book.Presets = append(h.book.Presets, p)
	slices.SortFunc(h.book.Presets, func(a, b presets.Preset) int { return a.Number - b.Number })
}

// level reads a zone's part of a preset.
func (h *playHead) level(zone, text string) presets.ZoneLevel {
	z := presets.ZoneLevel{Zone: slices.IndexFunc(h.rig.Zones, func(z rig.Zone) bool { return z.Name == zone })}
	if z.Zone < 0 {
		h.wrong("there is no zone %q", zone)
	}
	if most, auto := strings.CutPrefix(text, "auto"); auto {
		z.Auto, z.Level = true, 1
		if most != "" {
			z.Level = units.Level(h.share(strings.TrimPrefix(most, " up to ")))
		}
		z.Cap = z.Level
		return z
	}
	level, most, capped := strings.Cut(text, " cap ")
	z.Level = units.Level(h.share(level))
	z.Cap = z.Level
	if capped {
		z.Cap = units.Level(h.share(most))
	}
	return z
}

func (h *playHead) worklight(_ string, parts []string) {
	h.book.Worklight = int(h.number(parts[0], ""))
}

// check adds what the rig itself finds wrong.
func (h *playHead) check() {
	for _, p := range h.rig.Problems() {
		if !p.Warning {
			h.problems = append(h.problems, fmt.Sprintf("%s: %s; %s", p.Part, p.Sentence, p.Hint))
		}
	}
}
