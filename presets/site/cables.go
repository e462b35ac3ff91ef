package site

import (
	"math"
	"time"

	"lookgate/presets/cable"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// maxTogether and maxSets bound how many conductors lie together, and how many cables run in parallel.
const (
	maxTogether = 1000
	maxSets     = 100
)

// strandings are the words for how a conductor is made, in the order of the tables.
var strandings = []string{cable.Solid.String(), cable.Stranded.String(), cable.Coated.String(), cable.Class2.String(), cable.Class5.String()}

func (r *reader) cable(f *fields) {
	r.from("cables", f, nil)
	c := rig.Cable{
		Name:     f.need("name").name(),
		Size:     f.need("size").size(),
		At:       f.need("conductor_c").celsius(),
		Rating:   f.need("rating_a").amps(),
		Ambient:  r.ambient(f),
		Grouping: r.grouping(f),
	}
	if s := f.need("stranding").word(strandings...); s >= 0 {
		c.Stranding = cable.Stranding(s)
	}
	r.rig.Cables = append(r.rig.Cables, c)
}

// size reads a conductor's nominal size.
func (v value) size() cable.Size {
	s, ok := v.as(kind{form: textForm})
	if !ok {
		return 0
	}
	size, known := cable.ParseSize(s)
	if !known {
		v.wrong("not-size", quoted(s))
	}
	return size
}

// ambient reads the factor for the temperature around a cable: as it is, or by the published table for its insulation.
func (r *reader) ambient(f *fields) units.Share {
	factor, around, insulation := f.opt("ambient_factor"), f.opt("ambient_c"), f.opt("insulation_c")
	byTable := f.has("ambient_c") || f.has("insulation_c")
	if f.has("ambient_factor") == byTable {
		f.fail("ambient_factor")
		f.wrong("one-of", "ambient_factor, or ambient_c with insulation_c,")
		return 0
	}
	if !byTable {
		return factor.share()
	}
	a, i := f.need("ambient_c").celsius(), f.need("insulation_c").celsius()
	if !around.here() || !insulation.here() || f.failedAt("ambient_c") || f.failedAt("insulation_c") {
		f.fail("ambient_factor")
		return 0
	}
	share, known := cable.AmbientFactor(i, a)
	if !known {
		around.wrong("ambient-unknown", a, i)
	}
	return share
}

// grouping reads the factor for other loaded conductors beside a cable: as it is, or by the published table for their number.
func (r *reader) grouping(f *fields) units.Share {
	factor, together := f.opt("grouping_factor"), f.opt("together")
	if f.has("grouping_factor") == f.has("together") {
		f.fail("grouping_factor")
		f.wrong("one-of", "grouping_factor or together")
		return 0
	}
	if factor.here() {
		return factor.share()
	}
	if n := together.count(1, maxTogether); n > 0 {
		return cable.GroupingFactor(n)
	}
	return 0
}

// run reads a length of cable, one way. It is nil where there is none, or none that can be used. Only a feeder can have several in parallel.
func (r *reader) run(v value, parallel bool) *rig.Run {
	if !v.here() {
		return nil
	}
	f := v.fields()
	run := rig.Run{Cable: f.need("cable").ref("cables", "cable", r.cables), Length: f.need("length_m").metres()}
	if parallel {
		run.Sets = f.opt("sets").countOr(1, 1, maxSets)
	}
	f.done()
	if run.Cable < 0 {
		r.unsure["runs"] = true
		return nil
	}
	return &run
}

// carried gives what a run's cables carry as they are laid, each conductor all sets together; nothing where there is no run.
func (r *reader) carried(run *rig.Run) units.Amps {
	if run == nil {
		return 0
	}
	return r.rig.Cables[run.Cable].Carries() * units.Amps(max(1, run.Sets))
}

// known gives a figure that may be left out, for which the rig's 0 says that it is not known. A 0 that is written down is a mistake.
func known[T ~float64 | ~int64](v value, figure T) T {
	if v.here() && figure == 0 && !v.r.failed[failure{v.up.node, v.key}] {
		v.wrong("zero-figure", v.key)
	}
	return figure
}

// milliamps reads a current that the rig holds in amps.
func (v value) milliamps() units.Amps { return units.Amps(v.number("mA") / 1000) }

func (v value) metres() units.Metres     { return units.Metres(v.number("m")) }
func (v value) celsius() units.Celsius   { return units.Celsius(v.number("°C")) }
func (v value) voltAmps() units.VoltAmps { return units.VoltAmps(v.number("kVA") * 1000) }
func (v value) kilowatts() units.Watts   { return units.Watts(v.number("kW") * 1000) }

// maxPulse is the longest inrush that can be said: far beyond what a supply's capacitors take.
const maxPulse = time.Second

// microseconds reads the width of a pulse.
func (v value) microseconds() time.Duration {
	d := v.number("us") * float64(time.Microsecond)
	if math.Abs(d) > float64(maxPulse) {
		v.wrong("time-range", quoted(v.node.Value), "1 s")
		return 0
	}
	return time.Duration(math.Round(d))
}

// decision reads who decided something that the plain rules do not allow; nil where nobody did.
func decision(v value) *rig.Decision {
	if !v.here() {
		return nil
	}
	f := v.fields()
	d := signed(f)
	f.done()
	return &d
}

// signed reads a decision out of a mapping that may hold more.
func signed(f *fields) rig.Decision {
	return rig.Decision{Reason: f.need("reason").text(), By: f.need("by").text()}
}

// drop reads the limits of voltage drop.
func (r *reader) drop(v value) {
	f := v.fields()
	r.from("drop", f, nil)
	circuit, total := f.opt("circuit"), f.opt("total")
	r.rig.Drop = rig.DropLimits{Circuit: known(circuit, circuit.share()), Total: known(total, total.share())}
	f.done()
}
