package picture

import (
	"fmt"
	"slices"
	"strings"

	"lookgate/presets/finding"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// missingSources finds, for each processor, the sources that its panels would have to show and that none of its inputs carries. A window that others
// lie above counts all the same: it is what appears when they are taken away.
func missingSources(r *rig.Rig, windows []Window) []finding.Finding {
	driven := panelsOfProcessors(r)
	var fs []finding.Finding
	for p := range r.Processors {
		if f, ok := missingOn(r, p, driven[p], windows); ok {
			fs = append(fs, f)
		}
	}
	return fs
}

// need is one source that a processor would have to take, with the windows and the panels that want it.
type need struct {
	source  int
	windows []int
	panels  int
}

func missingOn(r *rig.Rig, p int, panels []int, windows []Window) (finding.Finding, bool) {
	needs := needed(r, r.Processors[p], panels, windows)
	if len(needs) == 0 {
		return finding.Finding{}, false
	}
	var wants, names []string
	count := 0
	for _, n := range needs {
		count += n.panels
		names = append(names, r.Sources[n.source].Name)
		wants = append(wants, fmt.Sprintf("%s on %d of its panels (%s)", r.Sources[n.source].Name, n.panels, numbers(n.windows)))
	}
	name := r.Processors[p].Name
	f := finding.New(finding.SourceNotThere, finding.Place{Kind: "processor", Name: name},
		fmt.Sprintf("it would have to show %s, and no input of it carries that", strings.Join(wants, " and ")))
	f.Computed, f.Limit = units.InCount(count), units.InCount(0)
	f.Remedies = []finding.Remedy{{When: finding.Later, Words: fmt.Sprintf("bring %s to an input of %s, or keep the window off its panels", strings.Join(names, " and "), name)}}
	return f, true
}

// needed lists the sources that a processor lacks, in the order of the windows, each once.
func needed(r *rig.Rig, p rig.Processor, panels []int, windows []Window) []need {
	var needs []need
	for i, w := range windows {
		if slices.Contains(p.Inputs, w.Source) {
			continue
		}
		covered := covers(r, w, panels)
		if covered == 0 {
			continue
		}
		at := slices.IndexFunc(needs, func(n need) bool { return n.source == w.Source })
		if at < 0 {
			at, needs = len(needs), append(needs, need{source: w.Source})
		}
		needs[at].windows = append(needs[at].windows, i+1)
		needs[at].panels += covered
	}
	return needs
}

// covers counts the panels of which the window shows at least a pixel.
func covers(r *rig.Rig, w Window, panels []int) int {
	seen, n := Visible(r, w), 0
	for _, panel := range panels {
		if r.Panels[panel].Wall == w.Wall && !seen.Intersect(PanelRect(r, panel)).Empty() {
			n++
		}
	}
	return n
}

// panelsOfProcessors gives the panels at the end of each processor's data runs, each once, so that a panel on a main and a spare run counts once.
func panelsOfProcessors(r *rig.Rig) [][]int {
	driven := make([][]int, len(r.Processors))
	for _, run := range r.DataRuns {
		driven[run.Processor] = append(driven[run.Processor], run.Panels...)
	}
	for p := range driven {
		slices.Sort(driven[p])
		driven[p] = slices.Compact(driven[p])
	}
	return driven
}

// numbers gives "window 2" or "windows 1, 2".
func numbers(ns []int) string {
	words := make([]string, len(ns))
	for i, n := range ns {
		words[i] = fmt.Sprint(n)
	}
	if len(ns) == 1 {
		return "window " + words[0]
	}
	return "windows " + strings.Join(words, ", ")
}
