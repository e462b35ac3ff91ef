package draft

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"lookgate/presets"
	"lookgate/presets/finding"
	"lookgate/presets/picture"
	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/site"
	"lookgate/presets/units"
)

// finish writes the files, reads them back and checks every preset. Where the supply or the boards do not carry full white it lowers the presets to what passes.
// Again says that circuits or data runs have to be made shorter.
func (p *planner) finish() (d *Draft, again bool, err error) {
	p.legs = make([][]units.Amps, p.boards+1)
	for range 3 + len(fades) {
		d, err = p.written()
		if err != nil {
			return nil, false, err
		}
		plan := presets.NewPlan(d.Site.Rig, d.Site.Book)
		v := presets.Check(plan, &d.Site.Book.Presets[0], presets.Conditions{})
		if again = p.shorter(plan, v); again {
			return nil, true, nil
		}
		p.measure(plan)
		if v.Admitted {
			return p.closed(plan)
		}
		if p.slower(v) {
			continue
		}
		if err := p.lower(plan, v); err != nil {
			return nil, false, err
		}
	}
	return nil, false, impossible("tell whoever made lookgate, with the brief", "the plan is refused by its own check at the level that the check said would pass")
}

// measure notes what the legs of the plan carry at full white, with all that is lost on the way.
func (p *planner) measure(plan *presets.Plan) {
	worst := plan.Power.Worst(power.State{Levels: slices.Repeat([]units.Level{1}, len(plan.Rig.Outputs))}, nil)
	p.legs = make([][]units.Amps, p.boards+1)
	for i, c := range plan.Power.Conductors() {
		switch c.Kind {
		case rig.BoardLeg:
			p.legs[c.Board] = append(p.legs[c.Board], worst[i])
		case rig.SupplyLeg:
			p.legs[p.boards] = append(p.legs[p.boards], worst[i])
		}
	}
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
		switch f.Code {
		case finding.CircuitOver, finding.CableOver, finding.BreakerOverRun, finding.Collapse, finding.DropOver:
			for _, c := range plan.Rig.Circuits {
				if c.Name == f.Place.Name {
					wall[plan.Rig.Panels[c.Panels[0]].Wall] = true
				}
			}
		}
	}
	for m := range plan.Rig.Modes {
		if slices.ContainsFunc(picture.RunLoads(plan.Rig, m), func(l picture.RunLoad) bool { return l.Over }) {
			p.fewer++
			again = true
			break
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

// fades are the times of the presets' fades up, the first unless a generator needs longer to follow.
var fades = []time.Duration{2 * time.Second, 5 * time.Second, 10 * time.Second, 20 * time.Second, 30 * time.Second, 60 * time.Second}

// slower takes the next longer fade where a generator cannot follow the one that there is.
func (p *planner) slower(v presets.Verdict) bool {
	step := slices.ContainsFunc(v.Findings, func(f finding.Finding) bool { return f.Code == finding.StepOver })
	if !step || p.fade == len(fades)-1 {
		return false
	}
	p.fade++
	return true
}

// tenths is how finely the level of full white is looked for: tenths of a per cent.
const tenths = 1000

// lower takes the presets down to what passes, and notes what binds and what would help.
func (p *planner) lower(plan *presets.Plan, v presets.Verdict) error {
	at := func(k int) presets.Verdict {
		preset := plan.Book.Presets[0]
		preset.Zones = slices.Clone(preset.Zones)
		for i := range preset.Zones {
			l := units.Level(k) / tenths
			preset.Zones[i].Level, preset.Zones[i].Cap = l, l
		}
		return presets.Admit(plan, &preset, presets.Conditions{})
	}
	pass, fail := 0, tenths
	for fail-pass > 1 {
		if k := (pass + fail) / 2; at(k).Admitted {
			pass = k
		} else {
			fail = k
		}
	}
	binds := refusal(at(fail))
	if pass == 0 {
		return impossible("a larger main with what feeds it to match, or fewer panels", "hardly more than black passes: %s", binds)
	}
	p.full, p.binds, p.remedies = units.Level(pass)/tenths, binds, p.helps(plan, v)
	return nil
}

// refusal gives the first thing that refuses.
func refusal(v presets.Verdict) string {
	for _, f := range v.Findings {
		if f.Severity == finding.Refuse {
			return fmt.Sprintf("%s: %s", f.Place, f.Sentence)
		}
	}
	return "nothing"
}

// helps says what would carry full white: for each board and for the supply, of its legs and of its neutral, what the worst finding says.
func (p *planner) helps(plan *presets.Plan, v presets.Verdict) []string {
	var helps []string
	for _, f := range worstOf(plan, v.Findings, finding.Refuse) {
		says := fmt.Sprintf("At full white, %s: %s", f.Place, f.Sentence)
		for _, r := range f.Remedies {
			if r.When == finding.Later {
				says += "; " + r.Words
				break
			}
		}
		helps = append(helps, says+".")
	}
	return helps
}

// worstOf gives of the findings of a severity the worst of each code for each board and for the supply: three legs that are over are one thing to say.
func worstOf(plan *presets.Plan, all []finding.Finding, severity finding.Severity) []finding.Finding {
	type place struct {
		code  finding.Code
		board int
	}
	var places []place
	var worst []finding.Finding
	for _, f := range all {
		if f.Severity != severity {
			continue
		}
		at := place{f.Code, -1}
		i := slices.IndexFunc(plan.Power.Conductors(), func(c rig.Conductor) bool { return c.Kind.String() == f.Place.Kind && c.Name == f.Place.Name })
		if i >= 0 {
			at.board = plan.Power.Conductors()[i].Board
		}
		k := slices.Index(places, at)
		if k < 0 {
			places, worst = append(places, at), append(worst, f)
		} else if f.Computed.Value > worst[k].Computed.Value {
			worst[k] = f
		}
	}
	return worst
}

// closed writes the files once more, now that their comments can say what the plan carries, checks the other presets and adds what is to be said of the site as a whole.
func (p *planner) closed(plan *presets.Plan) (*Draft, bool, error) {
	d, err := p.written()
	if err != nil {
		return nil, false, err
	}
	for i := range d.Site.Book.Presets {
		if v := presets.Check(plan, &d.Site.Book.Presets[i], presets.Conditions{}); !v.Admitted {
			return nil, false, impossible("give a restart level that the plant carries", "preset %s would be refused: %s", v.Name, v.Findings[0].Sentence)
		}
	}
	for _, f := range worstOf(plan, plan.Findings(), finding.Warn) {
		says := fmt.Sprintf("To know: %s: %s.", f.Place, f.Sentence)
		d.Why = append(d.Why, says)
		if f.Code == finding.RestartOver {
			d.Summary = append(d.Summary, says)
		}
	}
	return d, false, nil
}
