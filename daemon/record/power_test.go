package record_test

import (
	"math/rand/v2"
	"path/filepath"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/daemon/record"
)

// sector is the largest piece that a disk writes whole, in bytes.
const sector = 512

// platter models a disk behind a cache: what was flushed is safe; of what was not, a power cut leaves any sectors in any order. Names are safe.
type platter struct {
	mu    sync.Mutex
	files map[string]*platterFile
	saw   func(record.Op) // called before each operation, with the lock held
}

type platterFile struct {
	safe    []byte
	pending []record.Op
}

func (p *platter) ask(op record.Op) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.saw != nil {
		p.saw(op)
	}
	name := filepath.Base(op.File)
	f := p.files[name]
	if f == nil {
		f = &platterFile{}
		p.files[name] = f
	}
	switch op.Kind {
	case record.OpWrite, record.OpTruncate:
		op.Data = append([]byte(nil), op.Data...)
		f.pending = append(f.pending, op)
	case record.OpFlush:
		for _, done := range f.pending {
			f.safe = apply(f.safe, done)
		}
		f.pending = nil
	case record.OpDelete:
		delete(p.files, name)
	}
	return nil
}

func apply(to []byte, op record.Op) []byte {
	if op.Kind == record.OpTruncate {
		return append(to, make([]byte, max(0, int(op.Offset)-len(to)))...)[:op.Offset]
	}
	end := int(op.Offset) + len(op.Data)
	to = append(to, make([]byte, max(0, end-len(to)))...)
	copy(to[op.Offset:end], op.Data)
	return to
}

// cut returns what a file holds after a power cut now. How much of the cache has reached the disk differs from cut to cut: none, all, or some.
func (f *platterFile) cut(r *rand.Rand) []byte {
	left := append([]byte(nil), f.safe...)
	share := []float64{0, 0.1, 0.5, 0.9, 1}[r.IntN(5)]
	for _, op := range f.pending {
		if op.Kind == record.OpTruncate {
			if r.Float64() < share {
				left = apply(left, op)
			}
			continue
		}
		for from := 0; from < len(op.Data); from += sector {
			if r.Float64() < share {
				left = apply(left, record.Op{Kind: record.OpWrite, Offset: op.Offset + int64(from), Data: op.Data[from:min(from+sector, len(op.Data))]})
			}
		}
	}
	return left
}

func (p *platter) image(r *rand.Rand) (im image) {
	im.db = p.files["record.db"].cut(r)
	if wal := p.files["record.db-wal"]; wal != nil {
		im.wal = wal.cut(r)
	}
	return im
}

// The power goes at many moments of many commits, also while the log is copied back: what was told as kept is there, whole, and at most the one
// batch that was under way besides.
func TestPowerCutAnywhere(t *testing.T) {
	dir := scratch(t)
	s := open(t, dir, record.Options{})
	epoch, err := s.NewEpoch()
	require.NoError(t, err)
	require.NoError(t, s.Close())

	r := rand.New(rand.NewPCG(7, 11))
	p := &platter{files: map[string]*platterFile{"record.db": {safe: readImage(t, dir).db}}}
	s = open(t, dir, record.Options{Fault: p.ask})
	told, cuts, undecided, copying := uint64(0), 0, map[uint64]int{}, 0
	p.saw = func(op record.Op) {
		inCopy := filepath.Base(op.File) == "record.db" && op.Kind != record.OpRead
		if !inCopy && r.IntN(6) > 0 {
			return
		}
		cuts++
		if inCopy {
			copying++
		}
		after := openImage(t, p.image(r))
		n := whole(t, after)
		require.NoError(t, after.Close())
		require.GreaterOrEqual(t, n, told, "a batch that was told as kept is gone")
		require.LessOrEqual(t, n, told+1)
		undecided[n-told]++
	}
	for n := uint64(1); n <= 400; n++ {
		require.NoError(t, s.Commit(batch(epoch, n)))
		p.mu.Lock()
		told = n
		p.mu.Unlock()
		require.NoError(t, s.Checkpoint(700))
	}
	t.Logf("%d cuts, %d of them while the log was copied back; the batch under way was there %d times", cuts, copying, undecided[1])
	require.Greater(t, copying, 20)
	require.Greater(t, undecided[0], 20)
	require.Greater(t, undecided[1], 5)
}

// The test above is one that can fail: a disk that says it has flushed and has not loses what was told as kept.
func TestPowerCutOnADiskThatLies(t *testing.T) {
	dir := scratch(t)
	s := open(t, dir, record.Options{})
	epoch, err := s.NewEpoch()
	require.NoError(t, err)
	require.NoError(t, s.Close())
	p := &platter{files: map[string]*platterFile{"record.db": {safe: readImage(t, dir).db}}}
	lie := func(op record.Op) error {
		if op.Kind == record.OpFlush {
			return nil // the model never hears of it
		}
		return p.ask(op)
	}
	s = open(t, dir, record.Options{Fault: lie})
	commit(t, s, epoch, 1, 5)
	p.mu.Lock()
	im := image{db: p.files["record.db"].safe, wal: p.files["record.db-wal"].safe}
	p.mu.Unlock()
	require.Zero(t, whole(t, openImage(t, im)))
}
