package engine

import (
	"fmt"

	"lookgate/presets/finding"
	"lookgate/presets/rig"
)

// maxAlarms bounds what is shown. The oldest goes first; the record has them all.
const maxAlarms = 64

// alarm raises an alarm, once a key.
func (e *Engine) alarm(key string, place finding.Place, sentence, do string) {
	ev := Event{Kind: "alarm", Key: key, Place: place, Sentence: sentence, Do: do}
	for i := range e.alarms {
		if e.alarms[i].Key != key {
			continue
		}
		if e.alarms[i].Sentence != sentence && place.Kind == "output" { // a figure that changes is no new alarm
			e.out.Events = append(e.out.Events, ev)
		}
		e.alarms[i] = ev
		return
	}
	if len(e.alarms) == maxAlarms {
		e.alarms = append(e.alarms[:0], e.alarms[1:]...)
	}
	e.alarms = append(e.alarms, ev)
	e.out.Events = append(e.out.Events, ev)
}

// clear takes an alarm back.
func (e *Engine) clear(key string) {
	for i := range e.alarms {
		if e.alarms[i].Key == key {
			ev := e.alarms[i]
			ev.Kind, ev.Do = "clear", ""
			e.alarms = append(e.alarms[:i], e.alarms[i+1:]...)
			e.out.Events = append(e.out.Events, ev)
			return
		}
	}
}

// overPatience is how long a conductor may be over on paper before that is an alarm: right after a start everything counts at its highest until devices tell.
const overPatience = Instant(2_000_000_000)

// watchOver raises an alarm for every conductor that may be over for longer than that, and clears it.
func (e *Engine) watchOver() {
	e.bound()
	for c := range e.conductors {
		k, w, limit := &e.conductors[c], e.amps(c), e.bears(c)
		switch {
		case within(w, limit):
			if e.overFrom[c] != never {
				e.overFrom[c] = never
				e.clear(overKey(k))
			}
		case e.overFrom[c] == never:
			e.overFrom[c] = e.now
		case e.now >= e.overFrom[c]+overPatience:
			e.alarm(overKey(k), e.placeOf(c), fmt.Sprintf("may carry up to %v of %v", w, limit),
				"lower the wall, or find out what the outputs on it stand at")
		}
	}
}

func overKey(k *rig.Conductor) string { return "over " + k.Kind.String() + " " + k.Name }

func (e *Engine) overDeadlines(at func(Instant)) {
	for _, from := range e.overFrom {
		if from != never {
			at(from + overPatience)
		}
	}
}

// codeOf gives the finding code of a conductor that is over.
func (e *Engine) codeOf(c int) finding.Code {
	switch e.conductors[c].Kind {
	case rig.CircuitWire:
		return finding.CircuitOver
	case rig.CableWire, rig.FeederWire:
		return finding.CableOver
	case rig.BoardLeg, rig.SupplyLeg:
		return finding.LegOver
	default:
		return finding.NeutralOver
	}
}
