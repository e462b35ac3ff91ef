package daemon

import (
	"encoding/json"
	"fmt"
	"strconv"
	"time"

	"lookgate/daemon/record"
	"lookgate/presets"
	"lookgate/presets/engine"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// journal turns every input into a row, with the mark of the digest after it, so that a replay sees at which input it went another way.
type journal struct {
	epoch  uint64
	seq    uint64
	inputs uint64 // of this incarnation
	sum    digest
}

func newJournal(epoch, lastSeq uint64) journal { return journal{epoch: epoch, seq: lastSeq} }

// line is the payload of a journal row.
type line struct {
	Epoch uint64          `json:"epoch"`
	Now   engine.Instant  `json:"now"` // nanoseconds since the incarnation's start
	In    json.RawMessage `json:"in"`
	Sum   string          `json:"sum"`
}

// row gives the row of one step. An input that cannot be written has none: the missing number says so.
func (j *journal) row(at engine.Instant, in engine.Input, res *engine.Result) []record.JournalRow {
	j.seq++
	j.inputs++
	kind, raw, err := encode(in)
	j.sum = j.sum.after(at, raw, res)
	if err != nil {
		return nil
	}
	// A line, put together here: to have it marshalled again, raw and all, takes as long as the step that it tells of.
	payload := fmt.Appendf(make([]byte, 0, len(raw)+100), `{"epoch":%d,"now":%d,"in":%s,"sum":%q}`, j.epoch, int64(at), raw, j.sum.mark())
	return []record.JournalRow{{Seq: j.seq, At: time.Now().UTC(), Kind: kind, Payload: payload}}
}

// float is a number as stations and devices send it: also one that JSON has no word for comes back as it was.
type float float64

// MarshalJSON writes what JSON has no number for as a word.
func (f float) MarshalJSON() ([]byte, error) {
	text := strconv.FormatFloat(float64(f), 'g', -1, 64)
	if !units.Finite(f) {
		text = strconv.Quote(text)
	}
	return []byte(text), nil
}

// UnmarshalJSON reads both.
func (f *float) UnmarshalJSON(text []byte) error {
	if len(text) > 1 && text[0] == '"' {
		text = text[1 : len(text)-1]
	}
	n, err := strconv.ParseFloat(string(text), 64)
	*f = float(n)
	return err
}

// commandLine, reportLine and reloadLine are inputs as the journal has them. Their fields stand before those of the same name inside.
type commandLine struct {
	engine.Command
	Level float `json:"level,omitempty"`
	Stops float `json:"stops,omitempty"`
}

type reportLine struct {
	engine.Report
	Levels []float `json:"levels"`
}

type reloadLine struct {
	Command  commandLine `json:"command"`
	Problems []string    `json:"problems,omitempty"`
	Plan     *planLine   `json:"plan,omitempty"`
}

// planLine is a whole plan: the power model is made of it again. With it the journal stands for itself, also after the site was edited.
type planLine struct {
	Rig  *rig.Rig      `json:"rig"`
	Book *presets.Book `json:"book"`
}

func lineOf(c engine.Command) commandLine {
	return commandLine{Command: c, Level: float(c.Level), Stops: float(c.Stops)}
}

func (c commandLine) command() engine.Command {
	out := c.Command
	out.Level, out.Stops = units.Level(c.Level), units.Stops(c.Stops)
	return out
}

// encode gives an input's kind and its JSON.
func encode(in engine.Input) (kind string, raw []byte, err error) {
	var v any = in
	switch in := in.(type) {
	case engine.Command:
		kind, v = "command", lineOf(in)
	case engine.Report:
		levels := make([]float, len(in.Levels))
		for i, l := range in.Levels {
			levels[i] = float(l)
		}
		kind, v = "report", reportLine{in, levels}
	case engine.Written:
		kind = "written"
	case engine.Dropped:
		kind = "dropped"
	case engine.Committed:
		kind = "committed"
	case engine.CommitFailed:
		kind = "commit-failed"
	case engine.Reload:
		l := reloadLine{Command: lineOf(in.Command), Problems: in.Problems}
		if in.Plan != nil {
			l.Plan = &planLine{in.Plan.Rig, in.Plan.Book}
		}
		kind, v = "reload", l
	case engine.Tick:
		kind = "tick"
	default:
		return "", nil, fmt.Errorf("the journal does not know a %T", in)
	}
	raw, err = json.Marshal(v)
	return kind, raw, err
}

// decode is the way back. The settings of a reload are the incarnation's.
func decode(kind string, raw []byte, set engine.Settings) (engine.Input, error) {
	switch kind {
	case "command":
		var c commandLine
		err := json.Unmarshal(raw, &c)
		return c.command(), err
	case "report":
		var r reportLine
		err := json.Unmarshal(raw, &r)
		r.Report.Levels = make([]units.Level, len(r.Levels))
		for i, l := range r.Levels {
			r.Report.Levels[i] = units.Level(l)
		}
		return r.Report, err
	case "written":
		return into[engine.Written](raw)
	case "dropped":
		return into[engine.Dropped](raw)
	case "committed":
		return into[engine.Committed](raw)
	case "commit-failed":
		return into[engine.CommitFailed](raw)
	case "tick":
		return engine.Tick{}, nil
	case "reload":
		var l reloadLine
		err := json.Unmarshal(raw, &l)
		in := engine.Reload{Command: l.Command.command(), Problems: l.Problems, Settings: set}
		if l.Plan != nil && err == nil {
			in.Plan = presets.NewPlan(l.Plan.Rig, l.Plan.Book)
		}
		return in, err
	}
	return nil, fmt.Errorf("there is no kind of input %q", kind)
}

func into[T engine.Input](raw []byte) (engine.Input, error) {
	var in T
	err := json.Unmarshal(raw, &in)
	return in, err
}
