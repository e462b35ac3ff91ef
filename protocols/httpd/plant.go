package httpd

import (
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// Plant is the rig as the panel draws it: geometry, boards and who feeds what. References are indexes into its lists, -1 for none.
type Plant struct {
	Name     string         `json:"name"`
	Supply   PlantSupply    `json:"supply"`
	Walls    []PlantWall    `json:"walls"`
	Panels   []PlantPanel   `json:"panels"`
	Boards   []PlantBoard   `json:"boards"`
	Circuits []PlantCircuit `json:"circuits"`
	Outputs  []PlantOutput  `json:"outputs"`
	Zones    []PlantZone    `json:"zones"`
	DataRuns []PlantRun     `json:"dataRuns"`
}

// PlantSupply is what feeds all boards.
type PlantSupply struct {
	Name   string `json:"name"`
	System string `json:"system"`
	Legs   int    `json:"legs"`
}

// PlantWall is one wall; its panels' size is that of the regular panel, in millimetres.
type PlantWall struct {
	Name        string            `json:"name"`
	Columns     int               `json:"columns"`
	Rows        int               `json:"rows"`
	PanelWidth  units.Millimetres `json:"panelWidth"`
	PanelHeight units.Millimetres `json:"panelHeight"`
}

// PlantPanel is one panel in its place, with what feeds it and what drives it.
type PlantPanel struct {
	Wall    int    `json:"wall"`
	Column  int    `json:"column"`
	Row     int    `json:"row"`
	Type    string `json:"type"`
	Circuit int    `json:"circuit"`
	Output  int    `json:"output"`
	DataRun int    `json:"dataRun"`
}

// PlantBoard is one board: every place for a pole, in order, with its leg and its circuit.
type PlantBoard struct {
	Name      string      `json:"name"`
	Numbering string      `json:"numbering"` // "odd-even" or "ways"
	Main      units.Amps  `json:"main"`
	Poles     []PlantPole `json:"poles"`
}

// PlantPole is one place of a board. Legs count from 1.
type PlantPole struct {
	Pole    int `json:"pole"`
	Leg     int `json:"leg"`
	Circuit int `json:"circuit"`
}

// PlantCircuit is one circuit. Legs count from 1.
type PlantCircuit struct {
	Name    string     `json:"name"`
	Board   int        `json:"board"`
	Poles   []int      `json:"poles"`
	Legs    []int      `json:"legs"`
	Breaker units.Amps `json:"breaker"`
	Panels  int        `json:"panels"`
}

// PlantOutput is one output with the device that holds it, and how that device tells what it did.
type PlantOutput struct {
	Name   string `json:"name"`
	Device string `json:"device"`
	Class  string `json:"class"`
}

// PlantZone is one zone.
type PlantZone struct {
	Name    string `json:"name"`
	Outputs []int  `json:"outputs"`
}

// PlantRun is one data run.
type PlantRun struct {
	Name      string `json:"name"`
	Processor string `json:"processor"`
	Port      int    `json:"port"`
}

// PlantOf gives the plant of a rig that has no problems.
func PlantOf(r *rig.Rig) Plant {
	return Plant{
		Name:     r.Name,
		Supply:   PlantSupply{r.Supply.Name, r.Supply.System.String(), r.Supply.System.Legs()},
		Walls:    each(r.Walls, func(w rig.Wall) PlantWall { return plantWall(r, w) }),
		Panels:   plantPanels(r),
		Boards:   plantBoards(r),
		Circuits: each(r.Circuits, func(c rig.Circuit) PlantCircuit { return plantCircuit(r, c) }),
		Outputs: each(r.Outputs, func(o rig.Output) PlantOutput {
			return PlantOutput{o.Name, r.Devices[o.Device].Name, r.Devices[o.Device].Class.String()}
		}),
		Zones:    each(r.Zones, func(z rig.Zone) PlantZone { return PlantZone{z.Name, orEmpty(z.Outputs)} }),
		DataRuns: each(r.DataRuns, func(d rig.DataRun) PlantRun { return PlantRun{d.Name, r.Processors[d.Processor].Name, d.Port} }),
	}
}

func plantWall(r *rig.Rig, w rig.Wall) PlantWall {
	t := r.PanelTypes[w.Type]
	return PlantWall{w.Name, w.Columns, w.Rows, t.Width, t.Height}
}

func plantPanels(r *rig.Rig) []PlantPanel {
	circuit, output, run := owners(len(r.Panels)), owners(len(r.Panels)), owners(len(r.Panels))
	for i, c := range r.Circuits {
		mark(circuit, c.Panels, i)
	}
	for i, o := range r.Outputs {
		mark(output, o.Panels, i)
	}
	for i, d := range r.DataRuns {
		mark(run, d.Panels, i)
	}
	ps := make([]PlantPanel, len(r.Panels))
	for i, p := range r.Panels {
		ps[i] = PlantPanel{p.Wall, p.Column, p.Row, r.PanelTypes[p.Type].Name, circuit[i], output[i], run[i]}
	}
	return ps
}

func plantBoards(r *rig.Rig) []PlantBoard {
	bs := make([]PlantBoard, len(r.Boards))
	for i, b := range r.Boards {
		poles := make([]PlantPole, b.Poles)
		for p := range poles {
			poles[p] = PlantPole{Pole: p + 1, Leg: b.LegOf(p+1, r.Supply.System) + 1, Circuit: -1}
		}
		bs[i] = PlantBoard{b.Name, b.Numbering.String(), b.Main, poles}
	}
	for i, c := range r.Circuits {
		for _, p := range c.Poles {
			if p >= 1 && p <= len(bs[c.Board].Poles) {
				bs[c.Board].Poles[p-1].Circuit = i
			}
		}
	}
	return bs
}

func plantCircuit(r *rig.Rig, c rig.Circuit) PlantCircuit {
	legs := each(r.Legs(c), func(l int) int { return l + 1 })
	return PlantCircuit{c.Name, c.Board, orEmpty(c.Poles), legs, c.Breaker, len(c.Panels)}
}

func owners(n int) []int {
	of := make([]int, n)
	for i := range of {
		of[i] = -1
	}
	return of
}

func mark(of, panels []int, owner int) {
	for _, p := range panels {
		of[p] = owner
	}
}

// each maps a list; what it gives is never nil, so that JSON has [] and no null.
func each[T, U any](ts []T, f func(T) U) []U {
	us := make([]U, len(ts))
	for i, t := range ts {
		us[i] = f(t)
	}
	return us
}

func orEmpty(ns []int) []int { return append([]int{}, ns...) }
