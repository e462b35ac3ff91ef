package main

import (
	"encoding/json"
	"fmt"

	"lookgate/presets"
	"lookgate/presets/finding"
	"lookgate/presets/picture"
	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/site"
)

func checkCommand() subcommand {
	return subcommand{"check", "SITE [-json] [-all] [what if]", "say of each preset whether the plant carries it, and why not", check}
}

// cautions stand under every verdict that a person reads.
var cautions = []string{
	"lookgate computes and advises. It protects nothing and nobody: breakers do. Its figures are worst cases of the rig as described, and are worth no more than " +
		"that description. Local codes, and licensed electricians who know the installation, decide what may be built and switched on.",
	"Bright walls that flash or change fast can harm people with photosensitive epilepsy. lookgate does not see the pictures.",
}

// report is everything that check found out. Its JSON form is what --json prints.
type report struct {
	Site     string            `json:"site"`
	Admitted int               `json:"admitted"`
	Refused  int               `json:"refused"`
	Presets  []presetReport    `json:"presets"`
	Findings []finding.Finding `json:"findings"` // of the site as a whole
	Warnings []problemReport   `json:"warnings"`
	Proved   []provedReport    `json:"proved"` // one for each circuit
	Cautions []string          `json:"cautions"`

	Legs       []legsReport `json:"legs"` // all at full white
	OtherLoads []loadReport `json:"otherLoads"`

	WhatIf *whatIfReport `json:"whatIf,omitempty"`

	plan     *presets.Plan
	verdicts []presets.Verdict
}

// presetReport is one preset's verdict with names in place of indexes.
type presetReport struct {
	Number     int               `json:"number"`
	Name       string            `json:"name"`
	Admitted   bool              `json:"admitted"`
	Cap        float64           `json:"cap"`
	Binding    *finding.Place    `json:"binding"`
	Above      *aboveReport      `json:"above,omitempty"` // where it takes circuits above their continuous limits for a while
	Outputs    []outputReport    `json:"outputs"`
	Coverage   []coverReport     `json:"coverage"`
	Conductors []conductorReport `json:"conductors"`
	Legs       []legsReport      `json:"legs"` // at its levels, full white up
	Drop       *dropReport       `json:"drop,omitempty"`
	Caps       capsReport        `json:"caps"`
	Findings   []finding.Finding `json:"findings"`
}

// dropReport is where a preset loses the most voltage: in one circuit, and from the supply to a last panel.
type dropReport struct {
	Circuit  string  `json:"circuit"`
	InIt     float64 `json:"inIt"`
	Farthest string  `json:"farthest"`
	Volts    float64 `json:"voltsLeft"`
	Total    float64 `json:"total"`
}

type outputReport struct {
	Output string  `json:"output"`
	Level  float64 `json:"level"`
	Cap    float64 `json:"cap"`
}

type coverReport struct {
	Wall   string `json:"wall"`
	Pixels int64  `json:"pixels"`
	Of     int64  `json:"of"`
}

type conductorReport struct {
	Kind     string  `json:"kind"`
	Name     string  `json:"name"`
	Worst    float64 `json:"worstAmps"`
	Limit    float64 `json:"limitAmps"`
	Headroom float64 `json:"headroomAmps"`
	By       string  `json:"by"`
	Void     bool    `json:"void"`
}

// problemReport is one problem of the site's files.
type problemReport struct {
	Code     string `json:"code"`
	File     string `json:"file"`
	Line     int    `json:"line,omitempty"`
	Column   int    `json:"column,omitempty"`
	Path     string `json:"path,omitempty"`
	Sentence string `json:"sentence"`
	Hint     string `json:"hint"`
	Warning  bool   `json:"warning"`
}

// check is the subcommand: 0 where the plant carries every preset, 1 where it does not, 2 where the site is broken.
func check(args []string, s streams) int {
	f := options(checkCommand(), s)
	asJSON := f.Bool("json", false, "print the same as data")
	all := f.Bool("all", false, "print every conductor and every finding, not only the first of each kind")
	var other whatIfOptions
	other.flags(f)
	plain, status, ok := parse(f, args, 1)
	if !ok {
		return status
	}
	read, problems, err := readSite(plain[0])
	if err != nil {
		fmt.Fprintln(s.err, err)
		return exitBroken
	}
	if read == nil {
		return broken(problems, *asJSON, s)
	}
	w, err := other.read(read.Rig)
	if err != nil {
		fmt.Fprintln(s.err, err)
		return exitUsage
	}
	r := examine(read, problems, other.any(), w)
	if r.Proved, err = readProved(plain[0], read.Rig); err != nil {
		fmt.Fprintln(s.err, err)
	}
	if *asJSON {
		printJSON(s, r)
	} else {
		fmt.Fprint(s.out, drawReport(r, *all))
	}
	if r.Refused > 0 {
		return exitRefused
	}
	return exitOK
}

// broken prints what is wrong with a site's files.
func broken(problems []site.Problem, asJSON bool, s streams) int {
	if asJSON {
		printJSON(s, struct {
			Problems []problemReport `json:"problems"`
		}{problemReports(problems)})
		return exitBroken
	}
	fmt.Fprint(s.err, drawProblems(problems))
	return exitBroken
}

func printJSON(s streams, v any) {
	e := json.NewEncoder(s.out)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(v); err != nil {
		fmt.Fprintln(s.err, err)
	}
}

// examine checks every preset of a site, as built or under other conditions.
func examine(s *site.Site, problems []site.Problem, other bool, w presets.WhatIf) *report {
	r := &report{Site: s.Rig.Name, Presets: []presetReport{}, Warnings: problemReports(problems), Cautions: cautions, plan: presets.NewPlan(s.Rig, s.Book)}
	built := r.plan
	var conditions presets.Conditions
	if other {
		r.plan, conditions = built.Under(w)
	}
	r.Findings, r.Legs, r.OtherLoads = r.plan.Findings(), legsOf(r.plan, r.plan.Full()), loadsOf(r.plan)
	for i := range s.Book.Presets {
		preset := &s.Book.Presets[i]
		v := presets.Check(r.plan, preset, conditions)
		if v.Admitted {
			r.Admitted++
		} else {
			r.Refused++
		}
		r.verdicts = append(r.verdicts, v)
		named := r.name(v, preset)
		named.Caps = r.capsOf(presets.CapsOf(r.plan, preset, conditions))
		named.Legs = legsOf(r.plan, power.State{Levels: v.Levels, LockedOff: conditions.LockedOff})
		r.Presets = append(r.Presets, named)
	}
	if other {
		r.WhatIf = compare(built, r.plan, w, r.verdicts)
	}
	return r
}

// name puts names in place of a verdict's indexes.
func (r *report) name(v presets.Verdict, preset *presets.Preset) presetReport {
	p := presetReport{Number: v.Preset, Name: v.Name, Admitted: v.Admitted, Cap: float64(v.Cap), Findings: v.Findings, Above: aboveOf(r.plan, v, preset)}
	if p.Findings == nil {
		p.Findings = []finding.Finding{}
	}
	all := r.plan.Power.Conductors()
	if v.Binding >= 0 {
		place := placeOf(all[v.Binding])
		p.Binding = &place
	}
	for i, o := range r.plan.Rig.Outputs {
		p.Outputs = append(p.Outputs, outputReport{o.Name, float64(v.Levels[i]), float64(v.Caps[i])})
	}
	for _, c := range picture.Coverage(r.plan.Rig, preset.Windows) {
		p.Coverage = append(p.Coverage, coverReport{r.plan.Rig.Walls[c.Wall].Name, c.Pixels, c.Of})
	}
	if d := v.Drop; d != nil {
		circuits := r.plan.Rig.Circuits
		p.Drop = &dropReport{circuits[d.Circuit].Name, float64(d.InIt), circuits[d.Farthest].Name, float64(d.Volts), float64(d.Total)}
	}
	for _, l := range v.Conductors {
		c := all[l.Conductor]
		p.Conductors = append(p.Conductors, conductorReport{c.Kind.String(), c.Name, float64(l.Worst), float64(l.Limit), float64(l.Limit - l.Worst), c.By, l.Void})
	}
	return p
}

func placeOf(c rig.Conductor) finding.Place {
	return finding.Place{Kind: c.Kind.String(), Name: c.Name}
}

func problemReports(problems []site.Problem) []problemReport {
	reports := []problemReport{}
	for _, p := range problems {
		reports = append(reports, problemReport{p.Code, p.File, p.Line, p.Column, p.Path, p.Sentence, p.Hint, p.Warning})
	}
	return reports
}
