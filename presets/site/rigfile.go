package site

import (
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// continuous is the part of a breaker or main that a continuous load may use where the rig says nothing else: the 80 % of North American practice
// (NEC 210.20 and 215.3, where the overcurrent device is at least 125 % of the continuous load).
const continuous units.Share = 0.8

// readRig reads the plant: first what stands for itself, then what refers to it.
func (r *reader) readRig(doc, devices value) {
	f := doc.fields()
	if !f.here() {
		for _, l := range []string{"rig", "boards", "panel_types", "walls", "circuits", "loads", "outputs", "zones", "processors", "data_runs", "sources", "modes"} {
			r.unsure[l] = true
		}
	}
	r.rig.Name = f.need("name").text()
	r.rig.Hold = f.need("hold").time()
	r.from("", f, nil)
	r.factor = f.opt("factor").shareOr(continuous)
	r.drop(f.opt("drop"))
	r.rig.Credit = decision(f.opt("content_credit"))
	r.supply(f.need("supply").fields())
	r.cableList(f)
	r.boardList(f.need("boards"))
	r.each(f.need("panel_types"), r.panelType)
	r.each(f.need("sources"), r.source)
	r.each(f.need("modes"), r.mode)
	r.types = indexed(r.rig.PanelTypes, func(t rig.PanelType) string { return t.Name })
	r.sources = indexed(r.rig.Sources, func(s rig.Source) string { return s.Name })
	r.modes = indexed(r.rig.Modes, func(m rig.Mode) string { return m.Name })
	r.each(f.need("walls"), r.wall)
	r.walls = indexed(r.rig.Walls, func(w rig.Wall) string { return w.Name })
	r.each(f.opt("loads"), r.load)
	r.each(f.need("circuits"), r.circuit)
	r.each(f.need("processors"), r.processor)
	r.processors = indexed(r.rig.Processors, func(p rig.Processor) string { return p.Name })
	r.each(f.need("data_runs"), r.dataRun)
	r.readDevices(devices)
	r.pairProcessors()
	r.each(f.need("outputs"), r.output)
	r.outputs = indexed(r.rig.Outputs, func(o rig.Output) string { return o.Name })
	r.each(f.need("zones"), r.zone)
	r.zones = indexed(r.rig.Zones, func(z rig.Zone) string { return z.Name })
	f.done()
}

// each reads the items of a list. A list that is not there, or has an item that cannot be read, is not judged as a whole.
func (r *reader) each(v value, read func(*fields)) {
	if !v.here() {
		r.unsure[v.key] = true
		return
	}
	items := v.items()
	if items == nil {
		r.unsure[v.key] = true
	}
	for _, item := range items {
		f := item.fields()
		if !f.here() {
			r.unsure[v.key] = true
			continue
		}
		read(f)
		f.done()
	}
}

// from notes where the part that comes next in a list of the rig is read from.
func (r *reader) from(list string, f, exception *fields) {
	r.origins[list] = append(r.origins[list], origin{f, exception})
}

func (r *reader) panelType(f *fields) {
	r.from("panel_types", f, nil)
	t := rig.PanelType{
		Name:        f.need("name").name(),
		Peak:        f.need("peak_nits").nits(),
		Black:       f.need("black_w").watts(),
		White:       f.need("white_w").watts(),
		PF:          f.need("pf").share(),
		Third:       f.need("third_harmonic").share(),
		FeedThrough: f.need("feed_through_a").amps(),
	}
	w, h := f.need("size_mm").cross(0, maxSize)
	t.Width, t.Height = units.Millimetres(w), units.Millimetres(h)
	t.PixelsX, t.PixelsY = f.need("pixels").pixels(0)
	t.Displacement, t.DisplacementKnown = r.displacement(f)
	switchedOn(f, &t)
	r.rig.PanelTypes = append(r.rig.PanelTypes, t)
}

// switchedOn reads what may be left out of a panel type: its primaries, what it draws when it is switched on, and what it leaks to earth.
func switchedOn(f *fields, t *rig.PanelType) {
	red, green, blue := f.opt("red_w"), f.opt("green_w"), f.opt("blue_w")
	t.Red, t.Green, t.Blue = known(red, red.watts()), known(green, green.watts()), known(blue, blue.watts())
	peak, width, leakage := f.opt("inrush_peak_a"), f.opt("inrush_us"), f.opt("leakage_ma")
	t.Inrush = rig.Inrush{Peak: known(peak, peak.amps()), Width: known(width, width.microseconds())}
	t.Leakage = known(leakage, leakage.milliamps())
	for _, item := range f.opt("per_breaker").items() {
		row := item.fields()
		t.PerBreaker = append(t.PerBreaker, rig.PerBreaker{
			Curve:   row.opt("curve").curve(),
			Breaker: row.need("breaker_a").amps(),
			Panels:  row.need("panels").anyCount(),
		})
		row.done()
	}
}

// curves are the letters that stand on breakers.
var curves = []string{rig.CurveB.String(), rig.CurveC.String(), rig.CurveD.String()}

// curve reads how a breaker trips; nothing is said where the letter is left out.
func (v value) curve() rig.Curve { return rig.Curve(v.word(curves...) + 1) }

// maxSize is the longest side of a panel in millimetres that can be said.
const maxSize = 10000

// displacement reads an angle that may be left out: then it counts as anything that the power factor allows.
func (r *reader) displacement(f *fields) (units.Degrees, bool) {
	v := f.opt("displacement_deg")
	return v.degrees(), v.here()
}

func (r *reader) source(f *fields) {
	r.from("sources", f, nil)
	s := rig.Source{Name: f.need("name").name(), Rate: f.need("rate").rate()}
	s.Width, s.Height = f.need("pixels").pixels(0)
	r.rig.Sources = append(r.rig.Sources, s)
}

func (r *reader) mode(f *fields) {
	r.from("modes", f, nil)
	r.rig.Modes = append(r.rig.Modes, rig.Mode{
		Name:     f.need("name").name(),
		WallRate: f.need("wall_rate").rate(),
		BitDepth: f.need("bit_depth").anyCount(),
	})
}

// legWords are the words for legs.
var legWords = []string{"L1", "L2", "L3"}

func (r *reader) load(f *fields) {
	r.from("loads", f, nil)
	l := rig.OtherLoad{
		Name:    f.need("name").name(),
		Board:   f.need("board").ref("boards", "board", r.boards),
		Current: f.need("current_a").amps(),
		PF:      f.need("pf").share(),
		Third:   f.need("third_harmonic").share(),
	}
	for _, v := range f.need("legs").some() {
		if leg := v.word(legWords...); leg >= 0 {
			l.Legs = append(l.Legs, leg)
		}
	}
	l.Displacement, l.DisplacementKnown = r.displacement(f)
	r.rig.Loads = append(r.rig.Loads, l)
}
