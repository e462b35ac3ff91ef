package daemon

import (
	"math"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/require"

	"lookgate/presets/engine"
	"lookgate/presets/finding"
)

// told collects the answers that came at once, in the orderer's own goroutine.
type told struct{ answers []engine.Answer }

func (k *told) tell(a *engine.Answer, _ *engine.Outcome) { k.answers = append(k.answers, *a) }

func many(n int, c engine.Command) []engine.Command {
	cs := make([]engine.Command, n)
	for i := range cs {
		cs[i] = c
	}
	return cs
}

var (
	aQuery    = engine.Command{Station: "desk", Verb: engine.Query}
	aBlackout = engine.Command{Station: "panel", Verb: engine.Blackout}
	aRelease  = engine.Command{Station: "panel", Verb: engine.Blackout, Off: true}
)

func count(items []entry, is func(entry) bool) int {
	n := 0
	for _, e := range items {
		if is(e) {
			n++
		}
	}
	return n
}

func TestTheInboxHasAnEndAndABlackoutAlwaysFindsAPlace(t *testing.T) {
	b := newInbox(1)
	b.begin(7)
	k := &told{}
	ids := b.order(many(maxCommands, aQuery), k.tell)
	require.EqualValues(t, 7<<32+1, ids[0])
	require.EqualValues(t, 7<<32+maxCommands, ids[len(ids)-1])
	b.order(many(10, aRelease), k.tell) // no lowering: it has no reserve
	b.order(many(darkReserve+50, aBlackout), k.tell)
	require.Empty(t, k.answers)

	items, _ := b.take(nil)
	require.Equal(t, 10+50, count(items, func(e entry) bool { return e.errand == apology }), "ten that found no place, and fifty that a blackout took it from")
	require.Equal(t, darkReserve+50, count(items, func(e entry) bool { return e.errand == feed && isBlackout(e.input) }), "a blackout was turned away")
	require.Equal(t, apology, items[0].errand, "not the oldest gave its place")
	require.Equal(t, feed, items[50].errand)
	for i := 1; i < len(items); i++ {
		require.GreaterOrEqual(t, items[i].at, items[i-1].at)
	}
}

func TestAFloodOfAnythingIsBoundedAndAnswered(t *testing.T) {
	b := newInbox(1)
	k := &told{}
	for range 20 {
		b.order(many(1000, aQuery), k.tell)
		b.order(many(1000, aBlackout), k.tell)
	}
	for range 1000 {
		b.report(0, engine.Report{})
	}
	items, _ := b.take(nil)
	require.LessOrEqual(t, len(items), maxCommands+darkReserve+maxOwed+maxReports)
	commands := count(items, func(e entry) bool { _, ok := e.input.(engine.Command); return ok })
	require.Equal(t, 40_000, commands+len(k.answers), "a command has no answer")
	for _, a := range k.answers {
		require.Equal(t, engine.Failed, a.Status)
		require.Equal(t, finding.Busy, a.Findings[0].Code)
	}
	require.Equal(t, maxReports, count(items, func(e entry) bool { _, ok := e.input.(engine.Report); return ok }))
	last := items[len(items)-1-maxReports]
	require.True(t, isBlackout(last.input) && last.errand == feed, "the newest blackout is not there")
}

func TestOneBatchStaysTogetherAndResultsKeepTheirPlace(t *testing.T) {
	b := newInbox(1)
	k := &told{}
	b.post(engine.Written{Write: 1})
	b.order([]engine.Command{aQuery, aBlackout, {Verb: engine.ReloadSite}}, k.tell)
	b.post(engine.Written{Write: 2})
	items, now := b.take(nil)
	require.Len(t, items, 5)
	require.Equal(t, engine.Written{Write: 1}, items[0].input)
	require.Equal(t, reread, items[3].errand)
	require.Equal(t, engine.Written{Write: 2}, items[4].input)
	require.Equal(t, items[1].at, items[3].at)
	require.LessOrEqual(t, items[4].at, now)
	again, _ := b.take(items)
	require.Empty(t, again)
	require.Nil(t, items[0].input, "a list that is used again still holds what was in it")
}

func TestAClosedInboxAnswers(t *testing.T) {
	b := newInbox(1)
	k := &told{}
	b.order(many(3, aQuery), k.tell)
	require.Len(t, b.close(), 3)
	b.order([]engine.Command{aBlackout}, k.tell)
	b.post(engine.Tick{})
	b.report(0, engine.Report{})
	items, _ := b.take(nil)
	require.Empty(t, items)
	require.Len(t, k.answers, 1)
	require.Equal(t, "lookgate is stopping", k.answers[0].Findings[0].Sentence)
}

func TestWordsThatTheRecordWouldNotTakeAreMadeFit(t *testing.T) {
	for name, bad := range map[string]string{"long": strings.Repeat("ä", 5000), "not utf-8": "a\xff\xfeb", "cut in a rune": strings.Repeat("a", maxWord-1) + "ä"} {
		t.Run(name, func(t *testing.T) {
			c := clean(engine.Command{Station: bad, Target: bad, Verb: engine.Verb(bad)})
			for _, w := range []string{c.Station, c.Target, string(c.Verb)} {
				require.True(t, utf8.ValidString(w))
				require.LessOrEqual(t, len(w), maxWord+2)
			}
		})
	}
	fine := engine.Command{ID: 3, Station: "desk", Verb: engine.Recall, Target: "Dämmerung", Level: 0.5, HasLevel: true}
	require.Equal(t, fine, clean(fine))
}

func TestEveryInputComesBackFromTheJournalAsItWas(t *testing.T) {
	nan := engine.Command{ID: 1, Station: "desk", Verb: engine.Level}
	nan.Level = nan.Level / nan.Level
	huge := engine.Command{ID: 2, Station: "desk", Verb: engine.StepBy, Stops: 1}
	huge.Stops /= 0.0 * huge.Stops
	rows := map[string]engine.Input{
		"command":       engine.Command{ID: 1 << 40, Station: "desk", Engineer: true, Verb: engine.Recall, Preset: 12, Target: "<night & day>", Level: 0.1, HasLevel: true, Off: true},
		"not a number":  nan,
		"infinite":      huge,
		"report":        engine.Report{Device: 1, Number: 9, Levels: nil, Black: []bool{true, false}, Picture: engine.Picture{Layout: 3, Mode: 1}},
		"written":       engine.Written{Write: 4},
		"dropped":       engine.Dropped{Write: 5},
		"committed":     engine.Committed{Batch: 6},
		"commit failed": engine.CommitFailed{Batch: 7, Cause: "the disk is full"},
		"tick":          engine.Tick{},
		"reload":        engine.Reload{Command: engine.Command{ID: 3, Verb: engine.ReloadSite}, Problems: []string{"rig.yaml:1:2: so it is"}},
	}
	for name, in := range rows {
		t.Run(name, func(t *testing.T) {
			kind, raw, err := encode(in)
			require.NoError(t, err)
			out, err := decode(kind, raw, engine.Settings{})
			require.NoError(t, err)
			again, same, err := encode(out)
			require.NoError(t, err)
			require.Equal(t, kind, again)
			require.Equal(t, string(raw), string(same))
			if c, ok := in.(engine.Command); ok {
				got := out.(engine.Command)
				require.Equal(t, math.Float64bits(float64(c.Stops)), math.Float64bits(float64(got.Stops)))
				require.Equal(t, c.Level != c.Level, got.Level != got.Level)
			}
		})
	}
	_, _, err := encode(nil)
	require.Error(t, err)
	_, err = decode("other", nil, engine.Settings{})
	require.Error(t, err)
}

func TestTheDigestTellsEverythingApart(t *testing.T) {
	res := func() *engine.Result {
		return &engine.Result{Answers: []engine.Answer{{ID: 1, Status: engine.Accepted}}, Actions: []engine.Action{{Kind: engine.Commit, Kept: &engine.Kept{Epoch: 1}}}}
	}
	base := digest{}.after(5, []byte("in"), res())
	require.Equal(t, base, digest{}.after(5, []byte("in"), res()))
	changes := map[string]func() digest{
		"time":   func() digest { return digest{}.after(6, []byte("in"), res()) },
		"input":  func() digest { return digest{}.after(5, []byte("im"), res()) },
		"before": func() digest { return digest{1}.after(5, []byte("in"), res()) },
		"answer": func() digest {
			r := res()
			r.Answers[0].Status = engine.Refused
			return digest{}.after(5, []byte("in"), r)
		},
		"kept":     func() digest { r := res(); r.Actions[0].Kept.Epoch = 2; return digest{}.after(5, []byte("in"), r) },
		"no kept":  func() digest { r := res(); r.Actions[0].Kept = nil; return digest{}.after(5, []byte("in"), r) },
		"deadline": func() digest { r := res(); r.Next = 1; return digest{}.after(5, []byte("in"), r) },
		"level":    func() digest { r := res(); r.Actions[0].Level = 1e-300; return digest{}.after(5, []byte("in"), r) },
	}
	for name, change := range changes {
		require.NotEqual(t, base, change(), name)
	}
}
