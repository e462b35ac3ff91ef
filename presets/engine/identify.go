package engine

import (
	"fmt"
	"slices"
	"strings"

	"lookgate/presets"
	"lookgate/presets/finding"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// identifyLevel is bright enough to be found in a dark studio, and far below what looks ask of a plant.
const identifyLevel units.Level = 0.1

// Part is the kind of thing that identify shows.
type Part string

// The parts that identify can show.
const (
	ZonePart    Part = "zone"
	OutputPart  Part = "output"
	CircuitPart Part = "circuit"
	RunPart     Part = "data-run"
	PanelPart   Part = "panel"
)

// Parts lists them, in the order of the documentation.
var Parts = []Part{ZonePart, OutputPart, CircuitPart, RunPart, PanelPart}

// identify lights the outputs that hold a part of the plant at a low level, and blacks out all others, so that a person sees where it hangs. Levels are per output, so an
// output's other panels light with it: the answer says at which panels to look. It is a look of its own, judged and kept as a recalled one is; back goes to the one before.
// What the panels show is what their sources give.
func (e *Engine) identify(c Command) {
	panels, f := e.panelsOf(c)
	if f != nil {
		e.refuse(c, *f)
		return
	}
	p := presets.Preset{Mode: max(0, min(e.wanted.Picture.Mode, len(e.plan.Rig.Modes))-1)}
	for o, holds := range e.holding(panels) {
		if holds {
			p.Outputs = append(p.Outputs, presets.OutputLevel{Output: o, Level: identifyLevel.Up(e.deviceOf(o).Steps)})
		}
	}
	v := presets.Admit(e.plan, &p, e.conditions(0))
	if !v.Admitted && !e.set.Watch {
		for i := range v.Findings { // those of a check speak of presets
			v.Findings[i].Remedies = []finding.Remedy{{When: finding.Later, Words: "identify something that hangs on fewer outputs, or take load off what is over"}}
		}
		e.refuse(c, v.Findings...)
		return
	}
	e.order(c, e.shown(c, &p, v), append([]finding.Finding{e.lookAt(c, panels, p.Outputs)}, v.Findings...))
}

// shown gives the change that lights those outputs alone, with the picture as it is.
func (e *Engine) shown(c Command, p *presets.Preset, v presets.Verdict) change {
	w := emptyLook(len(e.outs))
	w.Identify, w.Picture, w.Armed, w.Previous = string(c.Part)+" "+c.Target, e.wanted.Picture, e.wanted.Armed, e.wanted.Previous
	copy(w.Levels, v.Levels)
	copy(w.Caps, v.Caps)
	for o := range w.Black {
		w.Black[o] = !slices.ContainsFunc(p.Outputs, func(l presets.OutputLevel) bool { return l.Output == o })
	}
	return change{look: w, outputs: e.all(), leaves: true}
}

// panelsOf gives the panels of the part that a command names.
func (e *Engine) panelsOf(c Command) ([]int, *finding.Finding) {
	r := e.plan.Rig
	code := finding.BadArguments
	switch c.Part {
	case ZonePart:
		if z := e.zone(c.Target); z >= 0 {
			var panels []int
			for _, o := range r.Zones[z].Outputs {
				panels = append(panels, r.Outputs[o].Panels...)
			}
			return panels, nil
		}
		code = finding.UnknownZone
	case OutputPart:
		if o := slices.Index(e.outputNames, c.Target); o >= 0 {
			return r.Outputs[o].Panels, nil
		}
		code = finding.UnknownOutput
	case CircuitPart:
		if i := slices.Index(e.circuitNames, c.Target); i >= 0 {
			return r.Circuits[i].Panels, nil
		}
		code = finding.UnknownCircuit
	case RunPart:
		for _, d := range r.DataRuns {
			if d.Name == c.Target {
				return d.Panels, nil
			}
		}
		code = finding.UnknownRun
	case PanelPart:
		if i := e.panel(c.Target); i >= 0 {
			return []int{i}, nil
		}
		code = finding.UnknownPanel
	default:
		f := finding.New(code, verbPlace(c), fmt.Sprintf("%q is nothing that can be identified", c.Part))
		f.Remedies = []finding.Remedy{{When: finding.Later, Words: fmt.Sprintf("say one of %v, and its name", Parts)}}
		return nil, &f
	}
	f := unknown(code, spokenPart(c.Part), c.Target)
	return nil, &f
}

func spokenPart(p Part) string {
	if p == RunPart {
		return "data run"
	}
	return string(p)
}

// panel finds the panel at a place such as "bay C3R1", -1 where there is none.
func (e *Engine) panel(place string) int {
	r := e.plan.Rig
	wall, cell, _ := strings.Cut(place, " ")
	var column, row int
	if n, _ := fmt.Sscanf(cell, "C%dR%d", &column, &row); n != 2 {
		return -1
	}
	return slices.IndexFunc(r.Panels, func(p rig.Panel) bool { return p.Column == column && p.Row == row && r.Walls[p.Wall].Name == wall })
}

// holding says of each output whether any of the panels is its.
func (e *Engine) holding(panels []int) []bool {
	wanted, holding := make([]bool, len(e.plan.Rig.Panels)), make([]bool, len(e.outs))
	for _, p := range panels {
		wanted[p] = true
	}
	for o := range e.outs {
		holding[o] = slices.ContainsFunc(e.plan.Rig.Outputs[o].Panels, func(p int) bool { return wanted[p] })
	}
	return holding
}

// lookAt says which panels to look at, and what lights with them.
func (e *Engine) lookAt(c Command, panels []int, outputs []presets.OutputLevel) finding.Finding {
	r := e.plan.Rig
	lit := 0
	for _, l := range outputs {
		lit += len(r.Outputs[l.Output].Panels)
	}
	sentence := "is " + r.PanelNames(panels)
	if more := lit - len(panels); more > 0 {
		sentence += fmt.Sprintf("; %d more panels light with it, since levels are per output", more)
	}
	if i := slices.Index(e.circuitNames, c.Target); c.Part == CircuitPart && e.services[i] != In {
		sentence += fmt.Sprintf("; its breaker is told to be %v, so it stays dark", e.services[i])
	}
	return finding.New(finding.LookThere, finding.Place{Kind: spokenPart(c.Part), Name: c.Target}, sentence)
}
