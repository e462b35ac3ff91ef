package record_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/daemon/record"
)

// BenchmarkCommit is the transaction of a command that raises: journal row, command and answer, kept state. All outputs change, or one.
func BenchmarkCommit(b *testing.B) {
	for _, changing := range []int{0, outputs} {
		b.Run(fmt.Sprintf("%d of %d outputs change", changing, outputs), func(b *testing.B) {
			s, err := record.Open(b.TempDir(), record.Options{})
			require.NoError(b, err)
			defer s.Close()
			epoch, err := s.NewEpoch()
			require.NoError(b, err)
			n := uint64(0)
			for b.Loop() {
				n++
				next := batch(epoch, n)
				for i := range outputs - changing {
					next.Kept.Outputs[i].Envelope, next.Kept.Outputs[i].Flags = 1, 0
				}
				require.NoError(b, s.Commit(next))
			}
		})
	}
}

// BenchmarkAppend is what nobody waits for: 1 or 50 inputs at once.
func BenchmarkAppend(b *testing.B) {
	for _, rows := range []int{1, 50} {
		b.Run(fmt.Sprintf("%d rows", rows), func(b *testing.B) {
			s, err := record.Open(b.TempDir(), record.Options{})
			require.NoError(b, err)
			defer s.Close()
			seq := uint64(0)
			for b.Loop() {
				batch := make([]record.JournalRow, rows)
				for i := range batch {
					seq++
					batch[i] = record.JournalRow{Seq: seq, At: start, Kind: "report", Payload: wanted(seq)}
				}
				require.NoError(b, s.Append(batch, nil))
			}
		})
	}
}

// BenchmarkLongRecord measures what grows with the record: opening it, its tail and its whole chain, at 200 000 rows.
func BenchmarkLongRecord(b *testing.B) {
	dir := b.TempDir()
	s, err := record.Open(dir, record.Options{})
	require.NoError(b, err)
	const rows = 200_000
	for range rows / 1000 {
		batch := make([]record.RecordRow, 1000)
		for i := range batch {
			batch[i] = record.RecordRow{At: start, Kind: record.Command, ID: uint64(i), Station: "desk", Verb: "recall", Payload: fmt.Appendf(nil, `{"text":"%0120d"}`, i)}
		}
		require.NoError(b, s.Append(nil, batch))
	}
	b.Run("tail of 2000", func(b *testing.B) {
		for b.Loop() {
			_, err := s.Tail(2000)
			require.NoError(b, err)
		}
	})
	b.Run("verify", func(b *testing.B) {
		for b.Loop() {
			require.NoError(b, s.VerifyChain())
		}
	})
	require.NoError(b, s.Close())
	b.Run("open", func(b *testing.B) {
		for b.Loop() {
			again, err := record.Open(dir, record.Options{})
			require.NoError(b, err)
			require.NoError(b, again.Close())
		}
	})
}
