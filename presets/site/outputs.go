package site

import (
	"fmt"
	"slices"
	"strconv"

	"lookgate/presets/rig"
)

// output reads one item of the outputs: one with its name, over an area or over named panels, or a rule that makes one for every processor of an area
// or for every so many columns.
func (r *reader) output(f *fields) {
	device := -1
	if v := f.opt("device"); f.has("device") {
		device = v.ref("devices", "device", r.devices)
	}
	switch {
	case f.has("each"):
		r.outputsByProcessor(f)
	case f.has("prefix"):
		r.outputsByBlock(f, device)
	default:
		r.oneOutput(f, device)
	}
	if slices.ContainsFunc([]string{"wall", "panels", "columns", "rows"}, f.failedAt) {
		r.unsure["outputs"] = true
	}
}

func (r *reader) oneOutput(f *fields, device int) {
	name := f.need("name").name()
	var panels []int
	if f.has("panels") {
		panels = f.opt("panels").panels()
	} else if a, ok := r.pick(f); ok {
		panels = r.panelsAt(a.wall, a.cells(bottomLeft, upDown))
	}
	at := ""
	if v := f.opt("address"); v.here() {
		at = v.text()
	}
	r.addOutput(f, name, device, at, panels)
}

// outputsByProcessor makes an output for each processor that an area's panels hang on, named after the wall and the processor.
func (r *reader) outputsByProcessor(f *fields) {
	f.opt("each").word("processor")
	a, ok := r.pick(f)
	if !ok {
		return
	}
	of := r.runProcessors()
	var order []int
	panels := map[int][]int{}
	for _, p := range r.panelsAt(a.wall, a.cells(bottomLeft, upDown)) {
		q := of[p]
		if q < 0 {
			r.noProcessor(f, p)
			return
		}
		if panels[q] == nil {
			order = append(order, q)
		}
		panels[q] = append(panels[q], p)
	}
	for _, q := range order {
		name := fmt.Sprintf("%s-%s", r.rig.Walls[a.wall].Name, r.rig.Processors[q].Name)
		r.addOutput(f, name, r.rig.Processors[q].Device, "", panels[q])
	}
}

// outputsByBlock makes an output for every so many columns, rows or panels.
func (r *reader) outputsByBlock(f *fields, device int) {
	prefix, first := f.need("prefix").name(), f.firstNumber()
	from, w := f.walk()
	a, ok := r.pick(f)
	if !ok {
		r.portionKeysSeen(f)
		return
	}
	portions := r.portions(f, a, from, w, nil)
	if len(portions) == 0 {
		r.unsure["outputs"] = true
	}
	for i, panels := range portions {
		r.addOutput(f, fmt.Sprintf("%s%d", prefix, first+i), device, "", panels)
	}
}

// addOutput adds an output. Where no device is named, it is the one of the processor that the panels hang on; where no address is given, it is the
// output's number on its device.
func (r *reader) addOutput(f *fields, name string, device int, at string, panels []int) {
	if device < 0 && !f.has("device") {
		device = r.holder(f, name, panels)
	}
	if device < 0 {
		r.unsure["outputs.device"] = true
	} else {
		r.lastOutput[device]++
		if at == "" {
			at = strconv.Itoa(r.lastOutput[device])
		}
	}
	r.rig.Outputs = append(r.rig.Outputs, rig.Output{Name: name, Device: device, Address: at, Panels: panels})
	r.from("outputs", f, nil)
}

// holder gives the device of the processor that all panels hang on, -1 where there is none or more than one.
func (r *reader) holder(f *fields, name string, panels []int) int {
	of, one := r.runProcessors(), -1
	for _, p := range panels {
		switch {
		case of[p] < 0:
			r.noProcessor(f, p)
			return -1
		case one >= 0 && of[p] != one:
			f.wrong("output-two-processors", name, r.rig.Processors[one].Name, r.rig.Processors[of[p]].Name)
			return -1
		}
		one = of[p]
	}
	if one < 0 {
		return -1
	}
	return r.rig.Processors[one].Device
}

// noProcessor tells of a panel whose processor is not known, unless the data runs could not be read whole.
func (r *reader) noProcessor(f *fields, panel int) {
	if r.unsure["data_runs"] {
		f.fail("device")
		r.unsure["outputs"] = true
		return
	}
	f.wrong("output-no-processor", r.rig.PanelName(panel))
}

// runProcessors gives the processor of each panel, -1 where it is on no data run.
func (r *reader) runProcessors() []int {
	if r.processorOf == nil {
		r.processorOf = make([]int, len(r.rig.Panels))
		for i := range r.processorOf {
			r.processorOf[i] = -1
		}
		for _, d := range r.rig.DataRuns {
			for _, p := range d.Panels {
				r.processorOf[p] = d.Processor
			}
		}
	}
	return r.processorOf
}

// zone reads a zone by its outputs, by whole walls, or by an area of a wall.
func (r *reader) zone(f *fields) {
	z := rig.Zone{Name: f.need("name").name()}
	given := 0
	for _, k := range []string{"outputs", "walls", "wall"} {
		if f.has(k) {
			given++
		}
	}
	for _, v := range f.opt("outputs").some() {
		if o := v.ref("outputs", "output", r.outputs); o >= 0 {
			z.Outputs = append(z.Outputs, o)
		}
	}
	for _, v := range f.opt("walls").some() {
		if w := v.ref("walls", "wall", r.walls); w >= 0 && len(r.grid[w]) > 0 {
			z.Outputs = append(z.Outputs, r.outputsIn(f, z.Name, area{w, 1, r.rig.Walls[w].Columns, 1, r.rig.Walls[w].Rows})...)
		}
	}
	if f.has("wall") {
		if a, ok := r.pick(f); ok {
			z.Outputs = append(z.Outputs, r.outputsIn(f, z.Name, a)...)
		}
	}
	if given != 1 {
		f.wrong("one-of", "outputs, walls or wall")
		r.unsure["zones.outputs"] = true
		f.fail("outputs")
	}
	r.rig.Zones = append(r.rig.Zones, z)
	r.from("zones", f, nil)
}

// outputsIn gives the outputs whose panels stand in an area. An output of which only a part does is cut by it: then neither all of the area nor the
// area alone could be levelled.
func (r *reader) outputsIn(f *fields, zone string, a area) []int {
	inside, of := map[int][]int{}, r.panelOutputs()
	var touched []int
	for _, p := range r.panelsAt(a.wall, a.cells(bottomLeft, upDown)) {
		o := of[p]
		if o < 0 {
			continue
		}
		if inside[o] == nil {
			touched = append(touched, o)
		}
		inside[o] = append(inside[o], p)
	}
	for _, o := range touched {
		all := r.rig.Outputs[o]
		if len(inside[o]) < len(all.Panels) && !r.unsure["outputs"] {
			r.unsure["zones.outputs"] = true
			f.wrong("zone-cuts-output", zone, all.Name, r.rig.PanelNames(inside[o]), r.rig.PanelNames(without(all.Panels, inside[o])))
		}
	}
	if len(touched) == 0 && r.unsure["outputs"] {
		f.fail("outputs")
	}
	return touched
}

// without gives the panels of all that are not in some.
func without(all, some []int) []int {
	in := make(map[int]bool, len(some))
	for _, p := range some {
		in[p] = true
	}
	var out []int
	for _, p := range all {
		if !in[p] {
			out = append(out, p)
		}
	}
	return out
}

// panelOutputs gives the output of each panel, -1 where it has none.
func (r *reader) panelOutputs() []int {
	if r.outputOf == nil {
		r.outputOf = make([]int, len(r.rig.Panels))
		for i := range r.outputOf {
			r.outputOf[i] = -1
		}
		for i, o := range r.rig.Outputs {
			for _, p := range o.Panels {
				r.outputOf[p] = i
			}
		}
	}
	return r.outputOf
}
