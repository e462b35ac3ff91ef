package site

import (
	"fmt"

	"lookgate/presets/rig"
)

// ruledProcessors are the processors that one rule made, each for its columns of a wall.
type ruledProcessors struct {
	prefix string
	area   area
	each   int // columns
	first  int // into the rig's processors
	count  int
}

// maxProcessors bounds what a rule can make.
const maxProcessors = 1000

// processor reads one item of the processors: one with its name, or a rule with a prefix that makes one for every so many columns of a wall.
func (r *reader) processor(f *fields) {
	p := rig.Processor{
		Device:   -1,
		Port:     f.need("port").link(),
		Usable:   f.need("usable").share(),
		Bounding: f.opt("bounding").yes(),
	}
	for _, v := range f.need("inputs").some() {
		if s := v.ref("sources", "source", r.sources); s >= 0 {
			p.Inputs = append(p.Inputs, s)
		}
	}
	if f.failedAt("inputs") {
		r.unsure["processors.inputs"] = true
	}
	for _, v := range f.opt("wire").items() {
		w := v.fields()
		p.Wire = append(p.Wire, rig.WireDepth{Depth: w.need("depth").anyCount(), Bits: w.need("bits").anyCount()})
		w.done()
	}
	if !f.has("prefix") {
		p.Name = f.need("name").name()
		r.addProcessor(f, p)
		return
	}
	r.processorRule(f, p)
}

func (r *reader) addProcessor(f *fields, p rig.Processor) {
	r.rig.Processors = append(r.rig.Processors, p)
	r.from("processors", f, nil)
}

func (r *reader) processorRule(f *fields, base rig.Processor) {
	prefix, number := f.need("prefix").name(), f.firstNumber()
	each := f.need("columns_each").count(1, maxPanels)
	a, ok := r.pick(f)
	if !ok || each == 0 {
		r.unsure["processors"] = true
		return
	}
	rule := ruledProcessors{prefix, a, each, len(r.rig.Processors), (a.right - a.left + each) / each}
	if rule.count > maxProcessors {
		f.wrong("too-many-processors", rule.count, maxProcessors)
		r.unsure["processors"] = true
		return
	}
	for i := range rule.count {
		p := base
		p.Name = fmt.Sprintf("%s%d", prefix, number+i)
		r.addProcessor(f, p)
	}
	r.ruled = append(r.ruled, rule)
}

// ruledFor gives the processor that a rule made for a panel, -1 for none.
func (r *reader) ruledFor(panel int) int {
	p := r.rig.Panels[panel]
	for _, rule := range r.ruled {
		if a := rule.area; p.Wall == a.wall && p.Column >= a.left && p.Column <= a.right && p.Row >= a.bottom && p.Row <= a.top {
			return rule.first + (p.Column-a.left)/rule.each
		}
	}
	return -1
}

// dataRun reads one item of the data runs: a run with its name and panels, or a rule with a wall that makes many.
func (r *reader) dataRun(f *fields) {
	if !f.has("wall") {
		r.oneRun(f)
		return
	}
	processor := -1
	if v := f.opt("processor"); f.has("processor") {
		processor = v.ref("processors", "processor", r.processors)
	}
	port := f.opt("first_port").countOr(0, 1, 1_000_000)
	from, w := f.walk()
	a, ok := r.pick(f)
	if !ok || f.has("processor") && processor < 0 {
		r.portionKeysSeen(f)
		r.unsure["data_runs"] = true
		return
	}
	chains := r.portions(f, a, from, w, nil)
	if len(chains) == 0 {
		r.unsure["data_runs"] = true
	}
	for _, panels := range chains {
		p, ok := processor, true
		if processor < 0 {
			p, ok = r.processorFor(f, panels)
		}
		if !ok {
			r.unsure["data_runs"] = true
			return
		}
		r.addRun(f, p, port, panels)
		if port > 0 {
			port++
		}
	}
}

// processorFor gives the processor that a rule made for all of some panels, and tells where there is none or more than one.
func (r *reader) processorFor(f *fields, panels []int) (int, bool) {
	one := r.ruledFor(panels[0])
	for _, p := range panels {
		q := r.ruledFor(p)
		if q < 0 {
			if r.unsure["processors"] {
				f.mark()
			} else {
				f.wrong("run-no-processor", r.rig.PanelName(p))
			}
			return -1, false
		}
		if q != one {
			f.wrong("run-two-processors", r.rig.PanelNames(panels), r.rig.Processors[one].Name, r.rig.Processors[q].Name)
			return -1, false
		}
	}
	return one, true
}

// addRun adds a run of a rule, on the given port or on the one after the last that its processor has so far. Its name is the processor's and the port.
func (r *reader) addRun(f *fields, processor, port int, panels []int) {
	if port == 0 {
		port = r.lastPort[processor] + 1
	}
	r.lastPort[processor] = max(r.lastPort[processor], port)
	name := fmt.Sprintf("%s-%d", r.rig.Processors[processor].Name, port)
	r.rig.DataRuns = append(r.rig.DataRuns, rig.DataRun{Name: name, Processor: processor, Port: port, Panels: panels})
	r.from("data_runs", f, nil)
}

func (r *reader) oneRun(f *fields) {
	d := rig.DataRun{
		Name:      f.need("name").name(),
		Processor: f.need("processor").ref("processors", "processor", r.processors),
		Port:      f.need("port").anyCount(),
		Panels:    f.need("panels").panels(),
	}
	if f.failedAt("panels") {
		r.unsure["data_runs"] = true
	}
	if d.Processor >= 0 {
		r.lastPort[d.Processor] = max(r.lastPort[d.Processor], d.Port)
	}
	r.rig.DataRuns = append(r.rig.DataRuns, d)
	r.from("data_runs", f, nil)
}
