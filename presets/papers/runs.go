package papers

import (
	"cmp"
	"slices"
	"strconv"

	"lookgate/presets/picture"
)

// dataRuns makes the patch list, by processor and port. A run's load is that of the mode that loads it the most.
func (s *sheet) dataRuns() part {
	t := table{Columns: columns("processor", "port>", "data run", "panels in order", "n>", "pixels>", "load %>", "in mode", "")}
	f := table{name: "data-runs.csv", Columns: columns("processor", "port>", "data run", "panels>", "pixels>", "highest load %>", "in mode", "over", "panels in order")}
	modes := make([][]picture.RunLoad, len(s.rig.Modes))
	for m := range s.rig.Modes {
		modes[m] = picture.RunLoads(s.rig, m)
		f.Columns = append(f.Columns, column{"load in " + s.rig.Modes[m].Name + " %", true})
	}
	for _, i := range s.patchOrder() {
		d := s.rig.DataRuns[i]
		p := s.rig.Processors[d.Processor]
		most, mode, over := -1.0, "", ""
		var each []string
		for m := range modes {
			l := modes[m][i]
			share := float64(l.Needed) / float64(l.Limit)
			if each = append(each, percent(share)); share > most {
				most, mode = share, s.rig.Modes[m].Name
			}
			if l.Over {
				over = "over"
			}
		}
		load := dash
		if len(modes) > 0 {
			load = percent(most)
		}
		px, n, port := strconv.FormatInt(picture.RunPixels(s.rig, p, d.Panels), 10), strconv.Itoa(len(d.Panels)), strconv.Itoa(d.Port)
		t.add(p.Name, port, d.Name, s.inOrder(d.Panels), n, px, load, mode, over)
		f.add(append([]string{p.Name, port, d.Name, n, px, known(load), mode, over, s.each(d.Panels)}, each...)...)
	}
	return part{section{Title: "Data-run patch list", Tables: []table{t}, Intro: []string{
		"Panels in the order in which the picture comes to them. The load is what the run carries of what its port may carry, in the mode that asks the most of it.",
	}}, f}
}

// patchOrder gives the data runs by processor, then port.
func (s *sheet) patchOrder() []int {
	order := make([]int, len(s.rig.DataRuns))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		x, y := s.rig.DataRuns[a], s.rig.DataRuns[b]
		return cmp.Or(cmp.Compare(x.Processor, y.Processor), cmp.Compare(x.Port, y.Port))
	})
	return order
}
