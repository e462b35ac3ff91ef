package trial_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets"
	"lookgate/presets/engine"
	"lookgate/presets/rig"
	"lookgate/presets/trial"
)

// planted is one mistake and the number of seeds within which the trial has to find it.
type planted struct {
	name   string
	budget uint64
	fault  engine.Fault
	faults func(*trial.Faults)
	credit bool                              // in stages most of whose looks count on their pictures
	above  bool                              // in stages whose circuits may be above their continuous limits for a while
	plan   func(*presets.Plan) *presets.Plan // what the controller believes, where that is wrong
}

// mistakes lists every planted mistake. The list grows and does not shrink.
func mistakes() []planted {
	list := []planted{
		{name: "top corner only", budget: 400, plan: topCorner, faults: func(f *trial.Faults) { f.Plant.TripEvery = time.Second }},
		{name: "power-on level not reserved", budget: 100, plan: withDevices(func(d *rig.Device) { d.Restart = 0 })},
		{name: "device ignores command numbers", budget: 100, plan: withDevices(numberedOnPaper)},
		{name: "packets live longer than the rig says", budget: 100, plan: withDevices(func(d *rig.Device) { d.PacketLife /= 8 })},
		{name: "journal relied on before the flush", budget: 100, faults: func(f *trial.Faults) { f.Mistakes.TrustsBuffer = true }},
		{name: "look kept as one record per output", budget: 400, faults: func(f *trial.Faults) { f.Mistakes.HalfLook = true }},
		{name: "old daemon only paused", budget: 400, faults: func(f *trial.Faults) { f.Mistakes.OldWritesOn = true }},
		{name: "device forgets its number when it restarts", budget: 600, faults: func(f *trial.Faults) {
			f.Plant.Forgets, f.Plant.RestartEvery, f.Plant.BootTime = true, 500*time.Millisecond, 20*time.Millisecond
			f.Plant.Wire.Late, f.Plant.Wire.Duplicate = 0.5, 0.5
		}},
	}
	budgets := map[engine.Fault]uint64{engine.CountsEachLook: 600, engine.OpenBreaker: 400, engine.CheckThenReserve: 600, engine.LifeFromDecision: 200,
		engine.CountsTheWanted: 400, engine.PictureUnchecked: 600}
	for _, f := range engine.Faults {
		p := planted{name: f.String(), budget: 100, fault: f}
		if b, more := budgets[f]; more {
			p.budget = b
		}
		if f == engine.LifeFromDecision { // shows where a worker holds a packet for long
			p.faults = func(f *trial.Faults) { f.WriteStuck, f.StuckFor = 0.2, time.Second }
		}
		if f == engine.CheckThenReserve { // shows where outputs that wait for the same room get it in one moment: many switches, few of them broken off
			p.faults = func(f *trial.Faults) { f.CrashEvery, f.CommandGap, f.Plant.Wire.Loss = 0, 400*time.Millisecond, 0.02 }
		}
		if f >= engine.CountsEachLook && f <= engine.CountsTheWanted { // show where looks stay on for as long as circuits may be above
			p.above, p.faults = true, func(f *trial.Faults) { *f = slow() }
		}
		if f == engine.LimitStays { // shows in a switch between looks that nothing is allowed above
			p.faults = func(f *trial.Faults) { f.CrashEvery, f.CrashAtDisk, f.Storm = 0, 0, 120*time.Second }
		}
		if f == engine.OpenBreaker { // shows where breakers are opened and closed often
			p.faults = func(f *trial.Faults) { f.Plant.TripEvery, f.Plant.TripFor = 3*time.Second, 3*time.Second }
		}
		if f == engine.CreditByWanted || f == engine.PictureUnchecked { // show in switches between looks on credit, few of them broken off
			p.credit, p.faults = true, func(f *trial.Faults) { f.CrashEvery, f.CommandGap = 0, 400*time.Millisecond }
		}
		list = append(list, p)
	}
	return list
}

// withDevices gives a plan of the same book over a rig whose devices are described wrongly.
func withDevices(wrong func(*rig.Device)) func(*presets.Plan) *presets.Plan {
	return func(p *presets.Plan) *presets.Plan {
		r := *p.Rig
		r.Devices = append([]rig.Device(nil), r.Devices...)
		for i := range r.Devices {
			wrong(&r.Devices[i])
		}
		return presets.NewPlan(&r, p.Book)
	}
}

func topCorner(p *presets.Plan) *presets.Plan {
	p.Power = p.Power.TopCorner()
	return p
}

func numberedOnPaper(d *rig.Device) {
	if d.Class == rig.Reporting {
		d.Class = rig.Numbered
	}
}

// try puts a mistake on trial with one seed.
func (p planted) try(seed uint64) trial.Outcome {
	r, book := trial.Stage(seed)
	if p.above {
		r, book = trial.StageAbove(seed)
	}
	if p.credit {
		r, book = trial.StageCredit(seed)
	}
	plan, faults := presets.NewPlan(r, book), trial.Rough()
	if p.plan != nil {
		plan = p.plan(plan)
	}
	if p.faults != nil {
		p.faults(&faults)
	}
	start := func(kept *engine.Kept, epoch uint64) trial.Controller {
		return engine.New(plan, engine.Settings{Fault: p.fault}, kept, epoch)
	}
	return trial.Run(seed, trial.Setup{Plan: plan, Plant: r, Start: start}, faults, false)
}

func TestEveryPlantedMistakeIsFound(t *testing.T) {
	if testing.Short() || raced {
		t.Skip("long: cmd/verify plays it in a step of its own, without the race detector")
	}
	for _, p := range mistakes() {
		t.Run(p.name, func(t *testing.T) {
			t.Parallel()
			began := time.Now()
			for seed := range p.budget {
				if o := p.try(seed); len(o.Violations) > 0 {
					t.Logf("seed %d of %d, %v: %v", seed, p.budget, time.Since(began).Round(time.Millisecond), o.Violations[0])
					return
				}
			}
			require.Fail(t, "not found", "%d seeds and no violation", p.budget)
		})
	}
}
