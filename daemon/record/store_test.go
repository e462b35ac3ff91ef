package record_test

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/ncruces/go-sqlite3"
	"github.com/stretchr/testify/require"

	"lookgate/daemon/record"
)

// start is the time of the first row; row n comes n seconds later.
var start = time.Date(2031, 3, 4, 5, 6, 7, 123456789, time.UTC)

const outputs = 12

func open(t *testing.T, dir string, opts record.Options) *record.Store {
	t.Helper()
	s, err := record.Open(dir, opts)
	require.NoError(t, err)
	t.Cleanup(func() { _ = s.Close() })
	return s
}

// scratch is a folder whose flushes cost nothing, where there is one: these tests commit thousands of times, and what a flush does is either not
// their question or modelled. The tests that kill processes use a real disk.
func scratch(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("/dev/shm", "lookgate-record-")
	if err != nil {
		return t.TempDir()
	}
	t.Cleanup(func() { _ = os.RemoveAll(dir) })
	return dir
}

// opened returns a store that has begun its first epoch.
func opened(t *testing.T) (s *record.Store, dir string) {
	t.Helper()
	dir = scratch(t)
	s = open(t, dir, record.Options{})
	_, err := s.NewEpoch()
	require.NoError(t, err)
	return s, dir
}

// level is what every output of batch n is kept at.
func level(n uint64) float64 { return float64(n%101) / 100 }

func wanted(n uint64) json.RawMessage { return fmt.Appendf(nil, `{"preset":%d}`, n) }

// batch n says n in every table that it touches, so that a mixture of two batches cannot pass for one.
func batch(epoch, n uint64) record.Batch {
	at := start.Add(time.Duration(n) * time.Second)
	b := record.Batch{
		Record: []record.RecordRow{
			{At: at, Kind: record.Command, ID: n, Station: "desk", Verb: "recall", Payload: wanted(n)},
			{At: at, Kind: record.Answer, ID: n, Station: "desk", Verb: "recall"},
		},
		Kept:    record.Kept{Epoch: epoch, Command: n, Wanted: wanted(n)},
		Journal: []record.JournalRow{{Seq: n, At: at, Kind: "command", Payload: wanted(n)}},
	}
	for i := range outputs {
		b.Kept.Outputs = append(b.Kept.Outputs, record.OutputRow{Name: fmt.Sprintf("out %02d", i), Envelope: level(n), Flags: uint32(n)})
	}
	return b
}

func commit(t *testing.T, s *record.Store, epoch, from, to uint64) {
	t.Helper()
	for n := from; n <= to; n++ {
		require.NoError(t, s.Commit(batch(epoch, n)))
	}
}

// whole checks that the store holds the batches 1 to some n, each whole, with nothing of another, and returns n. Rows without an id may follow.
func whole(t *testing.T, s *record.Store) (n uint64) {
	t.Helper()
	require.NoError(t, s.VerifyChain())
	k, err := s.Load()
	require.NoError(t, err)
	n = k.Command
	if n == 0 {
		require.Nil(t, k.Wanted)
		require.Empty(t, k.Outputs)
	} else {
		require.Equal(t, batch(k.Epoch, n).Kept, k)
	}
	var last uint64
	require.NoError(t, s.ReadJournal(0, func(r record.JournalRow) error { last = r.Seq; return nil }))
	require.Equal(t, n, last, "journal and kept state are of different batches")
	rows, err := s.Tail(math.MaxInt32)
	require.NoError(t, err)
	commands := uint64(0)
	for _, r := range rows {
		if r.Kind == record.Command {
			commands++
			require.Equal(t, commands, r.ID)
		}
		if r.Kind == record.Answer {
			require.Equal(t, commands, r.ID, "a command without its answer")
		}
	}
	require.Equal(t, n, commands, "record and kept state are of different batches")
	return n
}

func TestAFreshStoreIsEmptyAndStaysWhatItBecomes(t *testing.T) {
	s, dir := opened(t)
	require.Zero(t, whole(t, s))
	commit(t, s, 1, 1, 30)
	require.EqualValues(t, 30, whole(t, s))
	require.EqualValues(t, 30, s.LastJournal())
	seq, hash := s.Head()
	require.EqualValues(t, 60, seq)
	require.NoError(t, s.Close())

	s = open(t, dir, record.Options{})
	require.EqualValues(t, 30, whole(t, s))
	require.EqualValues(t, 30, s.LastJournal())
	again, same := s.Head()
	require.Equal(t, seq, again)
	require.Equal(t, hash, same)
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	for _, e := range entries {
		require.NotContains(t, e.Name(), ".new", "the file that it was built in")
		require.NotContains(t, e.Name(), "-shm", "a mapped file, which a full disk turns into a crash")
	}
}

func TestRowsComeBackAsTheyWere(t *testing.T) {
	s, _ := opened(t)
	given := []record.RecordRow{
		{At: start, Kind: record.Command, ID: math.MaxInt64, Station: "Pult Süd ★", Verb: "recall", Payload: json.RawMessage(`{ "a" : [1, 2.50, "ä\u0000"] }`)},
		{At: start.Add(-time.Hour), Kind: record.Alarm, Payload: json.RawMessage(`"\ud83d"`), Station: "nul \x00 inside"},
		{At: time.Unix(0, math.MinInt64+1<<60).UTC(), Kind: record.Gap},
	}
	require.NoError(t, s.Append([]record.JournalRow{{Seq: 7, At: start, Kind: "tick"}}, given))
	got, err := s.Tail(3)
	require.NoError(t, err)
	require.Len(t, got, 3)
	for i, r := range got {
		require.EqualValues(t, i+1, r.Seq)
		require.Equal(t, given[i].At, r.At)
		require.Equal(t, given[i].Kind, r.Kind)
		require.Equal(t, given[i].ID, r.ID)
		require.Equal(t, given[i].Station, r.Station)
		if given[i].Payload != nil {
			require.Equal(t, string(given[i].Payload), string(r.Payload), "byte for byte: the hash is over the bytes")
		}
	}
	require.Equal(t, "null", string(got[2].Payload))
	require.NoError(t, s.VerifyChain())
	require.NoError(t, s.ReadJournal(0, func(r record.JournalRow) error {
		require.Equal(t, record.JournalRow{Seq: 7, At: start, Kind: "tick", Payload: json.RawMessage("null")}, r)
		return nil
	}))
}

func TestBetweenTakesTimesNotPlaces(t *testing.T) {
	s, _ := opened(t)
	commit(t, s, 1, 1, 10)
	// A clock that was set back: the row comes last in the record and lies in the middle of the time.
	require.NoError(t, s.Append(nil, []record.RecordRow{{At: start.Add(4 * time.Second), Kind: record.Note}}))
	rows, err := s.Between(start.Add(3*time.Second), start.Add(5*time.Second), 100)
	require.NoError(t, err)
	seqs := []uint64{}
	for _, r := range rows {
		seqs = append(seqs, r.Seq)
	}
	require.Equal(t, []uint64{5, 6, 7, 8, 21}, seqs)
	rows, err = s.Between(start.Add(3*time.Second), start.Add(5*time.Second), 2)
	require.NoError(t, err)
	require.Len(t, rows, 2)
	rows, err = s.Tail(-1)
	require.NoError(t, err)
	require.Empty(t, rows)
}

func TestKeptIsReplacedWhole(t *testing.T) {
	s, dir := opened(t)
	commit(t, s, 1, 1, 1)
	b := batch(1, 2)
	b.Kept.Outputs = []record.OutputRow{{Name: "z", Envelope: 1}, {Name: "out 03", Envelope: 0.1 + 0.2, Flags: math.MaxUint32}}
	require.NoError(t, s.Commit(b))
	want := []record.OutputRow{{Name: "out 03", Envelope: 0.1 + 0.2, Flags: math.MaxUint32}, {Name: "z", Envelope: 1}}
	k, err := s.Load()
	require.NoError(t, err)
	require.Equal(t, want, k.Outputs)
	require.Equal(t, "z", b.Kept.Outputs[0].Name, "the caller's slice is not put in order under it")
	require.NoError(t, s.Close())
	k, err = open(t, dir, record.Options{}).Load()
	require.NoError(t, err)
	require.Equal(t, want, k.Outputs)
}

func TestEveryIncarnationHasAHigherEpoch(t *testing.T) {
	dir := scratch(t)
	for want := uint64(1); want <= 4; want++ {
		s := open(t, dir, record.Options{})
		epoch, err := s.NewEpoch()
		require.NoError(t, err)
		require.Equal(t, want, epoch)
		commit(t, s, epoch, want, want)
		k, err := s.Load()
		require.NoError(t, err)
		require.Equal(t, want, k.Epoch)
		require.NoError(t, s.Close())
	}
}

func TestABatchOfAnEarlierIncarnationIsRefused(t *testing.T) {
	s, _ := opened(t)
	commit(t, s, 1, 1, 3)
	epoch, err := s.NewEpoch()
	require.NoError(t, err)
	require.EqualValues(t, 2, epoch)
	require.ErrorIs(t, s.Commit(batch(1, 4)), record.ErrStale)
	require.ErrorIs(t, s.Commit(batch(3, 4)), record.ErrStale, "nor one of an epoch that never began")
	commit(t, s, 2, 4, 4)
	require.EqualValues(t, 4, whole(t, s))
}

// While one store is open, nobody else reads, writes or locks the file; nothing of another program can make a commit wait.
func TestTheStoreHasTheFileForItself(t *testing.T) {
	s, dir := opened(t)
	commit(t, s, 1, 1, 3)
	_, err := record.Open(dir, record.Options{})
	require.ErrorIs(t, err, record.ErrBusy)
	require.Len(t, strings.Split(err.Error(), "\n"), 2, "%s", err)
	c, err := sqlite3.OpenFlags(filepath.Join(dir, "record.db"), sqlite3.OPEN_READWRITE)
	require.NoError(t, err)
	require.ErrorIs(t, c.Exec("SELECT count(*) FROM record"), sqlite3.BUSY)
	require.NoError(t, c.Close())
	commit(t, s, 1, 4, 4)
	require.NoError(t, s.Close())
	require.EqualValues(t, 4, whole(t, open(t, dir, record.Options{})))
}

// The tail in memory and the tail on disk are the same, whichever answers.
func TestTailFromMemoryAndFromDisk(t *testing.T) {
	s, dir := opened(t)
	commit(t, s, 1, 1, 700) // 1400 rows, of which memory holds 1000
	require.NoError(t, s.Append(nil, []record.RecordRow{{At: start.In(time.FixedZone("", 3600)), Kind: record.Note, Payload: json.RawMessage(`"` + strings.Repeat("x", 5<<20) + `"`)}}))
	require.NoError(t, s.Append(nil, []record.RecordRow{{At: start, Kind: record.Note, Payload: json.RawMessage(`"` + strings.Repeat("y", 5<<20) + `"`)}}))
	all, err := s.Tail(5000)
	require.NoError(t, err)
	require.Len(t, all, 1402)
	for _, n := range []int{0, 1, 2, 3, 700, 999, 1000, 1001, 1402} {
		rows, err := s.Tail(n)
		require.NoError(t, err)
		require.Len(t, rows, n)
		require.Equal(t, all[len(all)-n:], append([]record.RecordRow{}, rows...), "the newest %d", n)
	}
	require.NoError(t, s.Close())
	s = open(t, dir, record.Options{TailCheck: 10})
	for _, n := range []int{1, 10, 11, 1402} {
		rows, err := s.Tail(n)
		require.NoError(t, err)
		require.Equal(t, all[len(all)-n:], rows, "the newest %d after a restart", n)
	}
}

// What the caller does with its bytes afterwards changes nothing.
func TestTheTailKeepsItsOwnBytes(t *testing.T) {
	s, _ := opened(t)
	payload := []byte(`"before"`)
	require.NoError(t, s.Append(nil, []record.RecordRow{{At: start, Kind: record.Note, Payload: payload}}))
	copy(payload, `"after!"`)
	rows, err := s.Tail(1)
	require.NoError(t, err)
	require.Equal(t, `"before"`, string(rows[0].Payload))
}

// While the disk hangs in a commit, the newest rows that were told as kept are there at once.
func TestTailAndHeadDoNotWaitForTheDisk(t *testing.T) {
	hanging, release := make(chan struct{}), make(chan struct{})
	var hang atomic.Bool
	s := open(t, scratch(t), record.Options{Fault: func(op record.Op) error {
		if op.Kind == record.OpFlush && hang.CompareAndSwap(true, false) {
			close(hanging)
			<-release
		}
		return nil
	}})
	epoch, err := s.NewEpoch()
	require.NoError(t, err)
	commit(t, s, epoch, 1, 3)
	hang.Store(true)
	committed := make(chan error)
	go func() { committed <- s.Commit(batch(epoch, 4)) }()
	<-hanging
	rows, err := s.Tail(2) // would never return if it waited
	require.NoError(t, err)
	require.EqualValues(t, 3, rows[0].ID)
	seq, _ := s.Head()
	require.EqualValues(t, 6, seq)
	close(release)
	require.NoError(t, <-committed)
	require.EqualValues(t, 4, whole(t, s))
}

func TestWhatTheStoreDoesNotTake(t *testing.T) {
	change := func(do func(*record.Batch)) record.Batch {
		b := batch(1, 2)
		do(&b)
		return b
	}
	tests := []struct {
		name string
		b    record.Batch
	}{
		{"payload that is no JSON", change(func(b *record.Batch) { b.Record[1].Payload = json.RawMessage(`{`) })},
		{"payload that is empty and not nil", change(func(b *record.Batch) { b.Record[1].Payload = json.RawMessage{} })},
		{"payload that is no UTF-8", change(func(b *record.Batch) { b.Record[1].Payload = json.RawMessage("\"\xff\"") })},
		{"payload beyond the limit", change(func(b *record.Batch) { b.Journal[0].Payload = json.RawMessage(`"` + strings.Repeat("x", 16<<20) + `"`) })},
		{"kind missing", change(func(b *record.Batch) { b.Record[0].Kind = "" })},
		{"station beyond the limit", change(func(b *record.Batch) { b.Record[0].Station = strings.Repeat("x", 1025) })},
		{"station that is no UTF-8", change(func(b *record.Batch) { b.Record[0].Station = "\xc0" })},
		{"id beyond SQLite's integers", change(func(b *record.Batch) { b.Record[0].ID = 1 << 63 })},
		{"time missing", change(func(b *record.Batch) { b.Record[0].At = time.Time{} })},
		{"journal number not higher", change(func(b *record.Batch) { b.Journal[0].Seq = 1 })},
		{"journal number not higher within", change(func(b *record.Batch) { b.Journal = append(b.Journal, b.Journal[0]) })},
		{"output without a name", change(func(b *record.Batch) { b.Kept.Outputs[0].Name = "" })},
		{"output twice", change(func(b *record.Batch) { b.Kept.Outputs[0].Name = "out 01" })},
		{"envelope that is no number", change(func(b *record.Batch) { b.Kept.Outputs[0].Envelope = math.NaN() })},
		{"envelope above full", change(func(b *record.Batch) { b.Kept.Outputs[0].Envelope = 1.0000001 })},
		{"envelope below nothing", change(func(b *record.Batch) { b.Kept.Outputs[0].Envelope = -0.1 })},
		{"wanted that is no JSON", change(func(b *record.Batch) { b.Kept.Wanted = json.RawMessage(`nul`) })},
	}
	s, _ := opened(t)
	commit(t, s, 1, 1, 1)
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			require.ErrorIs(t, s.Commit(tt.b), record.ErrInvalid)
			require.EqualValues(t, 1, whole(t, s))
		})
	}
	commit(t, s, 1, 2, 2)
	require.EqualValues(t, 2, whole(t, s))
}

func TestAClosedStoreSaysSo(t *testing.T) {
	s, _ := opened(t)
	require.NoError(t, s.Close())
	require.NoError(t, s.Close(), "a second call does nothing")
	calls := map[string]func() error{
		"commit":      func() error { return s.Commit(batch(1, 1)) },
		"append":      func() error { return s.Append(nil, []record.RecordRow{{At: start, Kind: record.Note}}) },
		"snapshot":    func() error { return s.Snapshot(record.Snapshot{At: start, State: json.RawMessage("{}")}) },
		"epoch":       func() error { _, err := s.NewEpoch(); return err },
		"load":        func() error { _, err := s.Load(); return err },
		"between":     func() error { _, err := s.Between(start, start, 1); return err },
		"verify":      s.VerifyChain,
		"journal":     func() error { return s.ReadJournal(0, nil) },
		"snapshots":   func() error { _, err := s.Snapshots(); return err },
		"a snapshot":  func() error { _, _, err := s.ReadSnapshot(1); return err },
		"prune":       func() error { _, err := s.Prune(record.Keep{Rows: 1}); return err },
		"append none": func() error { return s.Append(nil, nil) },
	}
	delete(calls, "append none") // nothing to write is no error, closed or not
	for name, call := range calls {
		t.Run(name, func(t *testing.T) { require.ErrorIs(t, call(), record.ErrClosed) })
	}
}

// Readers run beside the writer and see only whole batches.
func TestReadersBesideTheWriter(t *testing.T) {
	s, _ := opened(t)
	commit(t, s, 1, 1, 1)
	done := make(chan struct{})
	problems := make(chan error, 4)
	var readers sync.WaitGroup
	watch := func(look func() error) {
		readers.Go(func() {
			for {
				select {
				case <-done:
					return
				default:
				}
				if err := look(); err != nil {
					problems <- err
					return
				}
			}
		})
	}
	watch(func() error {
		k, err := s.Load()
		if err == nil && (string(k.Wanted) != string(wanted(k.Command)) || k.Outputs[0].Envelope != level(k.Command) || k.Outputs[outputs-1].Flags != uint32(k.Command)) {
			err = fmt.Errorf("a mixture: %+v", k)
		}
		return err
	})
	watch(func() error {
		rows, err := s.Tail(5)
		if err == nil && (rows[len(rows)-1].Kind != record.Answer || rows[len(rows)-1].Seq != rows[0].Seq+uint64(len(rows))-1) {
			err = fmt.Errorf("a hole: %+v", rows)
		}
		return err
	})
	watch(s.VerifyChain)
	for n := uint64(2); n <= 300; n++ {
		if err := s.Commit(batch(1, n)); err != nil {
			problems <- err
			break
		}
	}
	close(done)
	readers.Wait()
	select {
	case err := <-problems:
		require.NoError(t, err)
	default:
	}
	require.EqualValues(t, 300, whole(t, s))
}
