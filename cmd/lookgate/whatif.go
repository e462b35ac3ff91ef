package main

import (
	"flag"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"lookgate/presets"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// whatIfOptions are check's questions about the plant other than as built.
type whatIfOptions struct {
	out    string
	derate string
	supply string
}

func (o *whatIfOptions) flags(f *flag.FlagSet) {
	f.StringVar(&o.out, "out", "", "what if these circuits, by name and with commas between, were out of service")
	f.StringVar(&o.derate, "derate", "", "what if breakers, mains and neutrals carried only so much of their limits, as 90% or 0.9")
	f.StringVar(&o.supply, "supply-volts", "", "what if the supply gave so many volts under load, from line to neutral, or of a delta from line to line")
}

func (o *whatIfOptions) any() bool { return o.out != "" || o.derate != "" || o.supply != "" }

// read gives the question, or one line of what is wrong with it and one of what to do.
func (o *whatIfOptions) read(r *rig.Rig) (w presets.WhatIf, err error) {
	if o.out != "" {
		for name := range strings.SplitSeq(o.out, ",") {
			name = strings.TrimSpace(name)
			at := slices.IndexFunc(r.Circuits, func(c rig.Circuit) bool { return c.Name == name })
			if at < 0 {
				return w, fmt.Errorf("-out: the rig has no circuit %q\nwrite names as rig.yaml has them, with commas between", name)
			}
			if !slices.Contains(w.Out, at) {
				w.Out = append(w.Out, at)
			}
		}
	}
	if o.derate != "" {
		text, scale := o.derate, 1.0
		if cut, percent := strings.CutSuffix(text, "%"); percent {
			text, scale = cut, 100
		}
		part, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
		if err != nil || !(part > 0 && part <= scale) {
			return w, fmt.Errorf("-derate: %q is no part of a limit\nwrite one above 0 and at most 1, as 90%% or 0.9", o.derate)
		}
		w.Derate = units.Share(part / scale)
	}
	if o.supply != "" {
		volts, err := strconv.ParseFloat(o.supply, 64)
		if err != nil || !(volts > 0 && volts <= 1000) {
			if r.Supply.System == rig.Delta {
				return w, fmt.Errorf("-supply-volts: %q is no supply\nwrite the volts from line to line, as %v", o.supply, float64(r.Supply.LineLine))
			}
			return w, fmt.Errorf("-supply-volts: %q is no supply\nwrite the volts from line to neutral, as %v", o.supply, float64(r.Supply.LineNeutral))
		}
		w.Supply = units.Volts(volts)
	}
	return w, nil
}

// whatIfReport is what the other conditions change.
type whatIfReport struct {
	Out        []string       `json:"out"`
	DarkPanels int            `json:"darkPanels"` // on the circuits that are out
	Derate     float64        `json:"derate"`     // 1 for none
	LineVolts  [2]float64     `json:"lineVolts"`  // line to neutral and line to line; 0 for a supply that has none
	Changes    []changeReport `json:"changes"`    // presets with another verdict, or another cap
}

// changeReport is one preset whose verdict or cap is another than as built.
type changeReport struct {
	Number       int     `json:"number"`
	Name         string  `json:"name"`
	AdmittedThen bool    `json:"admittedAsBuilt"`
	AdmittedNow  bool    `json:"admitted"`
	CapThen      float64 `json:"capAsBuilt"`
	CapNow       float64 `json:"cap"`
	Binding      string  `json:"binding"`
}

// compare holds the verdicts under other conditions against those of the plant as built.
func compare(built, now *presets.Plan, w presets.WhatIf, verdicts []presets.Verdict) *whatIfReport {
	s := now.Rig.Supply
	r := &whatIfReport{Out: []string{}, Derate: 1, LineVolts: [2]float64{float64(s.LineNeutral), float64(s.LineLine)}, Changes: []changeReport{}}
	if w.Derate > 0 {
		r.Derate = float64(w.Derate)
	}
	for _, c := range w.Out {
		r.Out = append(r.Out, now.Rig.Circuits[c].Name)
		r.DarkPanels += len(now.Rig.Circuits[c].Panels)
	}
	for i, v := range verdicts {
		was := presets.Check(built, &built.Book.Presets[i], presets.Conditions{})
		if was.Admitted == v.Admitted && was.Cap == v.Cap {
			continue
		}
		c := changeReport{Number: v.Preset, Name: v.Name, AdmittedThen: was.Admitted, AdmittedNow: v.Admitted, CapThen: float64(was.Cap), CapNow: float64(v.Cap)}
		if v.Binding >= 0 {
			c.Binding = placeOf(now.Power.Conductors()[v.Binding]).String()
		}
		r.Changes = append(r.Changes, c)
	}
	return r
}

// draw says the question, and then each preset that falls or has other room.
func (r *whatIfReport) draw() string {
	var b strings.Builder
	b.WriteString("What if:")
	if len(r.Out) > 0 {
		fmt.Fprintf(&b, " %s out of service (%s dark);", strings.Join(r.Out, ", "), count(r.DarkPanels, "panel"))
	}
	if r.Derate != 1 {
		fmt.Fprintf(&b, " breakers, mains and neutrals at %v of their limits;", units.Share(r.Derate))
	}
	switch low, high := units.Volts(r.LineVolts[0]), units.Volts(r.LineVolts[1]); {
	case high == 0:
		fmt.Fprintf(&b, " supply %v", low)
	case low == 0:
		fmt.Fprintf(&b, " supply %v line to line", high)
	default:
		fmt.Fprintf(&b, " supply %v line to neutral, %v line to line", low, high)
	}
	b.WriteString(". The verdicts below are under that.\n")
	if len(r.Changes) == 0 {
		b.WriteString("  every preset has the verdict and the room that it has as built\n")
	}
	for _, c := range r.Changes {
		fmt.Fprintf(&b, "  %4d  %s: %s; could go to %s%s, as built to %s\n", c.Number, c.Name, c.verdict(), roomWords(c.CapNow), bindWords(c.Binding), roomWords(c.CapThen))
	}
	b.WriteString("\n")
	return b.String()
}

func (c changeReport) verdict() string {
	switch {
	case c.AdmittedThen && !c.AdmittedNow:
		return "FALLS"
	case !c.AdmittedThen && c.AdmittedNow:
		return "passes, as built it is refused"
	case c.AdmittedNow:
		return "still admitted"
	}
	return "refused as before"
}

// roomWords says how far all levels of a preset together may be scaled.
func roomWords(scale float64) string {
	if scale <= 0 {
		return "no level"
	}
	return fmt.Sprintf("%v of its levels", units.Share(scale))
}

func bindWords(place string) string {
	if place == "" {
		return ""
	}
	return ", " + place + " binds"
}
