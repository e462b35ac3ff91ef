package papers

import (
	"fmt"
	"html/template"

	"lookgate/presets/rig"
)

// front is what the first page says, and all that follows.
type front struct {
	Site, Date string
	Facts      [][2]string
	Cautions   []string
	Sections   []section
	ArrowHead  template.HTML
}

func (s *sheet) front(o Options, sections []section) front {
	f := front{Site: s.rig.Name, Date: o.Date.Format("2006-01-02"), Cautions: o.Cautions, Sections: sections, ArrowHead: arrowHead}
	fact := func(name, form string, args ...any) {
		f.Facts = append(f.Facts, [2]string{name, fmt.Sprintf(form, args...)})
	}
	fact("Supply", "%s", s.supplyWords())
	for _, w := range s.rig.Walls {
		t := s.rig.PanelTypes[w.Type]
		fact("Wall "+w.Name, "%d columns, %d rows of %s (%v × %v, %d × %d px); %d × %d px in all", w.Columns, w.Rows, t.Name, t.Width, t.Height, t.PixelsX, t.PixelsY, w.PixelsX, w.PixelsY)
	}
	for _, t := range s.rig.PanelTypes {
		fact("Panel type "+t.Name, "%v at black, %v at full white, power factor %.3g, feed-through %v", t.Black, t.White, float64(t.PF), t.FeedThrough)
	}
	fact("In all", "%s, %s, %s, %s, %s", count(len(s.rig.Panels), "panel"), count(len(s.rig.Circuits), "circuit"), count(len(s.rig.Boards), "board"),
		count(len(s.rig.DataRuns), "data run"), count(len(s.rig.Processors), "processor"))
	f.Facts = append(f.Facts, [2]string{"All panels at full white", s.fullWords()})
	return f
}

// fullWords says what full white everywhere would ask for, and how much of the plant cannot carry it.
func (s *sheet) fullWords() string {
	var watts, va float64
	for i := range s.rig.Circuits {
		c := s.circuit(i)
		watts, va = watts+float64(c.watts), va+float64(c.va)
	}
	var all, over [2]int // circuits with their cables, and what several of them share
	for i, c := range s.plan.Power.Conductors() {
		k := 0
		if c.Circuit < 0 {
			k = 1
		}
		if all[k]++; s.worst[i] > c.Limit {
			over[k]++
		}
	}
	words := fmt.Sprintf("%.2f kW, %.2f kVA. ", watts/1000, va/1000)
	if over == [2]int{} {
		return words + "Nothing is over its limit then, as far as currents go."
	}
	return words + fmt.Sprintf("NOT ADMISSIBLE: over their limits then would be %d of %d circuits, and %d of %d legs, neutrals and feeders (see Phase balance).", over[0], all[0], over[1], all[1])
}

// supplyWords says what stands behind everything.
func (s *sheet) supplyWords() string {
	y := s.rig.Supply
	words := fmt.Sprintf("%s, %v, ", y.Name, y.System)
	switch y.System {
	case rig.SinglePhase:
		words += fmt.Sprintf("%v to neutral", y.LineNeutral)
	case rig.Delta:
		words += fmt.Sprintf("%v from leg to leg", y.LineLine)
	default:
		words += fmt.Sprintf("%v to neutral, %v from leg to leg", y.LineNeutral, y.LineLine)
	}
	words += fmt.Sprintf(", the lowest under load; main %g A", float64(y.Main))
	if y.Capacity.Power > 0 {
		words += fmt.Sprintf("; %v of %v", y.Origin, y.Capacity.Power)
	}
	return words
}

// page is the whole file. It is well-formed as XML too, and refers to nothing outside itself.
var page = template.Must(template.New("papers").Parse(`<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8"/>
<meta name="viewport" content="width=device-width, initial-scale=1"/>
<title>{{.Site}}, {{.Date}}</title>
<style>
@page { margin: 16mm 14mm 20mm 16mm;
  @top-left { content: "{{.Site}}"; font: 8pt sans-serif; }
  @top-right { content: "{{.Date}}"; font: 8pt sans-serif; }
  @bottom-left { content: "Planning figures; lookgate advises and protects nothing, breakers do; local codes and a licensed electrician decide; flashing light can harm photosensitive people"; font: 7pt sans-serif; width: 150mm; text-align: left; }
  @bottom-right { content: "page " counter(page) " of " counter(pages); font: 8pt sans-serif; } }
* { box-sizing: border-box; }
html { background: #fff; color: #000; }
body { font: 9pt/1.3 sans-serif; margin: 0; }
@media screen { body { max-width: 188mm; margin: 0 auto; padding: 8mm 4mm; } }
h1 { font-size: 18pt; margin: 0 0 2mm; } h2 { font-size: 13pt; margin: 0 0 2mm; border-bottom: 0.5mm solid #000; padding-bottom: 1mm; }
section { break-before: page; margin-top: 10mm; } @media print { section { margin-top: 0; } }
p { margin: 0 0 2mm; max-width: 170mm; }
.caution { border: 0.5mm solid #000; padding: 2mm 3mm; margin: 0 0 5mm; break-inside: avoid; } .caution p:last-child { margin: 0; }
table { border-collapse: collapse; width: 100%; margin: 0 0 5mm; font-size: 7.5pt; line-height: 1.2; }
caption { text-align: left; font-weight: bold; font-size: 9pt; padding: 1mm 0; break-after: avoid; }
thead { display: table-header-group; } tr { break-inside: avoid; }
th, td { border: 0.15mm solid #000; padding: 0.6mm 1mm; text-align: left; vertical-align: top; } th { background: #e6e6e6; border-bottom-width: 0.4mm; print-color-adjust: exact; -webkit-print-color-adjust: exact; }
th.r, td.r { text-align: right; font-variant-numeric: tabular-nums; } td.r { white-space: nowrap; }
table.facts { width: auto; font-size: 9pt; } table.facts th { background: none; border-bottom-width: 0.15mm; white-space: nowrap; }
table.own { break-before: page; } table.own:first-of-type { break-before: auto; }
table.presets td:nth-child(4), table.presets td:last-child { min-width: 20mm; }
table.schedule td:nth-child(n+3):nth-child(-n+6), table.directory td:nth-child(2), table.directory td:nth-child(7) { white-space: nowrap; }
table.directory td:nth-child(1), table.directory td:nth-child(8) { width: 32%; } table.directory td:nth-child(4) { border-right-width: 0.5mm; font-weight: bold; text-align: right; } table.directory td:nth-child(5) { font-weight: bold; }
table.proving td:first-child { font-weight: bold; } table.proving td:nth-child(7) { min-width: 26mm; } table.proving td:nth-child(8) { min-width: 18mm; } table.findings td:nth-child(1) { width: 14%; } table.findings td:nth-child(3) { width: 11%; }
table.ways td:first-child { font-weight: bold; } table.schedule { font-size: 6.8pt; } table.schedule td:first-child { font-weight: bold; } table.schedule th, table.schedule td { padding: 0.5mm 0.7mm; }
svg.wall { display: block; margin: 0 0 3mm; max-width: 100%; break-inside: avoid; } svg.defs { position: absolute; }
svg text { font-family: sans-serif; fill: #000; } svg .w text { stroke: #fff; stroke-width: 0.6px; stroke-linejoin: round; paint-order: stroke; } svg .n { font-weight: bold; } svg .x { text-anchor: middle; }
svg .p { fill: none; stroke: #000; stroke-width: 0.12px; } svg .e { stroke: #000; stroke-width: 0.6px; stroke-linecap: square; } svg .g { fill: none; stroke: #000; stroke-width: 0.12px; stroke-dasharray: 0.8 0.8; }
svg .h { fill: none; stroke: #777; stroke-width: 0.15px; } svg .c { fill: none; stroke: #000; stroke-width: 0.4px; } svg .s { fill: #000; } svg .f { stroke: #fff; stroke-width: 0.4px; paint-order: stroke; }
</style>
</head>
<body>
<svg class="defs" width="0" height="0"><defs>{{.ArrowHead}}</defs></svg>
<h1>{{.Site}}</h1>
<p>Papers for the crew, {{.Date}}. As the rig describes the plant; what differs on site has to be put into the rig, and printed again.</p>
<div class="caution">{{range .Cautions}}<p>{{.}}</p>{{end}}</div>
<table class="facts"><tbody>{{range .Facts}}<tr><th>{{index . 0}}</th><td>{{index . 1}}</td></tr>{{end}}</tbody></table>
<h2>What follows</h2>
<ol>{{range .Sections}}<li>{{.Title}}</li>{{end}}</ol>
{{range .Sections}}<section>
<h2>{{.Title}}</h2>
{{range .Intro}}<p>{{.}}</p>
{{end}}{{range .Tables}}{{$columns := .Columns}}<table class="{{.Class}}">{{if .Caption}}<caption>{{.Caption}}</caption>{{end}}
<thead><tr>{{range .Columns}}<th{{if .Right}} class="r"{{end}}>{{.Head}}</th>{{end}}</tr></thead>
<tbody>
{{range .Rows}}<tr>{{range $i, $cell := .}}<td{{if (index $columns $i).Right}} class="r"{{end}}>{{$cell}}</td>{{end}}</tr>
{{end}}</tbody></table>
{{end}}{{range .Walls}}{{.}}{{end}}{{range .Notes}}<p>{{.}}</p>{{end}}</section>
{{end}}</body>
</html>
`))
