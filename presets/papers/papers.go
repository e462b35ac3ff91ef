// Package papers makes what a crew carries to a wall: one page file that prints, and the same as tables. A plan and a date go in, bytes come out, the same ones for the
// same plan and date.
package papers

import (
	"bytes"
	"time"

	"lookgate/presets"
	"lookgate/presets/hatch"
	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/site"
	"lookgate/presets/units"
)

// PageFile is the name of the file that prints.
const PageFile = "papers.html"

// File is one file to write.
type File struct {
	Name string
	Data []byte
}

// Options are what the papers say besides the plan.
type Options struct {
	Date     time.Time      // printed as a day
	Cautions []string       // in full, on the first page; a short form stands on every foot
	Warnings []site.Problem // of the reading of the site
	Proved   []string       // per circuit, who proved it and when; empty for nobody. Nil where nothing is known of any
}

// Make gives the page file first, then the tables. The error is only ever that of a broken page template.
func Make(p *presets.Plan, o Options) ([]File, error) {
	s := newSheet(p)
	s.proved = o.Proved
	sections := []section{s.boards()}
	parts := []struct {
		section section
		table   table
	}{
		s.circuits(), s.dataRuns(), s.cables(), s.balance(), s.worstPresets(), s.findings(o.Warnings),
	}
	var b bytes.Buffer
	files := []File{{Name: PageFile}, s.boardsFile(), s.panelsFile(), s.cableCounts().file("cable-counts.csv")}
	for i, part := range parts {
		if i == 1 { // behind the circuit schedule
			sections = append(sections, s.proving())
		}
		sections = append(sections, part.section)
		files = append(files, part.table.file(part.table.name))
	}
	sections = append(sections, s.elevations()...)
	if err := page.Execute(&b, s.front(o, sections)); err != nil {
		return nil, err
	}
	files[0].Data = b.Bytes()
	return files, nil
}

// part is a section of the pages with the table that goes beside it.
type part = struct {
	section section
	table   table
}

// sheet is a plan with what several papers need of it, all outputs at level 1 and full white on all panels.
type sheet struct {
	plan  *presets.Plan
	rig   *rig.Rig
	full  power.State
	worst []units.Amps // per conductor
	flow  power.Flow
	feeds []chainPlace // per panel, its place on its circuit
	runs  []chainPlace // per panel, its place on its data run

	proved []string // as in [Options]
}

// chainPlace is a panel's place on a chain.
type chainPlace struct{ chain, at int }

func newSheet(p *presets.Plan) *sheet {
	s := &sheet{plan: p, rig: p.Rig, full: p.Full()}
	s.worst = p.Power.Worst(s.full, nil)
	p.Power.Flow(s.full, &s.flow)
	s.feeds, s.runs = s.placesOn(s.circuitChains()), s.placesOn(s.runChains())
	return s
}

func (s *sheet) circuitChains() [][]int {
	var chains [][]int
	for _, c := range s.rig.Circuits {
		chains = append(chains, c.Panels)
	}
	return chains
}

func (s *sheet) runChains() [][]int {
	var chains [][]int
	for _, d := range s.rig.DataRuns {
		chains = append(chains, d.Panels)
	}
	return chains
}

func (s *sheet) placesOn(chains [][]int) []chainPlace {
	places := make([]chainPlace, len(s.rig.Panels))
	for i := range places {
		places[i].chain = -1
	}
	for i, panels := range chains {
		for k, p := range panels {
			places[p] = chainPlace{i, k}
		}
	}
	return places
}

// hatches gives each chain's hatch.
func (s *sheet) hatches(chains [][]int) []int { return hatch.Assign(s.rig, chains) }
