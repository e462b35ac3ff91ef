package daemon

import (
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"lookgate/daemon/record"
	"lookgate/presets"
	"lookgate/presets/engine"
)

// How much of what stations send the record lists. It is kept for ever, so nobody may fill it: a level control that moves is listed when it starts, when its verdict
// changes and when it rests; of everything else so many commands a second, and how many more there were.
const (
	restAfter  = 500 * time.Millisecond
	maxStreams = 256
	listRate   = 50 // commands a second
	listBurst  = 1000
	gapWait    = time.Second
)

// row is one line of the record with the words that people read.
type row struct {
	record.RecordRow
	text string
}

// chronicle makes the rows of the record. It belongs to the loop.
type chronicle struct {
	plan     *presets.Plan // names the presets
	rows     []row
	gated    []row // commands that wait for the disk: a line and what it decided come to disk together, or neither does
	streams  map[string]*stream
	unlisted map[uint64]*stream // commands that were not listed, and the stream that they belong to, until their outcome; nil for no stream
	tokens   float64
	filled   engine.Instant // when tokens were last added
	missing  int            // commands that were not listed and not told yet
	gapAt    engine.Instant
}

// stream is a level control that moves: commands of one station, verb and target with the same verdict.
type stream struct {
	key     string
	verdict string
	until   engine.Instant // at rest then
	skipped int
	last    uint64 // the newest command
	held    []row  // its rows
}

func newChronicle(p *presets.Plan) *chronicle {
	return &chronicle{plan: p, streams: map[string]*stream{}, unlisted: map[uint64]*stream{}, tokens: listBurst}
}

// take gives the rows that were made since the last time, with those that wait for a commit if they go with one.
func (c *chronicle) take(committing bool) []row {
	rows := c.rows
	c.rows = nil
	if committing && len(c.gated) > 0 {
		rows, c.gated = append(c.gated, rows...), nil
	}
	return rows
}

// step writes down what one step took and gave.
func (c *chronicle) step(at engine.Instant, in engine.Input, res *engine.Result) {
	answers := res.Answers
	switch in := in.(type) {
	case engine.Command:
		answers = c.command(at, in, answers)
	case engine.Reload:
		answers = c.command(at, in.Command, answers)
	}
	for i := range answers {
		c.rows = append(c.rows, answerRow(&answers[i]))
	}
	for i := range res.Outcomes {
		c.outcome(&res.Outcomes[i])
	}
	for i := range res.Events {
		c.rows = append(c.rows, eventRow(&res.Events[i]))
	}
}

// command writes down a command with its answer, if it has one yet; without one it waits for the disk, and so does its row. It gives the answers that are not its own.
func (c *chronicle) command(at engine.Instant, cmd engine.Command, answers []engine.Answer) (others []engine.Answer) {
	i := slices.IndexFunc(answers, func(a engine.Answer) bool { return a.ID == cmd.ID })
	if i < 0 {
		c.gated = append(c.gated, c.commandRow(cmd, "; decided, and waits for this line to be on disk"))
		return answers
	}
	own := &answers[i]
	others = slices.Delete(slices.Clone(answers), i, i+1)
	rows := []row{c.commandRow(cmd, ""), answerRow(own)}
	switch {
	case c.streamed(at, cmd, own, rows):
	case !c.room(at):
		c.missing++
		c.gapAt = at + gapWait
		c.skip(own, nil)
	default:
		c.rows = append(c.rows, rows...)
	}
	return others
}

// streamed reports whether the command is one in the middle of a stream, and holds its rows if so.
func (c *chronicle) streamed(at engine.Instant, cmd engine.Command, own *engine.Answer, rows []row) bool {
	if cmd.Verb != engine.Level && cmd.Verb != engine.ZoneLevel && cmd.Verb != engine.StepBy {
		return false
	}
	key := fmt.Sprintf("%q %s %q", cmd.Station, cmd.Verb, cmd.Target)
	verdict := verdictOf(own)
	s := c.streams[key]
	if s != nil && s.verdict == verdict {
		s.until, s.last, s.held = at+restAfter, cmd.ID, rows
		s.skipped++
		c.skip(own, s)
		return true
	}
	if s != nil {
		c.close(s)
	}
	if len(c.streams) < maxStreams {
		c.streams[key] = &stream{key: key, verdict: verdict, until: at + restAfter}
	}
	return false
}

func verdictOf(a *engine.Answer) string {
	v := string(a.Status)
	for _, f := range a.Findings {
		v += " " + string(f.Code)
	}
	return v
}

// skip remembers that the outcome of a command is not listed either.
func (c *chronicle) skip(a *engine.Answer, s *stream) {
	if a.Status == engine.Accepted {
		c.unlisted[a.ID] = s
	}
}

// close lists where a stream came to rest.
func (c *chronicle) close(s *stream) {
	delete(c.streams, s.key)
	if len(s.held) == 0 {
		return
	}
	delete(c.unlisted, s.last) // an outcome that is still to come is listed
	if s.skipped > 1 {
		s.held[0].text += fmt.Sprintf(" (at rest; %d before it are not listed)", s.skipped-1)
		s.held[0].Payload = reword(s.held[0])
	}
	c.rows = append(c.rows, s.held...)
}

func (c *chronicle) outcome(o *engine.Outcome) {
	r := outcomeRow(o)
	s, unlisted := c.unlisted[o.ID]
	delete(c.unlisted, o.ID)
	switch {
	case !unlisted:
		c.rows = append(c.rows, r)
	case s != nil && s.last == o.ID:
		s.held = append(s.held, r)
	}
}

// room takes a token, if there is one.
func (c *chronicle) room(at engine.Instant) bool {
	c.tokens = min(listBurst, c.tokens+(at-c.filled).Seconds()*listRate)
	c.filled = at
	if c.tokens < 1 {
		return false
	}
	c.tokens--
	return true
}

// rest closes the streams that have come to rest, and tells how many commands were not listed.
func (c *chronicle) rest(now engine.Instant) {
	var done []*stream
	for _, s := range c.streams {
		if s.until <= now {
			done = append(done, s)
		}
	}
	slices.SortFunc(done, func(a, b *stream) int { return int(int64(a.last) - int64(b.last)) })
	for _, s := range done {
		c.close(s)
	}
	if c.missing > 0 && c.gapAt <= now {
		c.rows = append(c.rows, newRow(record.Gap, fmt.Sprintf("%d commands are not listed: more came than %d a second", c.missing, listRate), payload{}))
		c.missing = 0
	}
}

// next gives when rest has something to do.
func (c *chronicle) next() (at engine.Instant, any bool) {
	at = never
	for _, s := range c.streams {
		at = min(at, s.until)
	}
	if c.missing > 0 {
		at = min(at, c.gapAt)
	}
	return at, at < never
}

const never = engine.Instant(1<<63 - 1)

// note writes a line that no command and no alarm made.
func (c *chronicle) note(text string) { c.rows = append(c.rows, newRow(record.Note, text, payload{})) }

// payload is what a row holds besides its words.
type payload struct {
	Text    string          `json:"text"`
	Command *commandLine    `json:"command,omitempty"`
	Answer  *engine.Answer  `json:"answer,omitempty"`
	Outcome *engine.Outcome `json:"outcome,omitempty"`
	Event   *engine.Event   `json:"event,omitempty"`
}

func newRow(kind record.Kind, text string, p payload) row {
	p.Text = text
	r := row{record.RecordRow{At: time.Now().UTC(), Kind: kind}, text}
	var err error
	if r.Payload, err = json.Marshal(p); err != nil {
		// A number that JSON has no word for: the words still have it.
		r.Payload, _ = json.Marshal(payload{Text: text})
	}
	return r
}

// reword puts a row's new words into its payload.
func reword(r row) json.RawMessage {
	var p payload
	if json.Unmarshal(r.Payload, &p) != nil {
		return r.Payload
	}
	return newRow(r.Kind, r.text, p).Payload
}

func (c *chronicle) commandRow(cmd engine.Command, more string) row {
	l := lineOf(cmd)
	r := newRow(record.Command, c.commandText(cmd)+more, payload{Command: &l})
	r.ID, r.Station, r.Verb = cmd.ID, cmd.Station, string(cmd.Verb)
	return r
}

func answerRow(a *engine.Answer) row {
	r := newRow(record.Answer, answerText(a), payload{Answer: a})
	r.ID, r.Station, r.Verb = a.ID, a.Station, string(a.Verb)
	return r
}

func outcomeRow(o *engine.Outcome) row {
	r := newRow(record.Outcome, outcomeText(o), payload{Outcome: o})
	r.ID, r.Station, r.Verb = o.ID, o.Station, string(o.Verb)
	return r
}

func eventRow(e *engine.Event) row {
	kind := map[string]record.Kind{"alarm": record.Alarm, "clear": record.Clear}[e.Kind]
	if kind == "" {
		kind = record.Note
	}
	return newRow(kind, eventText(e), payload{Event: e})
}
