package rig

import (
	"fmt"

	"lookgate/presets/cable"
	"lookgate/presets/units"
)

// Bounds of what a cable may say of itself. Copper's resistance is near enough linear between the temperatures. Cables that lie cool may carry more than
// their rating by a third at most in the published tables; company never makes a cable carry more.
const (
	coldest     units.Celsius = -40
	hottest     units.Celsius = 250
	mostAmbient units.Share   = 1.5
)

func (f *finder) cables() {
	for i, c := range f.Cables {
		of := "cable " + c.Name
		positive(f, "cables", i, "rating_a", of, c.Rating)
		f.cableFactor(i, "ambient_factor", c, c.Ambient, mostAmbient)
		f.cableFactor(i, "grouping_factor", c, c.Grouping, 1)
		if !(c.At >= coldest && c.At <= hottest) {
			f.add("conductor-temperature", "cables", i, "conductor_c", c.Name, c.At, float64(coldest), hottest)
		} else {
			f.resistance(i, c)
		}
	}
}

// resistance finds a cable of which the tables do not know how much it loses.
func (f *finder) resistance(i int, c Cable) {
	if c.Size == 0 {
		f.add("cable-no-size", "cables", i, "size", c.Name)
		return
	}
	_, known := cable.Resistance(c.Size, c.Stranding, c.At)
	if _, also := cable.Reactance(c.Size); !known || !also {
		f.add("resistance-unknown", "cables", i, "stranding", c.Name, c.Size, c.Stranding)
	}
}

func (f *finder) cableFactor(i int, key string, c Cable, s, most units.Share) {
	if !(s > 0 && s <= most) {
		f.add("cable-factor", "cables", i, key, key, c.Name, s, most)
	}
}

// run checks a length of cable.
func (f *finder) run(part string, i int, key, of string, run *Run) {
	if run == nil {
		return
	}
	f.reference(part, i, key, of, "cable", run.Cable, len(f.Cables))
	positive(f, part, i, key+".length_m", fmt.Sprintf("the %s of %s", runWord(key), of), run.Length)
	if run.Sets < 0 {
		f.add("figure-not-positive", part, i, key+".sets", "sets of "+of, run.Sets)
	}
}

// runWord says in words what a key of a run is.
func runWord(key string) string {
	switch key {
	case "home_run":
		return "home run"
	case "jumper":
		return "jumpers"
	default:
		return key
	}
}

// ways checks a circuit's home run and jumpers, and their ratings.
func (f *finder) ways(i int, c Circuit) {
	of := "circuit " + c.Name
	f.run("circuits", i, "home_run", of, c.Home)
	f.run("circuits", i, "jumper", of, c.Link)
	f.rating(i, "home_run", of, c.HomeRun, c.Home)
	if len(c.Panels) > 1 {
		f.rating(i, "jumper", of, c.Jumper, c.Link)
	}
}

// rating checks what a home run or jumpers may carry. That of a cable whose own figures are wrong is told there.
func (f *finder) rating(i int, key, of string, a units.Amps, run *Run) {
	if carries, known := f.carries(run); known && !(carries > 0) {
		return
	}
	positive(f, "circuits", i, key+"_a", of, a)
	f.aboveCable("circuits", i, key, of, a, run)
}

// carries gives what a run's cables carry as they are laid, and whether there is such a run.
func (f *finder) carries(run *Run) (units.Amps, bool) {
	if run == nil || !has(run.Cable, len(f.Cables)) {
		return 0, false
	}
	return f.Cables[run.Cable].Carries() * units.Amps(max(1, run.Sets)), true
}

// aboveCable finds a rating that the cable does not have as it is laid. A milliampere is what figures are rounded by.
func (f *finder) aboveCable(part string, i int, key, of string, a units.Amps, run *Run) {
	if carries, known := f.carries(run); known && carries > 0 && a > carries+0.001 {
		f.add("rating-above-cable", part, i, key+"_a", key+"_a", of, a, f.Cables[run.Cable].Name, carries)
	}
}

// unusedCables finds kinds of cable that nothing is made of.
func (f *finder) unusedCables() {
	used := make([]bool, len(f.Cables))
	use := func(run *Run) {
		if run != nil && has(run.Cable, len(used)) {
			used[run.Cable] = true
		}
	}
	for _, b := range f.Boards {
		use(b.Feeder)
	}
	for _, c := range f.Circuits {
		use(c.Home)
		use(c.Link)
	}
	for i, u := range used {
		if !u {
			f.add("cable-unused", "cables", i, "name", f.Cables[i].Name)
		}
	}
}
