package daemon

import (
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"lookgate/daemon/record"
	"lookgate/presets"
	"lookgate/presets/engine"
)

// beginning is the snapshot of a start: all that the engine was made of.
type beginning struct {
	Begins   bool            `json:"begins"`
	Epoch    uint64          `json:"epoch"`
	Plan     *planLine       `json:"plan"`
	Settings engine.Settings `json:"settings"`
	Kept     *engine.Kept    `json:"kept"`
}

// introduce writes down what the incarnation begins with. Where that cannot be written the incarnation cannot be replayed, and runs all the same.
func (l *loop) introduce(store Store, kept *engine.Kept) {
	plan, set := l.daemon.options.Plan, l.daemon.options.Settings
	l.chronicle.note(fmt.Sprintf("started: epoch %d, site %s, watch mode %v", l.epoch, plan.Rig.Name, set.Watch))
	state, err := json.Marshal(beginning{true, l.epoch, &planLine{plan.Rig, plan.Book}, set, kept})
	if err == nil {
		err = store.Snapshot(record.Snapshot{Seq: l.journal.seq, At: time.Now().UTC(), State: state})
	}
	if err != nil {
		l.chronicle.note("this incarnation cannot be replayed: " + causeOf(err))
	}
}

// History is what a replay reads; [*record.Store] is one.
type History interface {
	Snapshots() ([]uint64, error)
	ReadSnapshot(seq uint64) (record.Snapshot, bool, error)
	ReadJournal(from uint64, each func(record.JournalRow) error) error
}

var _ History = (*record.Store)(nil)

// Replayed is what came of a replay.
type Replayed struct {
	Epoch   uint64
	Inputs  uint64 // that were replayed
	Digest  string // over all inputs and results, as the note of the stop has it
	Differs uint64 // number of the journal row after which the engine did otherwise than then, or whose input is not what it was; 0 for none
	Missing uint64 // number of the first row that is not there, where the replay ended; 0 for none
}

// ErrNoBeginning says that the journal does not hold the start of the incarnation.
var ErrNoBeginning = errors.New("the journal does not hold the beginning of that incarnation")

// Replay feeds the inputs of one incarnation to a fresh engine, and compares what it does with what was done, input by input. Epoch 0 is the newest incarnation. Nothing but
// the journal is read: it holds the plan that the incarnation began with and every one that it reloaded.
func Replay(h History, epoch uint64) (Replayed, error) {
	begin, seq, err := findBeginning(h, epoch)
	if err != nil {
		return Replayed{}, err
	}
	p := player{out: Replayed{Epoch: begin.Epoch}, begin: begin, journal: newJournal(begin.Epoch, seq)}
	p.engine = engine.New(presets.NewPlan(begin.Plan.Rig, begin.Plan.Book), begin.Settings, begin.Kept, begin.Epoch)
	err = h.ReadJournal(seq+1, p.play)
	if errors.Is(err, errPlayed) {
		err = nil
	}
	p.out.Inputs, p.out.Digest = p.journal.inputs, p.journal.sum.String()
	return p.out, err
}

func findBeginning(h History, epoch uint64) (beginning, uint64, error) {
	seqs, err := h.Snapshots()
	if err != nil {
		return beginning{}, 0, err
	}
	for i := len(seqs) - 1; i >= 0; i-- {
		snap, ok, err := h.ReadSnapshot(seqs[i])
		if err != nil {
			return beginning{}, 0, err
		}
		if !ok || epoch != 0 && snap.Epoch != epoch {
			continue
		}
		var b beginning
		if err := json.Unmarshal(snap.State, &b); err != nil {
			return beginning{}, 0, fmt.Errorf("snapshot %d does not read: %w", snap.Seq, err)
		}
		if b.Begins && b.Plan != nil && b.Plan.Rig != nil && b.Plan.Book != nil {
			return b, snap.Seq, nil
		}
		epoch = snap.Epoch // the newest incarnation may have places to prune to after its beginning
	}
	return beginning{}, 0, ErrNoBeginning
}

var errPlayed = errors.New("played")

// player is a replay under way.
type player struct {
	out     Replayed
	begin   beginning
	engine  *engine.Engine
	journal journal
}

// play takes one row. It ends at the next incarnation, and at the first row that is missing.
func (p *player) play(r record.JournalRow) error {
	var l line
	if err := json.Unmarshal(r.Payload, &l); err != nil {
		return fmt.Errorf("journal row %d does not read: %w", r.Seq, err)
	}
	if l.Epoch != p.begin.Epoch {
		return errPlayed
	}
	if r.Seq != p.journal.seq+1 {
		p.out.Missing = p.journal.seq + 1
		return errPlayed
	}
	in, err := decode(r.Kind, l.In, p.begin.Settings)
	if err != nil {
		return fmt.Errorf("journal row %d does not read: %w", r.Seq, err)
	}
	res := p.engine.Step(l.Now, in)
	p.journal.seq++
	p.journal.inputs++
	p.journal.sum = p.journal.sum.after(l.Now, l.In, &res)
	if p.out.Differs == 0 && p.journal.sum.mark() != l.Sum {
		p.out.Differs = r.Seq
	}
	return nil
}
