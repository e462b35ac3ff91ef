package trial

import (
	"fmt"
	"time"

	"lookgate/presets"
	"lookgate/presets/engine"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// overtimes is the judge's own account of the time that circuits are truly above their continuous limits. It knows the true currents at every moment, and nothing of
// how the engine counts.
type overtimes struct {
	rig     *rig.Rig
	wires   []int // per circuit: its conductor
	limits  []units.Amps
	list    []overtime // per circuit
	at      time.Duration
	allows  bool          // a look is allowed above since at
	allowed time.Duration // when a look was last allowed above; -1 for never
}

// overtime is one circuit's.
type overtime struct {
	above bool          // since at
	used  time.Duration // above since its last rest, over all looks
	rest  time.Duration // at or below without a break
}

func newOvertimes(r *rig.Rig) overtimes {
	o := overtimes{rig: r, wires: make([]int, len(r.Circuits)), limits: make([]units.Amps, len(r.Circuits)), list: make([]overtime, len(r.Circuits)), allowed: -1}
	for i, c := range r.Conductors() {
		if c.Kind == rig.CircuitWire {
			o.wires[c.Circuit], o.limits[c.Circuit] = i, c.Limit
		}
	}
	return o
}

// pass brings the accounts to a moment: the currents have been what they were.
func (o *overtimes) pass(now time.Duration) {
	d := now - o.at
	o.at = now
	for c := range o.list {
		lends, is := o.rig.Circuits[c].Above, &o.list[c]
		if lends == nil || d <= 0 {
			continue
		}
		if is.above {
			is.used, is.rest = is.used+d, 0
			continue
		}
		if is.rest += d; is.rest >= lends.Rest {
			is.used = 0
		}
	}
}

// look takes the currents of the moment.
func (o *overtimes) look(amps []units.Amps) {
	for c := range o.list {
		o.list[c].above = o.rig.Circuits[c].Above != nil && float64(amps[o.wires[c]]) > float64(o.limits[c])*(1+rounding)
	}
}

// allow says whether a look is allowed above from this moment on.
func (o *overtimes) allow(allows bool) {
	if o.allows || allows {
		o.allowed = o.at
	}
	o.allows = allows
}

// nearest gives the highest share of its longest time that a circuit has been above.
func (o *overtimes) nearest() units.Share {
	most := units.Share(0)
	for c, is := range o.list {
		if lends := o.rig.Circuits[c].Above; lends != nil {
			most = max(most, units.Share(float64(is.used)/float64(lends.For)))
		}
	}
	return most
}

// wrong says what is against the rule: a circuit that has been above its continuous limit for longer than its rig allows, over all looks since it last rested; or one that is
// above while no look has been allowed to be for longer than it takes to come down.
func (o *overtimes) wrong(down time.Duration) string {
	for c, is := range o.list {
		if !is.above {
			continue
		}
		name := o.rig.Circuits[c].Name
		if most := o.rig.Circuits[c].Above.For; is.used > most {
			return fmt.Sprintf("circuit %s has been above its continuous limit for %v of %v", name, is.used, most)
		}
		if o.allowed < 0 || o.at > o.allowed+down {
			return fmt.Sprintf("circuit %s is above its continuous limit, and no look is allowed to be", name)
		}
	}
	return ""
}

// ratingOf gives what a conductor may never carry more than: the breaker's rating of a circuit that may be above its continuous limit for a while, else the limit.
func ratingOf(r *rig.Rig, c rig.Conductor) units.Amps {
	if c.Kind == rig.CircuitWire && r.Circuits[c.Circuit].Above != nil {
		return r.Circuits[c.Circuit].Breaker
	}
	return c.Limit
}

// comesDown gives how long a wall may take until it is down, by the site's own times: the longest fade, a command's hold, and what the devices need.
func comesDown(plan *presets.Plan) time.Duration {
	var fade, device time.Duration
	for _, p := range plan.Book.Presets {
		fade = max(fade, p.FadeDown)
	}
	for _, d := range plan.Rig.Devices {
		device = max(device, 2*(2*d.PacketLife+d.Settling)+8*d.Retry)
	}
	return fade + plan.Rig.Hold + device
}

// checkTime holds the time that circuits are truly above their continuous limits against the rule, while the daemon is there to keep it: while it is gone nobody can
// bring the wall down, and after a start it has to learn first where the wall stands.
func (r *run) checkTime() {
	for _, is := range r.over.list {
		if is.above {
			r.stats.Above += r.now - r.over.at
		}
	}
	r.over.pass(r.now)
	r.over.allow(r.view != nil && r.view.Look.Above != nil)
	r.stats.Nearest = max(r.stats.Nearest, r.over.nearest())
	down := comesDown(r.setup.Plan)
	if r.ctl == nil || r.now < r.started+down {
		return
	}
	if words := r.over.wrong(down); words != "" {
		r.violate(Overtime, "%s", words)
	}
}

// countAbove counts what the time above continuous limits came to.
func (r *run) countAbove(e engine.Event) {
	if e.Key == "above continuous" && e.Kind == "note" && len(e.Sentence) > 7 && e.Sentence[:7] == "brought" {
		r.stats.BroughtDown++
	}
}
