package daemon

import (
	"context"
	"log/slog"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets/engine"
)

func level(id engine.WriteID, output int, lowering bool) engine.Action {
	return engine.Action{Kind: engine.SendLevel, Write: id, Output: output, Lowering: lowering}
}

func idle() *worker { return newWorker("proc1", nil, newInbox(1), slog.New(slog.DiscardHandler)) }

func TestASlotHoldsTheNewestAndLoweringGoesFirst(t *testing.T) {
	w := idle()
	for _, a := range []engine.Action{
		{Kind: engine.Ask, Write: 1, Output: -1},
		level(2, 0, false),
		{Kind: engine.SendPicture, Write: 3, Output: -1},
		level(4, 1, true),
		{Kind: engine.SendBlack, Write: 5, Output: 0, Black: true, Lowering: true},
	} {
		_, replaced := w.put(a)
		require.False(t, replaced)
	}
	old, replaced := w.put(level(6, 0, true))
	require.True(t, replaced)
	require.EqualValues(t, 2, old)

	var order []engine.WriteID
	for a, ok := w.next(); ok; a, ok = w.next() {
		order = append(order, a.Write)
	}
	require.Equal(t, []engine.WriteID{6, 4, 5, 3, 1}, order)
}

func TestAQuestionIsNotPutOffForEver(t *testing.T) {
	w := idle()
	w.put(engine.Action{Kind: engine.Ask, Write: 1, Output: -1})
	asked := -1
	for i := range 100 {
		w.put(level(engine.WriteID(2*i+2), 0, false))
		w.put(level(engine.WriteID(2*i+3), 1, false))
		if a, _ := w.next(); a.Kind == engine.Ask {
			asked = i
			break
		}
	}
	require.Equal(t, patience, asked)
}

func TestAValueThatChangesOftenKeepsItsPlaceInTheRow(t *testing.T) {
	w := idle()
	w.put(level(1, 0, false))
	w.put(level(2, 1, false))
	w.put(level(3, 0, false))
	a, _ := w.next()
	require.EqualValues(t, 3, a.Write)
}

// loud is a device that must never be written to.
type loud struct{ t *testing.T }

func (d loud) Name() string                   { return "proc1" }
func (d loud) Open(func(engine.Report)) error { d.t.Error("opened in watch mode"); return nil }
func (d loud) Close() error                   { return nil }
func (d loud) Write(context.Context, engine.Action) error {
	d.t.Error("written to in watch mode")
	return nil
}

func TestInWatchModeTheWorkersSendNothingWhateverTheEngineSays(t *testing.T) {
	b := newInbox(1)
	w := newWorker("proc1", loud{t}, b, slog.New(slog.DiscardHandler))
	ws := &workers{watch: true, inbox: b, list: []*worker{w}}
	ws.start()
	ws.put(level(7, 0, true))
	items, _ := b.take(nil)
	require.Len(t, items, 1)
	require.Equal(t, engine.Dropped{Write: 7}, items[0].input)
	_, waits := w.next()
	require.False(t, waits)
	ws.stop()
}

func TestAFailingDeviceIsLoggedAsOftenAsPeopleCanRead(t *testing.T) {
	lines := 0
	w := newWorker("proc1", nil, newInbox(1), slog.New(counting{&lines}))
	for range 1000 {
		w.complain(level(1, 0, false), context.DeadlineExceeded)
	}
	require.Equal(t, 1, lines)
	require.Equal(t, 999, w.unlogged)
	w.silent = time.Now().Add(-time.Second)
	w.complain(level(1, 0, false), context.DeadlineExceeded)
	require.Equal(t, 2, lines)
}

// counting counts log lines.
type counting struct{ n *int }

func (c counting) Enabled(context.Context, slog.Level) bool  { return true }
func (c counting) Handle(context.Context, slog.Record) error { *c.n++; return nil }
func (c counting) WithAttrs([]slog.Attr) slog.Handler        { return c }
func (c counting) WithGroup(string) slog.Handler             { return c }
