package main

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"lookgate/presets"
	"lookgate/presets/finding"
	"lookgate/presets/site"
	"lookgate/presets/units"
)

// pageWidth is the width that everything printed keeps to, as far as names allow.
const pageWidth = 100

// drawReport prints a report for people: all verdicts at a glance, then each preset with its conductors and findings, then the site, then the cautions.
func drawReport(r *report, all bool) string {
	var b strings.Builder
	g := r.plan.Rig
	fmt.Fprintf(&b, "%s: %s, %s, %s, %s\n\n", r.Site, count(len(g.Panels), "panel"), count(len(g.Circuits), "circuit"), count(len(g.Outputs), "output"),
		count(len(r.Presets), "preset"))
	if r.WhatIf != nil {
		b.WriteString(r.WhatIf.draw())
	}
	b.WriteString(drawSummary(r))
	for i, v := range r.verdicts {
		b.WriteString("\n" + drawVerdict(r, v, r.Presets[i], all))
	}
	b.WriteString("\n" + drawSite(r, all))
	fmt.Fprintf(&b, "\n%s: %d admitted, %d refused. Of the site: %s, %s.\n\n", count(len(r.Presets), "preset"), r.Admitted, r.Refused,
		count(len(r.Findings), "finding"), count(len(r.Warnings), "warning"))
	for _, c := range cautions {
		b.WriteString(wrapped(c, "", ""))
	}
	return b.String()
}

func drawSummary(r *report) string {
	wide := 0
	for _, p := range r.Presets {
		wide = max(wide, utf8.RuneCountInString(p.Name))
	}
	var b strings.Builder
	for i, v := range r.verdicts {
		fmt.Fprintf(&b, "  %4d  %s%s  %-8s  %s\n", v.Preset, v.Name, strings.Repeat(" ", wide-utf8.RuneCountInString(v.Name)), word(v), capWords(r, r.verdicts[i]))
		if p := r.Presets[i]; p.Above != nil {
			fmt.Fprintf(&b, "  %4s  %*s  above the continuous limit of %s for at most %s\n", "", wide+8, "", count(len(p.Above.Circuits), "circuit"),
				units.Spoken(time.Duration(p.Above.Seconds*float64(time.Second))))
		}
	}
	return b.String()
}

func word(v presets.Verdict) string {
	if v.Admitted {
		return "admitted"
	}
	return "REFUSED"
}

// capWords says how far a preset's levels could go together. What refuses it may be something else than power, and is said below it.
func capWords(r *report, v presets.Verdict) string {
	if v.Binding < 0 && !v.BySupply {
		return "no conductor binds, up to level 1"
	}
	binds := "the power of " + r.plan.Rig.Supply.Name + " binds"
	if v.Binding >= 0 {
		binds = placeOf(r.plan.Power.Conductors()[v.Binding]).String() + " binds"
	}
	switch {
	case v.Cap >= 1:
		return fmt.Sprintf("%+.1f stops until %s", math.Log2(float64(v.Cap)), binds)
	case v.Cap > 0:
		return fmt.Sprintf("at most %v of its levels: %s", units.Level(v.Cap), binds)
	default:
		return "not at any level: " + binds
	}
}

func drawVerdict(r *report, v presets.Verdict, p presetReport, all bool) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%d %s: %s\n", v.Preset, v.Name, word(v))
	b.WriteString(wrapped(levelWords(p), "  ", "    "))
	b.WriteString(wrapped(coverWords(p), "  ", "    "))
	if p.Above != nil {
		b.WriteString(wrapped(aboveWords(p.Above), "  ", "    "))
	}
	if p.Drop != nil {
		b.WriteString(wrapped(dropWords(p.Drop), "  ", "    "))
	}
	b.WriteString(wrapped(zoneWords(p.Caps.Zones), "  ", "    "))
	if words := reliefWords(p.Caps); words != "" {
		b.WriteString(wrapped(words, "  ", "    "))
	}
	b.WriteString(presets.DrawConductors(r.plan.Power, v.Conductors, presets.DrawOptions{All: all}))
	b.WriteString(drawFindings(v.Findings, all))
	return b.String()
}

// levelWords tells the outputs' levels, with the cap where that is another, those alike in one entry.
func levelWords(p presetReport) string {
	var words []string
	for i := 0; i < len(p.Outputs); {
		n := i + 1
		for n < len(p.Outputs) && p.Outputs[n].Level == p.Outputs[i].Level && p.Outputs[n].Cap == p.Outputs[i].Cap {
			n++
		}
		o := p.Outputs[i]
		w := o.Output
		switch {
		case n-i == len(p.Outputs):
			w = "all"
		case n > i+1:
			w += " to " + p.Outputs[n-1].Output
		}
		w += " at " + units.Level(o.Level).String()
		if o.Cap != o.Level {
			w += ", cap " + units.Level(o.Cap).String()
		}
		words, i = append(words, w), n
	}
	return "outputs: " + strings.Join(words, "; ")
}

// coverWords tells how much of each wall has a picture.
func coverWords(p presetReport) string {
	var words []string
	for _, c := range p.Coverage {
		share := "none"
		if c.Pixels > 0 && c.Of > 0 {
			share = units.Share(math.Floor(1000*float64(c.Pixels)/float64(c.Of)) / 1000).String()
		}
		words = append(words, c.Wall+" "+share)
	}
	return "picture: " + strings.Join(words, ", ")
}

// dropWords tells where the most voltage is lost.
func dropWords(d *dropReport) string {
	return fmt.Sprintf("voltage: circuit %s loses the most, %v; the least is left at the end of circuit %s, %v, which is %v lost on the way from the supply",
		d.Circuit, units.Share(d.InIt), d.Farthest, units.Volts(d.Volts), units.Share(d.Total))
}

// drawFindings prints findings with their remedies; unless all are asked for, only the worst of each code whole and the others of it by name.
func drawFindings(fs []finding.Finding, all bool) string {
	var b strings.Builder
	for _, group := range byCode(fs) {
		if all || len(group) < 3 {
			for _, f := range group {
				b.WriteString(drawFinding(f))
			}
			continue
		}
		worst := slices.MaxFunc(group, func(x, y finding.Finding) int {
			switch a, b := excess(x), excess(y); {
			case a < b:
				return -1
			case a > b:
				return 1
			}
			return 0
		})
		b.WriteString(drawFinding(worst))
		b.WriteString(wrapped(fmt.Sprintf("and %d more %s: %s", len(group)-1, worst.Code, otherPlaces(group, worst)), "  ", "    "))
	}
	return b.String()
}

// byCode groups findings by their codes, in the order in which the codes come first. What is not assessed is many things: those go together that read alike.
func byCode(fs []finding.Finding) [][]finding.Finding {
	var groups [][]finding.Finding
	for _, f := range fs {
		i := slices.IndexFunc(groups, func(g []finding.Finding) bool {
			return g[0].Code == f.Code && (f.Code != finding.Unassessed || g[0].Sentence == f.Sentence)
		})
		if i < 0 {
			groups = append(groups, []finding.Finding{f})
			continue
		}
		groups[i] = append(groups[i], f)
	}
	return groups
}

func excess(f finding.Finding) float64 {
	if f.Limit.Value == 0 {
		return math.Abs(f.Computed.Value)
	}
	return f.Computed.Value / f.Limit.Value
}

// otherPlaces names the places of a group but for one, each kind once and no more than eight names.
func otherPlaces(group []finding.Finding, but finding.Finding) string {
	var words []string
	kind := ""
	for _, f := range group {
		if f.Place == but.Place {
			continue
		}
		if len(words) == 8 {
			words = append(words, "and so on (-all)")
			break
		}
		name := f.Place.Name
		if f.Place.Kind != kind {
			name, kind = f.Place.String(), f.Place.Kind
		}
		words = append(words, name)
	}
	return strings.Join(words, ", ")
}

func drawFinding(f finding.Finding) string {
	head := fmt.Sprintf("%s, %s: %s", f.Code, f.Place, f.Sentence)
	text := wrapped(head, "  "+mark(f.Severity)+" ", "    ")
	for _, m := range f.Remedies {
		text += wrapped(m.Words, fmt.Sprintf("      %-6s ", m.When+":"), "             ")
	}
	return text
}

// mark tells severities apart by shape.
func mark(s finding.Severity) string {
	switch s {
	case finding.Refuse:
		return "✗"
	case finding.Warn:
		return "!"
	default:
		return "·"
	}
}

func drawSite(r *report, all bool) string {
	var b strings.Builder
	b.WriteString("the site as a whole\n" + drawLegs(r.Legs, r.OtherLoads))
	b.WriteString(drawProved(r.Proved, all))
	b.WriteString(drawFindings(r.Findings, all))
	for _, w := range r.Warnings {
		b.WriteString(wrapped(where(w)+w.Sentence, "  ! ", "    ") + wrapped(w.Hint, "      ", "      "))
	}
	return b.String()
}

func where(p problemReport) string {
	at := p.File
	if p.Line > 0 {
		at += fmt.Sprintf(":%d:%d", p.Line, p.Column)
	}
	at += ": "
	if p.Path != "" {
		at += p.Path + ": "
	}
	return at
}

// drawProblems prints what is wrong with a site's files, each at its place, unbroken so that tools can read the places.
func drawProblems(problems []site.Problem) string {
	var b strings.Builder
	errors := 0
	for _, p := range problems {
		b.WriteString(p.String() + "\n")
		if !p.Warning {
			errors++
		}
	}
	fmt.Fprintf(&b, "\nthe site cannot be used: %s, %s\n", count(errors, "problem"), count(len(problems)-errors, "warning"))
	return b.String()
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// wrapped breaks a text between words at the page's width. The first line begins with first, the others with next.
func wrapped(text, first, next string) string {
	var b strings.Builder
	line, begun := first, false
	for _, w := range strings.Fields(text) {
		if begun && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(w) > pageWidth {
			b.WriteString(line + "\n")
			line, begun = next, false
		}
		if begun {
			line += " "
		}
		line, begun = line+w, true
	}
	return b.String() + line + "\n"
}
