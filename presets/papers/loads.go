package papers

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"lookgate/presets"
	"lookgate/presets/finding"
	"lookgate/presets/site"
)

// balance tells how evenly legs are loaded, all at full white.
func (s *sheet) balance() part {
	legs := s.rig.Supply.System.Legs()
	heads := append([]string{"of"}, []string{"L1 A>", "L2 A>", "L3 A>"}[:legs]...)
	t := table{name: "balance.csv", Columns: columns(append(heads, "farthest from the mean %>", "best swap", "then %>")...)}
	for _, b := range s.plan.Power.Balance(s.full) {
		row := []string{"supply " + s.rig.Supply.Name}
		if b.Board >= 0 {
			row[0] = "board " + s.rig.Boards[b.Board].Name
		}
		for _, a := range b.Legs {
			row = append(row, number(a, 1))
		}
		row = append(row, percent(b.Figure), "", "")
		if b.Swap != nil && percent(b.Swap.Figure) != percent(b.Figure) {
			row[legs+2] = s.rig.Circuits[b.Swap.A].Name + " and " + s.rig.Circuits[b.Swap.B].Name
			row[legs+3] = percent(b.Swap.Figure)
		}
		t.Rows = append(t.Rows, row)
	}
	sec := section{Title: "Phase balance", Tables: []table{t, s.conductorTable()}, Intro: []string{
		"Currents of the legs as a meter would read them, all panels at full white and the other loads at their connected maximum. The swap is of two circuits' places under their breakers; " +
			"none is named where none makes the legs more even.",
	}}
	if len(t.Rows) == 0 {
		sec.Intro = []string{"The supply has one leg: there is nothing to balance."}
	}
	return part{sec, t}
}

// conductorTable lists what legs, neutrals and feeders would carry at worst.
func (s *sheet) conductorTable() table {
	t := table{Caption: "Worst currents of legs, neutrals and feeders, all outputs anywhere up to full white", Columns: columns("conductor", "A>", "limit A>", "%>", "", "limit by")}
	for i, c := range s.plan.Power.Conductors() {
		if c.Circuit >= 0 {
			continue
		}
		over := ""
		if s.worst[i] > c.Limit {
			over = "over"
		}
		t.add(c.Kind.String()+" "+c.Name, number(s.worst[i], 1), number(c.Limit, 1), percent(float64(s.worst[i])/float64(c.Limit)), over, c.By)
	}
	return t
}

// judged is a preset with its verdict and the conductor that is left the least.
type judged struct {
	verdict  presets.Verdict
	tightest int // into the verdict's conductors, -1 for none
	share    float64
}

func (s *sheet) judge() []judged {
	var all []judged
	for i := range s.plan.Book.Presets {
		j := judged{presets.Check(s.plan, &s.plan.Book.Presets[i], presets.Conditions{}), -1, 0}
		for k, l := range j.verdict.Conductors {
			if share := float64(l.Worst) / float64(l.Limit); j.tightest < 0 || share > j.share {
				j.tightest, j.share = k, share
			}
		}
		all = append(all, j)
	}
	slices.SortStableFunc(all, func(a, b judged) int { return cmp.Compare(b.share, a.share) })
	return all
}

// worstPresets lists the presets by what their tightest conductor carries of its limit, the worst first.
func (s *sheet) worstPresets() part {
	t := table{name: "presets.csv", Class: "presets", Columns: columns("number>", "preset", "verdict", "tightest", "A>", "limit A>", "headroom A>", "of the limit %>", "drop %>", "total %>", "passes up to %>", "held by")}
	for _, j := range s.judge() {
		v := j.verdict
		row := []string{strconv.Itoa(v.Preset), v.Name, "refused", "", "", "", "", "", "", "", "", ""}
		if v.Admitted {
			row[2] = "admitted"
		}
		if j.tightest >= 0 {
			l := v.Conductors[j.tightest]
			row[3], row[4], row[5] = s.conductor(l.Conductor), number(l.Worst, 1), number(l.Limit, 1)
			row[6], row[7] = number(l.Limit-l.Worst, 1), percent(j.share)
		}
		if v.Drop != nil {
			row[8], row[9] = percent(v.Drop.InIt), percent(v.Drop.Total)
		}
		row[10], row[11] = percent(v.Cap), s.heldBy(v)
		t.Rows = append(t.Rows, row)
	}
	return part{section{Title: "Presets, the tightest first", Tables: []table{t}, Intro: []string{
		"For each preset at its caps, the conductor that has the least left. Passes up to: the highest scale of the preset's levels that all conductors carry, in per cent of them; " +
			"above 100 there is that much left.",
	}}, t}
}

func (s *sheet) heldBy(v presets.Verdict) string {
	switch {
	case v.Binding >= 0:
		return s.conductor(v.Binding)
	case v.BySupply:
		return "power of " + s.rig.Supply.Name
	}
	return "nothing, up to level 1"
}

func (s *sheet) conductor(i int) string {
	c := s.plan.Power.Conductors()[i]
	return c.Kind.String() + " " + c.Name
}

// severity in words.
func severity(s finding.Severity) string {
	switch s {
	case finding.Refuse:
		return "REFUSES"
	case finding.Warn:
		return "warning"
	}
	return "note"
}

// alike is how many findings of one code a page tells whole before it only names the places of the others; the file has all.
const alike = 4

// findings lists what is to be said of the site, and the warnings of its files.
func (s *sheet) findings(warnings []site.Problem) part {
	t := table{Class: "findings", Columns: columns("", "what", "place", "sentence", "what would help")}
	f := table{name: "findings.csv", Columns: columns("severity", "code", "place", "computed>", "limit>", "unit", "sentence", "what would help")}
	all := s.plan.Findings()
	told := map[string]int{}
	for _, x := range all {
		var help []string
		for _, r := range x.Remedies {
			help = append(help, r.Words)
		}
		words := strings.Join(help, "; or ")
		f.add(severity(x.Severity), string(x.Code), x.Place.String(), number(x.Computed.Value, 3), number(x.Limit.Value, 3), string(x.Limit.Unit), x.Sentence, words)
		if told[string(x.Code)]++; told[string(x.Code)] <= alike {
			t.add(severity(x.Severity), string(x.Code), x.Place.String(), x.Sentence, words)
		}
	}
	for _, x := range all { // in the findings' own order, each code once
		if n := told[string(x.Code)]; n > alike {
			t.add(severity(x.Severity), string(x.Code), "", fmt.Sprintf("and %d more like it: findings.csv has them all", n-alike), "")
			told[string(x.Code)] = 0
		}
	}
	for _, w := range warnings {
		at := fmt.Sprintf("%s:%d", w.File, w.Line)
		t.add("warning", w.Code, at, w.Sentence, w.Hint)
		f.add("warning", w.Code, at, "", "", "", w.Sentence, w.Hint)
	}
	sec := section{Title: "Findings of the site", Tables: []table{t}, Intro: []string{"What is to be said of the plant as a whole, whatever the preset. What a preset is refused for is in lookgate check."}}
	if len(t.Rows) == 0 {
		sec.Tables, sec.Intro = nil, []string{"None."}
	}
	return part{sec, f}
}
