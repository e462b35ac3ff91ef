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
	t := table{name: "presets.csv", Class: "presets", Columns: columns("number>", "preset", "verdict", "tightest", "A>", "limit A>", "headroom A>", "of the limit %>", "drop %>", "total %>", "passes up to %>", "held by",
		"if the picture is full white")}
	for _, j := range s.judge() {
		v := j.verdict
		row := []string{strconv.Itoa(v.Preset), v.Name, "refused", "", "", "", "", "", "", "", "", "", "the same"}
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
		if v.Credit != nil {
			row[2], row[12] = row[2]+" ON CREDIT", s.uncredited(v.Credit)
		}
		t.Rows = append(t.Rows, row)
	}
	return part{section{Title: "Presets, the tightest first", Tables: []table{t}, Intro: []string{
		"For each preset at its caps, the conductor that has the least left. Passes up to: the highest scale of the preset's levels that all conductors carry, in per cent of them; " +
			"above 100 there is that much left. On credit: it counts on the mean that it states of its picture; what a full white picture would do to it stands in the last column.",
	}}, t}
}

// uncredited says what a look on credit would do with full white up.
func (s *sheet) uncredited(c *presets.Credit) string {
	limit := s.plan.Power.Conductors()[c.Highest].Limit
	words := fmt.Sprintf("%s %s of %s A", s.conductor(c.Highest), number(c.Full[c.Highest], 1), number(limit, 1))
	if c.Over > 0 {
		words += fmt.Sprintf("; %s OVER", count(c.Over, "conductor"))
	}
	return words
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

// told is one finding as a table has it: of the site, or of a preset.
type told struct {
	of string
	finding.Finding
}

func (f told) help() string {
	var words []string
	for _, r := range f.Remedies {
		if r.When == finding.Now {
			words = append(words, "now: "+r.Words)
			continue
		}
		words = append(words, r.Words)
	}
	return strings.Join(words, "; or ")
}

// findings lists what is to be said of the site, the warnings of its files, and what speaks against presets.
func (s *sheet) findings(warnings []site.Problem) part {
	f := table{name: "findings.csv", Columns: columns("of", "severity", "code", "place", "computed>", "limit>", "unit", "sentence", "what would help")}
	var ofSite, ofPresets []told
	for _, x := range s.plan.Findings() {
		ofSite = append(ofSite, told{"site", x})
	}
	for i := range s.plan.Book.Presets {
		v := presets.Check(s.plan, &s.plan.Book.Presets[i], presets.Conditions{})
		for _, x := range v.Findings {
			ofPresets = append(ofPresets, told{fmt.Sprintf("preset %d %s", v.Preset, v.Name), x})
		}
	}
	for _, x := range slices.Concat(ofSite, ofPresets) {
		f.add(x.of, severity(x.Severity), string(x.Code), x.Place.String(), number(x.Computed.Value, 3), number(x.Limit.Value, 3), string(x.Limit.Unit), x.Sentence, x.help())
	}
	page := findingTable("Of the site", ofSite)
	for _, w := range warnings {
		at := fmt.Sprintf("%s:%d", w.File, w.Line)
		page.add("site", "warning", w.Code, at, w.Sentence, w.Hint)
		f.add("site", "warning", w.Code, at, "", "", "", w.Sentence, w.Hint)
	}
	sec := section{Title: "Findings", Intro: []string{"What is to be said of the plant as a whole, whatever the preset, and then of presets. A remedy that says now is an operator's command that was tried."}}
	for _, t := range []table{page, findingTable("Of presets", ofPresets)} {
		if len(t.Rows) == 0 {
			sec.Notes = append(sec.Notes, t.Caption+": none.")
			continue
		}
		sec.Tables = append(sec.Tables, t)
	}
	return part{sec, f}
}

// findingTable tells the first few of each code whole, and counts the others: the file has all.
func findingTable(caption string, all []told) table {
	t := table{Class: "findings", Caption: caption, Columns: columns("of", "weight", "code", "place", "sentence", "what would help")}
	type kind struct {
		of   string
		code finding.Code
	}
	n := map[kind]int{}
	for _, x := range all {
		n[kind{x.of, x.Code}]++
	}
	seen := map[kind]int{}
	for _, x := range all {
		k := kind{x.of, x.Code}
		of := strings.TrimPrefix(x.of, "preset ")
		if seen[k]++; seen[k] <= alike {
			t.add(of, severity(x.Severity), string(x.Code), x.Place.String(), x.Sentence, x.help())
		} else if seen[k] == n[k] {
			t.add(of, severity(x.Severity), string(x.Code), "", fmt.Sprintf("and %d more like these: findings.csv has them all", n[k]-alike), "")
		}
	}
	return t
}
