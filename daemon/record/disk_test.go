package record_test

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/daemon/record"
)

// disk is a disk that can be told to fail from some operation on. The zero value works.
type disk struct {
	mu    sync.Mutex
	after int   // operations that still work; counted only while fails is set
	fails error // nil: none
	once  bool  // only one operation fails
	only  func(record.Op) bool
	hit   bool // an operation has failed
}

func (d *disk) ask(op record.Op) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.fails == nil || (d.only != nil && !d.only(op)) {
		return nil
	}
	if d.after > 0 {
		d.after--
		return nil
	}
	if d.once && d.hit {
		return nil
	}
	d.hit = true
	return d.fails
}

func (d *disk) breakAfter(n int, with error, once bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.after, d.fails, d.once, d.hit = n, with, once, false
}

// heal makes the disk work again and says whether it had failed.
func (d *disk) heal() bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.fails = nil
	return d.hit
}

// afterKill opens a copy of what the files hold now, as a process does that starts after this one was killed: the index of the log in shared memory is
// gone, and what counts is what stands in the log.
func afterKill(t *testing.T, dir string) *record.Store {
	t.Helper()
	return openImage(t, readImage(t, dir))
}

type image struct{ db, wal []byte }

func readImage(t *testing.T, dir string) (im image) {
	t.Helper()
	var err error
	im.db, err = os.ReadFile(filepath.Join(dir, "record.db"))
	require.NoError(t, err)
	im.wal, err = os.ReadFile(filepath.Join(dir, "record.db-wal"))
	if !errors.Is(err, os.ErrNotExist) {
		require.NoError(t, err)
	}
	return im
}

func openImage(t *testing.T, im image) *record.Store {
	t.Helper()
	where := scratch(t)
	require.NoError(t, os.WriteFile(filepath.Join(where, "record.db"), im.db, 0o644))
	if im.wal != nil {
		require.NoError(t, os.WriteFile(filepath.Join(where, "record.db-wal"), im.wal, 0o644))
	}
	return open(t, where, record.Options{})
}

// gap tells afterwards what could not be kept.
func gap(n uint64) []record.RecordRow {
	return []record.RecordRow{{At: start, Kind: record.Gap, Payload: fmt.Appendf(nil, `{"lost":%d}`, n)}}
}

// Every single operation of a commit fails once, and from there on for ever, with each error that a disk has. Whatever fails, a commit that said it
// failed is not there: not for readers, not after a kill, and not after the disk works again; then the store goes on as if nothing had been.
func TestEveryOperationOfACommitFails(t *testing.T) {
	for _, with := range []error{record.ErrDiskFull, errors.New("input/output error")} {
		for _, once := range []bool{true, false} {
			// Batch 3 is an ordinary commit; by batch 150 the log is full and is copied back into the database within a commit.
			for _, before := range []uint64{2, 150} {
				t.Run(fmt.Sprintf("%v, once %v, after %d", with, once, before), func(t *testing.T) {
					failOperations(t, before, with, once)
				})
			}
		}
	}
}

func failOperations(t *testing.T, before uint64, with error, once bool) {
	d := &disk{}
	dir := scratch(t)
	s := open(t, dir, record.Options{Fault: d.ask})
	epoch, err := s.NewEpoch()
	require.NoError(t, err)
	n := before
	commit(t, s, epoch, 1, n)
	failed := 0
	for ops := 0; ; ops++ {
		d.breakAfter(ops, with, once)
		err := s.Commit(batch(epoch, n+1))
		hit := d.heal()
		if err != nil {
			failed++
			want := record.ErrIO
			if errors.Is(err, record.ErrDiskFull) {
				want = record.ErrDiskFull
			}
			require.ErrorIs(t, err, want)
			require.Len(t, strings.Split(err.Error(), "\n"), 2, "%s", err)
			require.Equal(t, n, whole(t, s), "operation %d: a failed batch is visible", ops)
			require.Equal(t, n, whole(t, afterKill(t, dir)), "operation %d: a failed batch is there after a kill", ops)
			require.NoError(t, s.Append(nil, gap(n+1)), "operation %d: the disk works again", ops)
			rows, err := s.Tail(1)
			require.NoError(t, err)
			require.Equal(t, record.Gap, rows[0].Kind)
		} else {
			n++
			require.Equal(t, n, whole(t, afterKill(t, dir)), "operation %d: a batch that was told as kept is gone", ops)
		}
		if !hit {
			break
		}
	}
	t.Logf("%d commits failed", failed)
	require.Greater(t, failed, 5, "the test no longer reaches the operations of a commit")
	require.NoError(t, s.Close())
	require.Equal(t, n, whole(t, open(t, dir, record.Options{})))
}

// The log grows until it is copied back, and every operation of that copying fails once, at every commit around it.
func TestCopyingTheLogBackFails(t *testing.T) {
	d := &disk{only: func(op record.Op) bool {
		return !strings.HasSuffix(op.File, "-wal") && op.Kind != record.OpRead // what only the copying does
	}}
	dir := scratch(t)
	s := open(t, dir, record.Options{Fault: d.ask})
	epoch, err := s.NewEpoch()
	require.NoError(t, err)
	hits := 0
	for n := uint64(1); n <= 400; n++ {
		d.breakAfter(int(n)%7, errors.New("input/output error"), n%2 == 0)
		require.NoError(t, s.Commit(batch(epoch, n)), "the batch is safe in the log")
		err := s.Checkpoint(700)
		if broken := d.heal(); broken != (err != nil) {
			require.NoError(t, err)
			require.False(t, broken, "a copying that failed was not told")
		} else if broken {
			if hits++; hits%20 == 0 {
				require.Equal(t, n, whole(t, afterKill(t, dir)))
			}
		}
	}
	t.Logf("copying failed %d times", hits)
	require.Greater(t, hits, 20)
	require.NoError(t, s.Close())
	require.EqualValues(t, 400, whole(t, open(t, dir, record.Options{})))
}

func TestFailedEpochAndSnapshotChangeNothing(t *testing.T) {
	d := &disk{}
	dir := scratch(t)
	s := open(t, dir, record.Options{Fault: d.ask})
	epoch, err := s.NewEpoch()
	require.NoError(t, err)
	commit(t, s, epoch, 1, 3)
	d.breakAfter(0, record.ErrDiskFull, false)
	_, err = s.NewEpoch()
	require.ErrorIs(t, err, record.ErrDiskFull)
	require.ErrorIs(t, s.Snapshot(record.Snapshot{Seq: 9, At: start, State: []byte("{}")}), record.ErrDiskFull)
	require.ErrorIs(t, s.Append(nil, gap(1)), record.ErrDiskFull)
	d.heal()
	require.EqualValues(t, 3, s.LastJournal())
	seqs, err := s.Snapshots()
	require.NoError(t, err)
	require.Empty(t, seqs)
	commit(t, s, epoch, 4, 4)
	next, err := s.NewEpoch()
	require.NoError(t, err)
	require.Equal(t, epoch+1, next)
	require.EqualValues(t, 4, whole(t, s))
}

// A first start that fails at any operation leaves nothing that a second start stumbles over.
func TestEveryOperationOfTheFirstOpenFails(t *testing.T) {
	for ops := 0; ; ops++ {
		d := &disk{}
		d.breakAfter(ops, errors.New("input/output error"), false)
		dir := scratch(t)
		s, err := record.Open(dir, record.Options{Fault: d.ask})
		hit := d.heal()
		if err == nil {
			require.NoError(t, s.Close())
		}
		s, err = record.Open(dir, record.Options{})
		require.NoError(t, err, "operation %d", ops)
		require.Zero(t, whole(t, s))
		require.NoError(t, s.Close())
		if !hit {
			require.Greater(t, ops, 30, "the test no longer reaches the operations of a first start")
			return
		}
	}
}

// A crash leaves the log cut anywhere: what is there afterwards is the batches whose last frame came before the cut, each whole.
func TestLogCutAnywhere(t *testing.T) {
	s, dir := opened(t)
	commit(t, s, 1, 1, 4)
	ends := []int{}
	for n := uint64(5); n <= 8; n++ {
		commit(t, s, 1, n, n)
		ends = append(ends, len(readImage(t, dir).wal))
	}
	im := readImage(t, dir)
	require.Len(t, im.wal, ends[3])
	cuts := []int{}
	for at := ends[0] - 4200; at < ends[3]; at += 173 {
		cuts = append(cuts, at)
	}
	for _, end := range ends {
		cuts = append(cuts, end-1, end, end-4096, end-4096-1, end-4096-24, end-4096-25)
	}
	for _, at := range cuts {
		if at > len(im.wal) {
			continue
		}
		want := uint64(4)
		for i, end := range ends {
			if end <= at {
				want = uint64(5 + i)
			}
		}
		cut := openImage(t, image{im.db, im.wal[:at]})
		require.Equal(t, want, whole(t, cut), "cut at %d of %d", at, len(im.wal))
		require.NoError(t, cut.Commit(batch(1, want+1)), "it goes on from there")
		require.NoError(t, cut.Close())
	}
}

// A log in which bits have flipped or sectors are blank counts up to the damage, in whole batches.
func TestLogDamagedAnywhere(t *testing.T) {
	s, dir := opened(t)
	commit(t, s, 1, 1, 8)
	im := readImage(t, dir)
	r := rand.New(rand.NewPCG(1, 2))
	fewer := 0
	for i := range 200 {
		wal := append([]byte(nil), im.wal...)
		at := r.IntN(len(wal))
		if i%2 == 0 {
			wal[at] ^= 1 << r.IntN(8)
		} else {
			sector := at / 512 * 512
			clear(wal[sector:min(sector+512, len(wal))])
		}
		n := whole(t, openImage(t, image{im.db, wal}))
		require.LessOrEqual(t, n, uint64(8))
		if n < 8 {
			fewer++
		}
	}
	t.Logf("%d of 200 damages cost batches", fewer)
	require.Greater(t, fewer, 100, "checksums of the log are not looked at")
}
