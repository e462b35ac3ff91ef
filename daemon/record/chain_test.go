package record_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/daemon/record"
)

// VerifyChain names the first row that is not as it was written, wherever it lies and whatever was done to it.
func TestVerifyChainNamesTheFirstBadRow(t *testing.T) {
	tests := []struct {
		name, harm string
		seq        uint64
		reason     string
	}{
		{"first row's payload", "UPDATE record SET payload = '{}' WHERE seq = 1", 1, "does not match its hash"},
		{"a time", "UPDATE record SET at = at + 1 WHERE seq = 700", 700, "does not match its hash"},
		{"a kind", "UPDATE record SET kind = 'note' WHERE seq = 701", 701, "does not match its hash"},
		{"an id", "UPDATE record SET id = 9 WHERE seq = 701", 701, "does not match its hash"},
		{"a station", "UPDATE record SET station = 'desk2' WHERE seq = 701", 701, "does not match its hash"},
		{"a verb", "UPDATE record SET verb = '' WHERE seq = 701", 701, "does not match its hash"},
		{"a letter from one word to the next", "UPDATE record SET station = 'des', verb = 'krecall' WHERE seq = 701", 701, "does not match its hash"},
		{"a hash", "UPDATE record SET hash = zeroblob(32) WHERE seq = 702", 702, "does not match its hash"},
		{"a hash cut short", "UPDATE record SET hash = zeroblob(3) WHERE seq = 702", 702, "does not match its hash"},
		{"the first row's predecessor", "UPDATE record SET prev_hash = zeroblob(3) WHERE seq = 1", 1, "does not follow the row before it"},
		{"a row taken out", "DELETE FROM record WHERE seq = 1000", 1000, "is missing"},
		{"the first row taken out", "DELETE FROM record WHERE seq = 1", 1, "is missing"},
		{"two rows swapped", "UPDATE record SET seq = -seq WHERE seq IN (800, 801); UPDATE record SET seq = 1601 + seq WHERE seq < 0", 800, "does not follow the row before it"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s, dir := opened(t)
			commit(t, s, 1, 1, 1)
			for n := uint64(0); n < 10; n++ { // rows 3 to 2502, of which Open looks at the last 1000
				rows := make([]record.RecordRow, 250)
				for i := range rows {
					rows[i] = record.RecordRow{At: start, Kind: record.Alarm, Station: "desk", Verb: "recall", Payload: fmt.Appendf(nil, "%d", i)}
				}
				require.NoError(t, s.Append(nil, rows))
			}
			require.NoError(t, s.VerifyChain())
			require.NoError(t, s.Close())
			edit(t, dir, tt.harm)
			s = open(t, dir, record.Options{})
			err := s.VerifyChain()
			var bad *record.ChainError
			require.ErrorAs(t, err, &bad)
			require.Equal(t, record.ChainError{Seq: tt.seq, Reason: tt.reason}, *bad)
			require.ErrorIs(t, err, record.ErrCorrupt)
			require.NoError(t, s.Close())
			_, err = record.Open(dir, record.Options{TailCheck: 10_000})
			require.ErrorAs(t, err, &bad)
			require.Equal(t, tt.seq, bad.Seq, "Open looks as far as it is told")
		})
	}
}

// What Open checks is neither one row too few nor one too many.
func TestTailCheckReachesAsFarAsItSays(t *testing.T) {
	s, dir := opened(t)
	commit(t, s, 1, 1, 10) // rows 1 to 20
	require.NoError(t, s.Close())
	edit(t, dir, "UPDATE record SET verb = 'x' WHERE seq = 15")
	s, err := record.Open(dir, record.Options{TailCheck: 5})
	require.NoError(t, err, "rows 16 to 20 are whole")
	require.NoError(t, s.Close())
	_, err = record.Open(dir, record.Options{TailCheck: 6})
	require.ErrorContains(t, err, "record row 15 does not match its hash")
}

// The published way to compute the hash, done by another hand: a change of it would make every older record look forged.
func TestHashIsTheDocumentedOne(t *testing.T) {
	s, _ := opened(t)
	require.NoError(t, s.Append(nil, []record.RecordRow{{At: start, Kind: record.Command, ID: 258, Station: "desk", Verb: "go"}}))
	rows, err := s.Tail(1)
	require.NoError(t, err)
	// python3: sha256(bytes(32) + b"record 1" + struct.pack(">QqQ", 1, 1930367167123456789, 258)
	//                 + b"".join(struct.pack(">Q", len(f)) + f for f in (b"command", b"desk", b"go", b"null")))
	require.Equal(t, "43d8faf154b87c772f772fd6a515120e77e1a86239e7cc5a4a127dc60fd0d7a5", rows[0].Hash.String())
}
