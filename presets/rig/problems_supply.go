package rig

import (
	"fmt"
	"math"

	"lookgate/presets/units"
)

func (f *finder) supply() {
	s := f.Supply
	positive(f, "supply", -1, "main_a", "the supply", s.Main)
	f.factor("supply", -1, "the supply", s.Factor)
	f.neutral("supply", -1, "the supply", s.Main, s.Neutral)
	f.voltages()
	f.capacity()
}

// voltages checks that the two voltages belong to the system. Both sag together, so their ratio holds under load; three per cent leaves room for
// rounded nominal figures such as 208Y/120 and 400/230.
func (f *finder) voltages() {
	s, want := f.Supply, 0.0
	switch s.System {
	case SinglePhase:
		positive(f, "supply", -1, "line_neutral_v", "the supply", s.LineNeutral)
		if s.LineLine != 0 {
			f.add("line-line-unused", "supply", -1, "line_line_v")
		}
		return
	case SplitPhase:
		want = 2
	case Wye:
		want = math.Sqrt(3)
	case Delta:
		positive(f, "supply", -1, "line_line_v", "the supply", s.LineLine)
		if s.LineNeutral != 0 {
			f.add("delta-neutral", "supply", -1, "line_neutral_v", "line_neutral_v")
		}
		return
	default:
		f.add("no-system", "supply", -1, "system")
		return
	}
	positive(f, "supply", -1, "line_neutral_v", "the supply", s.LineNeutral)
	positive(f, "supply", -1, "line_line_v", "the supply", s.LineLine)
	ratio := float64(s.LineLine) / float64(s.LineNeutral)
	if s.LineLine > 0 && s.LineNeutral > 0 && math.Abs(ratio/want-1) > 0.03 {
		f.add("voltages-disagree", "supply", -1, "line_line_v", s.LineNeutral, s.LineLine, s.System, fmt.Sprintf("%.3g", want))
	}
}

// neutral checks the rating of a neutral, which a delta does not have.
func (f *finder) neutral(part string, index int, of string, main, neutral units.Amps) {
	if f.Supply.System == Delta {
		if neutral != 0 {
			f.add("delta-neutral", part, index, "neutral_a", "neutral_a")
		}
		return
	}
	positive(f, part, index, "neutral_a", of, neutral)
	if neutral > 0 && neutral < main {
		f.add("neutral-below-main", part, index, "neutral_a", of, neutral, main)
	}
}

// capacity checks what a transformer or generator can give.
func (f *finder) capacity() {
	const of = "the supply"
	s, c := f.Supply, f.Supply.Capacity
	stated(f, "supply", -1, "kva", of, c.Power, c.Power)
	stated(f, "supply", -1, "kw", of, c.Real, c.Real)
	stated(f, "supply", -1, "step_kw", of, c.Step, c.Step)
	if c.Settle < 0 {
		f.add("figure-not-positive", "supply", -1, "settle", "settle of "+of, inMs(c.Settle))
	}
	if (c.Power != 0 || c.Factor != 0) && !partOf(c.Factor) {
		f.add("factor-range", "supply", -1, "capacity_factor", of+"'s capacity", c.Factor)
	}
	f.capacityUse(s.Origin, c)
	if c.Power > 0 && float64(c.Real) > float64(c.Power) {
		f.add("kw-above-kva", "supply", -1, "kw", c.Real, c.Power)
	}
	if most := min(given(c.Power), given(c.Real)); c.Step > 0 && float64(c.Step) > most {
		f.add("step-above-rating", "supply", -1, "step_kw", c.Step, units.Watts(most))
	}
}

// given gives a figure, and infinity for one that is not known.
func given[T ~float64](v T) float64 {
	if v > 0 {
		return float64(v)
	}
	return math.Inf(1)
}

// capacityUse finds figures that the supply's origin has no use for, and ones that say nothing without another.
func (f *finder) capacityUse(o Origin, c Capacity) {
	for _, of := range []struct {
		key   string
		given bool
		least Origin
	}{
		{"kva", c.Power != 0, Transformer}, {"capacity_factor", c.Factor != 0, Transformer},
		{"kw", c.Real != 0, Generator}, {"step_kw", c.Step != 0, Generator}, {"settle", c.Settle != 0, Generator},
	} {
		if of.given && o < of.least {
			f.add("capacity-unused", "supply", -1, of.key, of.key, o)
			return
		}
	}
	if c.Factor != 0 && c.Power == 0 {
		f.add("figure-alone", "supply", -1, "capacity_factor", "capacity_factor", "kva")
	}
	if c.Settle != 0 && c.Step == 0 {
		f.add("figure-alone", "supply", -1, "settle", "settle", "step_kw")
	}
}

// mostDrop is the largest limit of voltage drop that can be said: at half its voltage a chain of constant-power loads has no working point.
const mostDrop units.Share = 0.5

func (f *finder) drop() {
	for _, of := range []struct {
		key, where string
		limit      units.Share
	}{{"circuit", "in a circuit", f.Drop.Circuit}, {"total", "from the supply to the last panel", f.Drop.Total}} {
		if of.limit != 0 && !(of.limit > 0 && of.limit <= mostDrop) {
			f.add("drop-range", "drop", -1, of.key, of.where, of.limit, mostDrop)
		}
	}
}
