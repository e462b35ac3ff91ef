package trial

import (
	"time"

	"lookgate/presets/engine"
	"lookgate/presets/plant"
	"lookgate/presets/units"
)

// How long the last part may take, beyond the site's own times.
const (
	settleFor = 60 * time.Second // until everything that was asked is over
	quietFor  = 5 * time.Second  // that nothing may rise in
)

// calm ends the faults and holds the wall to what is asked of it: everything open ends, the breakers close, an admitted look comes on and stays.
func (r *run) calm() {
	if len(r.violations) > 0 {
		return
	}
	r.trace.word(r.now, "faults stop", func() string { return "" })
	r.plant.Calm()
	r.people.resting = true
	f := &r.faults
	f.CrashEvery, f.CrashAtDisk, f.WriteStuck, f.WriteFail, f.CommitFail, r.disk.sick = 0, 0, 0, 0, 0, 0
	if !r.until(r.now+settleFor, func() bool { return r.ctl != nil && !r.people.open() && r.noneAtBoard() }) {
		r.fail(OneAnswer, "a command is still open %v after the faults stopped", settleFor)
		return
	}
	r.closeBreakers()
	r.until(r.now+quietFor, func() bool { return false })
	if k := r.disk.read(); len(r.owed) > 0 || k != nil && len(k.Open) > 0 {
		r.fail(OneAnswer, "outcomes of commands that ran when the daemon died are owed: %v; open on disk: %+v", r.owed, r.disk.read())
		return
	}
	r.finale()
}

func (r *run) noneAtBoard() bool {
	for _, busy := range r.people.atBoard {
		if busy {
			return false
		}
	}
	return true
}

// fail records a violation unless something failed before.
func (r *run) fail(rule Rule, format string, args ...any) {
	if len(r.violations) == 0 {
		r.violate(rule, format, args...)
	}
}

// closeBreakers lets the person at the board close what is open, where that is accepted.
func (r *run) closeBreakers() {
	for c := range r.people.atBoard {
		r.board(engine.CircuitIn, c)
		r.until(r.now+settleFor, func() bool { return !r.people.open() && r.noneAtBoard() })
	}
}

// finale recalls an admitted preset and waits for it to be on, everywhere and in truth, and to stay.
func (r *run) finale() {
	if len(r.violations) > 0 {
		return
	}
	number, ok := r.admitted()
	if !ok {
		r.stats.NoFinale++
		return
	}
	r.stats.Finales++
	began := r.now
	id := r.give(engine.Command{Station: stations[0], Verb: engine.Recall, Preset: number})
	last := &r.people.orders[id-1]
	over := func() bool { return last.ended || last.answered && last.status != engine.Accepted }
	r.until(r.now+settleFor, over)
	if last.answered && last.status == engine.Refused && last.dip {
		last = r.fromBlack(number)
	}
	if last.end != engine.On {
		r.fail(Liveness, "preset %d: answer %q, outcome %q, %v after the faults stopped", number, last.status, last.end, r.now-began)
		return
	}
	r.checkReached()
	r.checkQuiet()
}

// fromBlack recalls a preset that allows no dip from a wall that is black, as its refusal says. Levels that were under way when the wall went black count as light until it
// is told again to be black, to a device that tells nothing, so it may take a second time: no command waits while a look is being brought down.
func (r *run) fromBlack(number int) *order {
	var last *order
	for range 2 {
		r.give(engine.Command{Station: stations[0], Verb: engine.Blackout})
		r.until(r.now+settleFor, func() bool { return !r.people.open() })
		id := r.give(engine.Command{Station: stations[0], Verb: engine.Recall, Preset: number})
		last = &r.people.orders[id-1]
		r.until(r.now+settleFor, func() bool { return last.ended || last.answered && last.status != engine.Accepted })
		if last.status == engine.Accepted {
			break
		}
		r.until(r.now+r.plant.Longest(), func() bool { return false })
	}
	return last
}

// admitted draws one of the presets that are admitted now.
func (r *run) admitted() (int, bool) {
	var numbers []int
	for _, p := range r.ctl.View().Presets {
		if p.Admitted {
			numbers = append(numbers, p.Number)
		}
	}
	if len(numbers) == 0 {
		return 0, false
	}
	return numbers[r.rng.IntN(len(numbers))], true
}

// checkReached compares the true wall with the look that is said to be on.
func (r *run) checkReached() {
	for o, v := range r.view.Outputs {
		want := v.Wanted
		if v.Black {
			want = 0
		}
		if is := r.plant.State(o); is != want {
			r.fail(Liveness, "the look is said to be on, and output %s holds %v and not %v", v.Name, is, want)
			return
		}
	}
	picture := r.plant.Shown(0)
	for d := range r.truth.Devices {
		if r.plant.Shown(d) != picture || picture == (plant.Picture{}) {
			r.fail(Liveness, "the look is said to be on, and device %d shows %v", d, r.plant.Shown(d))
			return
		}
	}
}

// checkQuiet waits and sees that nothing rises.
func (r *run) checkQuiet() {
	held := make([]units.Level, len(r.truth.Outputs))
	for o := range held {
		held[o] = r.plant.State(o)
	}
	r.until(r.now+quietFor, func() bool { return false })
	for o := range held {
		if is := r.plant.State(o); is > held[o] {
			r.fail(Unasked, "output %d rose from %v to %v", o, held[o], is)
		}
	}
}
