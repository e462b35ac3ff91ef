package record_test

import (
	"errors"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/daemon/record"
)

// inputs appends journal rows with the numbers from and to and between, each n seconds after the start.
func inputs(t *testing.T, s *record.Store, from, to uint64) {
	t.Helper()
	var rows []record.JournalRow
	for n := from; n <= to; n++ {
		rows = append(rows, record.JournalRow{Seq: n, At: start.Add(time.Duration(n) * time.Second), Kind: "tick", Payload: fmt.Appendf(nil, "%d", n)})
	}
	require.NoError(t, s.Append(rows, nil))
}

func snapshot(t *testing.T, s *record.Store, seq uint64) {
	t.Helper()
	require.NoError(t, s.Snapshot(record.Snapshot{Seq: seq, At: start, State: fmt.Appendf(nil, `{"n":%d}`, seq), Digest: fmt.Sprint("d", seq)}))
}

func journal(t *testing.T, s *record.Store) (seqs []uint64) {
	t.Helper()
	require.NoError(t, s.ReadJournal(0, func(r record.JournalRow) error {
		require.Equal(t, fmt.Sprint(r.Seq), string(r.Payload))
		seqs = append(seqs, r.Seq)
		return nil
	}))
	return seqs
}

func TestReadJournalFromAPlaceAcrossBlocks(t *testing.T) {
	s, _ := opened(t)
	inputs(t, s, 1, 999)
	inputs(t, s, 1003, 1700) // three inputs could not be kept
	seqs := journal(t, s)
	require.Len(t, seqs, 1697)
	require.EqualValues(t, 1003, seqs[999])
	stop := errors.New("enough")
	seen := 0
	err := s.ReadJournal(1000, func(r record.JournalRow) error {
		require.EqualValues(t, 1003+seen, r.Seq)
		if seen++; seen == 600 {
			return stop
		}
		_, err := s.Tail(1) // the store may be used meanwhile
		return err
	})
	require.ErrorIs(t, err, stop)
	require.Equal(t, 600, seen)
}

func TestSnapshotsSayWhichIncarnationTookThem(t *testing.T) {
	s, dir := opened(t)
	inputs(t, s, 1, 5)
	snapshot(t, s, 3)
	snapshot(t, s, 5)
	require.NoError(t, s.Close())
	s = open(t, dir, record.Options{})
	_, err := s.NewEpoch()
	require.NoError(t, err)
	require.EqualValues(t, 5, s.LastJournal())
	snapshot(t, s, 5) // a restart without any input in between
	seqs, err := s.Snapshots()
	require.NoError(t, err)
	require.Equal(t, []uint64{3, 5}, seqs)
	for seq, epoch := range map[uint64]uint64{3: 1, 5: 2} {
		snap, ok, err := s.ReadSnapshot(seq)
		require.NoError(t, err)
		require.True(t, ok)
		require.Equal(t, record.Snapshot{Seq: seq, At: start, Epoch: epoch, State: fmt.Appendf(nil, `{"n":%d}`, seq), Digest: fmt.Sprint("d", seq)}, snap)
	}
	_, ok, err := s.ReadSnapshot(4)
	require.NoError(t, err)
	require.False(t, ok)
	require.ErrorIs(t, s.Snapshot(record.Snapshot{Seq: 6, At: start, State: []byte("{")}), record.ErrInvalid)
}

func TestPrune(t *testing.T) {
	second := func(n int) time.Time { return start.Add(time.Duration(n) * time.Second) }
	tests := []struct {
		name      string
		snapshots []uint64
		keep      record.Keep
		first     uint64 // oldest row left, of 2000
		left      []uint64
	}{
		{"no bound", []uint64{0, 900}, record.Keep{}, 1, []uint64{0, 900}},
		{"no snapshot", nil, record.Keep{Rows: 10}, 1, nil},
		{"by count, down to the snapshot before the bound", []uint64{0, 900, 1500}, record.Keep{Rows: 700}, 901, []uint64{900, 1500}},
		{"by count, just at a snapshot", []uint64{0, 900, 1500}, record.Keep{Rows: 500}, 1501, []uint64{1500}},
		{"by count, just before a snapshot", []uint64{0, 900, 1500}, record.Keep{Rows: 501}, 901, []uint64{900, 1500}},
		{"never past the newest snapshot", []uint64{0, 900, 1500}, record.Keep{Rows: 1}, 1501, []uint64{1500}},
		{"by age", []uint64{0, 900, 1500}, record.Keep{Since: second(1000)}, 901, []uint64{900, 1500}},
		{"by age, all too old", []uint64{0, 900}, record.Keep{Since: second(5000)}, 901, []uint64{900}},
		{"by age, none too old", []uint64{0, 900}, record.Keep{Since: second(1)}, 1, []uint64{0, 900}},
		{"by both, the narrower bound", []uint64{0, 900, 1500}, record.Keep{Rows: 1900, Since: second(1600)}, 1501, []uint64{1500}},
		{"a snapshot after the last row", []uint64{2000}, record.Keep{Rows: 1}, 0, []uint64{2000}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s, dir := opened(t)
			commit(t, s, 1, 1, 1)
			inputs(t, s, 2, 2000)
			for _, n := range tt.snapshots {
				snapshot(t, s, n)
			}
			if tt.name == "a snapshot after the last row" {
				tt.keep.Since = second(3000)
			}
			want := 2000
			if tt.first > 0 {
				want = int(tt.first) - 1
			}
			n, err := s.Prune(tt.keep)
			require.NoError(t, err)
			require.Equal(t, want, n)
			n, err = s.Prune(tt.keep)
			require.NoError(t, err)
			require.Zero(t, n, "a second time finds nothing")
			var left []uint64
			require.NoError(t, s.ReadJournal(0, func(r record.JournalRow) error { left = append(left, r.Seq); return nil }))
			require.Len(t, left, 2000-want)
			if tt.first > 0 {
				require.Equal(t, tt.first, left[0])
			}
			seqs, err := s.Snapshots()
			require.NoError(t, err)
			require.Equal(t, tt.left, seqs)
			rows, err := s.Tail(10)
			require.NoError(t, err)
			require.Len(t, rows, 2, "the record is kept")

			require.NoError(t, s.Close())
			s = open(t, dir, record.Options{})
			require.EqualValues(t, 2000, s.LastJournal(), "numbers do not begin again")
			require.NoError(t, s.VerifyChain())
		})
	}
}

// A clock that was set back must not make the rows behind it look old.
func TestPruneByAgeWithAClockSetBack(t *testing.T) {
	s, _ := opened(t)
	at := []int{100, 101, 102, 10, 11, 103}
	for i, sec := range at {
		require.NoError(t, s.Append([]record.JournalRow{{Seq: uint64(i + 1), At: start.Add(time.Duration(sec) * time.Second), Kind: "tick"}}, nil))
		snapshot(t, s, uint64(i+1))
	}
	n, err := s.Prune(record.Keep{Since: start.Add(101 * time.Second)})
	require.NoError(t, err)
	require.Equal(t, 1, n)
}
