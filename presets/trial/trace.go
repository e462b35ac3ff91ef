package trial

import (
	"fmt"
	"math"
	"time"

	"lookgate/presets/engine"
	"lookgate/presets/plant"
	"lookgate/presets/units"
)

// trace is a hash over all events in order (FNV-1a, 64 bits), and their story where somebody wants to read it.
type trace struct {
	sum   uint64
	tell  bool
	lines []string
}

func newTrace(tell bool) trace { return trace{sum: 14695981039346656037, tell: tell} }

// mix takes numbers into the hash.
func (t *trace) mix(ns ...uint64) {
	for _, n := range ns {
		for range 8 {
			t.sum = (t.sum ^ n&0xff) * 1099511628211
			n >>= 8
		}
	}
}

func (t *trace) text(s string) {
	for i := range len(s) {
		t.sum = (t.sum ^ uint64(s[i])) * 1099511628211
	}
}

// word takes an event: a time, what it is, numbers for the hash; the line for people is only made where they want it.
func (t *trace) word(at time.Duration, what string, line func() string, ns ...uint64) {
	t.mix(uint64(at))
	t.text(what)
	t.mix(ns...)
	if t.tell {
		t.lines = append(t.lines, fmt.Sprintf("%11.4f  %-14s %s", at.Seconds(), what, line()))
	}
}

func bits(l units.Level) uint64 { return math.Float64bits(float64(l)) }

func flag(b bool) uint64 {
	if b {
		return 1
	}
	return 0
}

func (t *trace) plant(e plant.Entry) {
	p := e.Packet
	t.word(e.At, "plant", e.String, uint64(e.What), uint64(e.Index), uint64(p.Kind), uint64(p.Output), bits(p.Level), flag(p.Black), p.Number)
}

func (t *trace) report(at time.Duration, p plant.Report) {
	t.word(at, "report", func() string { return fmt.Sprintf("%+v", p) }, uint64(p.Device), p.Number)
	for i, l := range p.Levels {
		t.mix(bits(l), flag(p.Black[i]))
	}
}

func (t *trace) input(at time.Duration, in engine.Input) {
	switch in := in.(type) {
	case engine.Command:
		t.word(at, "command", func() string { return commandLine(in) }, in.ID, bits(in.Level), uint64(in.Preset), math.Float64bits(float64(in.Stops)), flag(in.Off))
		t.text(string(in.Verb) + in.Target)
	case engine.Reload:
		t.word(at, "reload", func() string { return fmt.Sprint(in.Problems) }, in.Command.ID)
	case engine.Written:
		t.word(at, "written", func() string { return fmt.Sprint(in.Write) }, uint64(in.Write))
	case engine.Dropped:
		t.word(at, "dropped", func() string { return fmt.Sprint(in.Write) }, uint64(in.Write))
	case engine.Committed:
		t.word(at, "committed", func() string { return fmt.Sprint(in.Batch) }, in.Batch)
	case engine.CommitFailed:
		t.word(at, "commit failed", func() string { return fmt.Sprint(in.Batch) }, in.Batch)
	case engine.Report: // The plant's side of it is in the trace already.
	default:
		t.mix(uint64(at))
	}
}

// commandLine prints a command as a person would say it.
func commandLine(c engine.Command) string {
	s := fmt.Sprintf("%d %s: %s", c.ID, c.Station, c.Verb)
	if c.Preset != 0 {
		s += fmt.Sprintf(" %d", c.Preset)
	}
	if c.Part != "" {
		s += " " + string(c.Part)
	}
	if c.Target != "" {
		s += fmt.Sprintf(" %q", c.Target)
	}
	if c.HasLevel || c.Verb == engine.Level || c.Verb == engine.ZoneLevel {
		s += fmt.Sprintf(" %v", c.Level)
	}
	if c.Verb == engine.StepBy {
		s += fmt.Sprintf(" %v", c.Stops)
	}
	if c.Off {
		s += " off"
	}
	return s
}

func (t *trace) answer(at time.Duration, a engine.Answer) {
	t.word(at, "answer", func() string {
		s := fmt.Sprintf("%d %s", a.ID, a.Status)
		for _, f := range a.Findings {
			s += fmt.Sprintf("; %s %s %s", f.Code, f.Place.Name, f.Sentence)
		}
		return s
	}, a.ID, uint64(len(a.Findings)))
	t.text(string(a.Status))
}

func (t *trace) outcome(at time.Duration, o engine.Outcome) {
	t.word(at, "outcome", func() string { return fmt.Sprintf("%d %s %s after %v, short %v", o.ID, o.Verb, o.End, o.Took, o.Short) }, o.ID, uint64(o.Took))
	t.text(string(o.End))
}

func (t *trace) action(at time.Duration, a engine.Action) {
	t.word(at, "action", func() string {
		if a.Kind == engine.Commit {
			return fmt.Sprintf("commit %d for command %d", a.Batch, a.Kept.Command)
		}
		s := fmt.Sprintf("write %d to device %d: %v", a.Write, a.Device, packetOf(a))
		if a.Lowering {
			s += " (lowering)"
		}
		return s
	}, uint64(a.Kind), uint64(a.Write), uint64(a.Output), bits(a.Level), flag(a.Black), a.Number, a.Batch, flag(a.Lowering))
}

func (t *trace) event(at time.Duration, e engine.Event) {
	t.word(at, e.Kind, func() string { return fmt.Sprintf("%s %s: %s", e.Place.Kind, e.Place.Name, e.Sentence) })
	t.text(e.Key)
}

// packetOf gives the packet that an action becomes on the wire.
func packetOf(a engine.Action) plant.Packet {
	kinds := [...]plant.Kind{engine.SendLevel: plant.SetLevel, engine.SendBlack: plant.SetBlack, engine.SendPicture: plant.SetPicture, engine.Ask: plant.Ask}
	return plant.Packet{Kind: kinds[a.Kind], Device: a.Device, Output: max(a.Output, 0), Level: a.Level, Black: a.Black, Picture: plant.Picture(a.Picture), Number: a.Number}
}
