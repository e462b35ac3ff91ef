package daemon_test

import (
	"math"
	"slices"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/daemon"
	"lookgate/daemon/daemontest"
	"lookgate/daemon/record"
	"lookgate/presets/engine"
	"lookgate/presets/finding"
	"lookgate/protocols"
)

// onDisk gives options for a stage on a real record in dir, whose disk fails as fault says.
func onDisk(dir string, fault func(record.Op) error) func(*daemon.Options) {
	return func(o *daemon.Options) {
		o.StateDir = dir
		o.OpenStore = func(dir string) (daemon.Store, error) { return record.Open(dir, record.Options{Fault: fault}) }
	}
}

func reopened(t *testing.T, dir string) *record.Store {
	t.Helper()
	s, err := record.Open(dir, record.Options{})
	require.NoError(t, err)
	t.Cleanup(func() { _ = s.Close() })
	return s
}

func TestARealRecordHoldsTheIncarnationsAndReplays(t *testing.T) {
	dir := t.TempDir()
	for i := range 2 {
		s := daemontest.New(t, func(o *daemon.Options) { o.StateDir, o.OpenStore = dir, nil }) // as a daemon opens it by itself
		require.NoError(t, s.Start())
		daemontest.Confirmed(t, s)
		require.EqualValues(t, i+1, s.Epoch())
		if i == 1 {
			require.Equal(t, 2, s.View().Look.Preset)
			require.True(t, slices.ContainsFunc(s.Record(100), lineWith("command", `recall 2 "left"`)), "the record's end is not there after a restart")
		}
		on(t, s, 1)
		on(t, s, 2)
		require.NoError(t, s.Stop())
	}
	store := reopened(t, dir)
	require.NoError(t, store.VerifyChain())
	for epoch := range uint64(2) {
		got, err := daemon.Replay(store, epoch+1)
		require.NoError(t, err)
		require.Zero(t, got.Differs)
		require.Zero(t, got.Missing)
		rows, err := store.Tail(math.MaxInt32)
		require.NoError(t, err)
		require.True(t, slices.ContainsFunc(rows, func(r record.RecordRow) bool {
			return r.Kind == record.Note && strings.Contains(string(r.Payload), "digest "+got.Digest)
		}), "the digest of epoch %d is not the one that was noted", epoch+1)
	}
}

func TestAFullDiskStopsRaisingAndTheRecordStaysWhole(t *testing.T) {
	dir := t.TempDir()
	var full atomic.Bool
	s := daemontest.New(t, onDisk(dir, func(op record.Op) error {
		if full.Load() && (op.Kind == record.OpWrite || op.Kind == record.OpFlush) {
			return syscall.ENOSPC
		}
		return nil
	}))
	require.NoError(t, s.Start())
	daemontest.Confirmed(t, s)
	on(t, s, 1)
	full.Store(true)
	a := daemontest.Order(s, recall(2)).Answer(t)
	require.Equal(t, engine.Failed, a.Status)
	require.Equal(t, finding.DiskFailed, a.Findings[0].Code)
	require.Contains(t, a.Findings[0].Sentence, "the disk is full")
	require.NotContains(t, a.Findings[0].Sentence, dir, "a station is told a path")
	require.Equal(t, engine.On, daemontest.Order(s, dark).Outcome(t).End)
	full.Store(false)
	daemontest.Until(t, s, "a disk that is well", func(v *engine.View) bool { return v.DiskSick == "" })
	on(t, s, 3)
	require.NoError(t, s.Stop())

	store := reopened(t, dir)
	require.NoError(t, store.VerifyChain())
	rows, err := store.Tail(math.MaxInt32)
	require.NoError(t, err)
	require.True(t, slices.ContainsFunc(rows, func(r record.RecordRow) bool { return r.Kind == record.Gap }))
	require.True(t, slices.ContainsFunc(rows, func(r record.RecordRow) bool { return r.Kind == record.Answer && r.ID == a.ID }))
	got, err := daemon.Replay(store, 0)
	require.NoError(t, err)
	require.Zero(t, got.Differs+got.Missing)
}

func TestWhatWasToldAsFailedIsNotKept(t *testing.T) {
	dir := t.TempDir()
	var sick atomic.Bool
	s := daemontest.New(t, onDisk(dir, func(op record.Op) error {
		if sick.Load() && op.Kind == record.OpWrite {
			return syscall.EIO
		}
		return nil
	}))
	require.NoError(t, s.Start())
	daemontest.Confirmed(t, s)
	sick.Store(true)
	require.Equal(t, engine.Failed, daemontest.Order(s, recall(2)).Answer(t).Status)
	require.ErrorContains(t, s.Stop(), "the newest rows are not in the record")
	sick.Store(false)
	store := reopened(t, dir)
	require.NoError(t, store.VerifyChain())
	kept, err := store.Load()
	require.NoError(t, err)
	require.NotContains(t, string(kept.Wanted), `"preset":2`, "a look that was told as failed is kept")
}

func TestADiskThatIsAwayForLongGrowsNothingAndTheHoleIsCounted(t *testing.T) {
	site := &reader{problems: []string{strings.Repeat("x", 1<<20)}}
	bubble(t, reloading(site), func(t *testing.T, s *daemontest.Stage) {
		on(t, s, 2)
		s.Store.Set(func(st *daemontest.Store) { st.OnWrite = func(*record.Kept) error { return syscall.ENOSPC } })
		for range 30 { // an input and an answer of a megabyte each
			require.Equal(t, engine.Refused, daemontest.Reload(s, "panel").Answer(t).Status)
		}
		require.Equal(t, engine.On, daemontest.Order(s, dark).Outcome(t).End)
		size := 0
		s.Store.Set(func(st *daemontest.Store) { st.OnWrite = nil })
		before := len(s.Store.Rows())
		<-time.After(5 * time.Second)
		synctest.Wait()
		for _, r := range s.Store.Rows()[before:] {
			size += len(r.Payload)
		}
		require.Less(t, size, 40<<20, "everything was kept in memory")
		require.Greater(t, size, 10<<20)
		gaps := slices.DeleteFunc(s.Record(500), func(l protocols.Line) bool { return l.Kind != "gap" })
		require.Len(t, gaps, 1)
		require.Regexp(t, `^nothing could be written for \d+\.\d s \(.*\); [1-9]\d+ lines and [1-9]\d+ inputs of the journal are missing$`, gaps[0].Text)
		on(t, s, 1)
		got, err := daemon.Replay(s.Store, 0)
		require.NoError(t, err)
		require.NotZero(t, got.Missing, "a replay went over the hole")
		require.Zero(t, got.Differs)
	})
}

// TestTheJournalOfAQuietHour says how much a daemon writes when nothing happens, so that nobody makes it write more without seeing it.
func TestTheJournalOfAQuietHour(t *testing.T) {
	bubble(t, nil, func(t *testing.T, s *daemontest.Stage) {
		on(t, s, 1)
		rows, bytes := len(s.Store.Journal()), 0
		<-time.After(time.Hour)
		synctest.Wait()
		journal := s.Store.Journal()[rows:]
		for _, r := range journal {
			bytes += len(r.Payload)
		}
		t.Logf("%d inputs, %d bytes of payload", len(journal), bytes)
		require.Less(t, len(journal), 3*2*1800+100, "more than a tick, a write and a report for each question to two devices")
		require.Less(t, bytes, 3<<20)
	})
}
