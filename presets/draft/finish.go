package draft

import (
	"fmt"
	"math"
	"strings"

	"lookgate/presets"
	"lookgate/presets/finding"
	"lookgate/presets/site"
	"lookgate/presets/units"
)

// finish writes the files, reads them back and checks every preset. Where the supply or the boards do not carry full white it lowers the presets to what passes.
// Again says that circuits or data runs have to be made shorter.
func (p *planner) finish() (d *Draft, again bool, err error) {
	for range 3 {
		d, err = p.written()
		if err != nil {
			return nil, false, err
		}
		plan := presets.NewPlan(d.Site.Rig, d.Site.Book)
		v := presets.Check(plan, &d.Site.Book.Presets[0], presets.Conditions{})
		if again = p.shorter(plan, v); again {
			return nil, true, nil
		}
		if v.Admitted {
			return p.closed(d, plan)
		}
		if err := p.lower(plan, v); err != nil {
			return nil, false, err
		}
	}
	return nil, false, impossible("tell whoever made lookgate, with the brief", "the plan is refused by its own check at the level that the check said would pass")
}

// written writes the files and reads them back.
func (p *planner) written() (*Draft, error) {
	d := &Draft{Files: p.files(), Full: p.full, Summary: p.summary(), Why: p.why()}
	s, problems := site.Read(d.Files)
	if s == nil {
		return nil, impossible("change the brief there: "+problems[0].Hint, "the plan is no site that can be read: %s", strings.SplitN(problems[0].String(), "\n", 2)[0])
	}
	d.Site = s
	for _, f := range p.feeds {
		c := f.bounds
		c.Circuits = len(f.chains)
		d.Circuits = append(d.Circuits, c)
	}
	return d, nil
}

// shorter finds circuits and data runs that are too long after all, and notes that they have to be shorter: board feeders lose voltage that no circuit by itself
// shows, and a processor that carries rectangles carries gaps too.
func (p *planner) shorter(plan *presets.Plan, v presets.Verdict) bool {
	again := false
	wall := make([]bool, len(p.less))
	for _, f := range v.Findings {
		if f.Severity != finding.Refuse {
			continue
		}
		switch f.Code {
		case finding.CircuitOver, finding.CableOver, finding.BreakerOverRun:
			for _, c := range plan.Rig.Circuits {
				if c.Name == f.Place.Name {
					wall[plan.Rig.Panels[c.Panels[0]].Wall] = true
				}
			}
		case finding.DataRunOver:
			p.fewer++
			again = true
		}
	}
	for i, too := range wall {
		if too {
			p.less[i]++
			again = true
		}
	}
	return again
}

// lower takes the presets down to what passes, and notes what binds and what would help.
func (p *planner) lower(plan *presets.Plan, v presets.Verdict) error {
	binding := "something"
	if v.Binding >= 0 {
		c := plan.Power.Conductors()[v.Binding]
		binding = fmt.Sprintf("%v %s binds (%s)", c.Kind, c.Name, c.By)
	}
	var helps []string
	for _, f := range v.Findings {
		if f.Severity != finding.Refuse {
			continue
		}
		for _, r := range f.Remedies {
			if r.When == finding.Later {
				helps = append(helps, fmt.Sprintf("%s would carry %s at full white: %s.", f.Place, f.Computed, r.Words))
				break
			}
		}
	}
	full := units.Level(math.Floor(float64(p.full)*float64(v.Cap)*1000+1e-6) / 1000) // tenths of a per cent, never above what passes
	if full <= 0 {
		return impossible("a larger main with what feeds it to match, or fewer panels", "not even black passes: %s", binding)
	}
	p.full, p.binds, p.remedies = full, binding, helps
	return nil
}

// closed checks the other presets and adds what is to be said of the site as a whole.
func (p *planner) closed(d *Draft, plan *presets.Plan) (*Draft, bool, error) {
	for i := range d.Site.Book.Presets {
		if v := presets.Check(plan, &d.Site.Book.Presets[i], presets.Conditions{}); !v.Admitted {
			return nil, false, impossible("give a restart level that the plant carries", "preset %s would be refused: %s", v.Name, v.Findings[0].Sentence)
		}
	}
	for _, f := range plan.Findings() {
		if f.Severity == finding.Warn {
			d.Summary = append(d.Summary, fmt.Sprintf("%s: %s", f.Place, f.Sentence))
		}
	}
	return d, false, nil
}
