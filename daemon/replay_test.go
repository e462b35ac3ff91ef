package daemon_test

import (
	"encoding/json"
	"math/rand/v2"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/daemon"
	"lookgate/daemon/daemontest"
	"lookgate/daemon/record"
	"lookgate/presets"
	"lookgate/presets/engine"
	"lookgate/presets/rig"
	"lookgate/presets/rig/rigtest"
)

// lived gives the store of a daemon that did something of everything in its second incarnation, and the digest that it ended with.
func lived(t *testing.T, site *reader) (*daemontest.Store, string) {
	first := daemontest.New(t, reloading(site))
	require.NoError(t, first.Start())
	daemontest.Confirmed(t, first)
	on(t, first, 2)
	require.NoError(t, first.Stop())

	s := daemontest.Again(t, first.Store, reloading(site))
	require.NoError(t, s.Start())
	daemontest.Confirmed(t, s)
	on(t, s, 1)
	on(t, s, 3)
	daemontest.Order(s, recall(9)).Answer(t)
	daemontest.Order(s, engine.Command{Verb: engine.Level, Level: 0.5}, dark).Settle(t)
	daemontest.Reload(s, "panel").Settle(t)
	on(t, s, 2)
	require.NoError(t, s.Stop())
	rows := s.Store.Rows()
	last := string(rows[len(rows)-1].Payload)
	_, digest, ok := strings.Cut(last, "digest ")
	require.True(t, ok, last)
	return s.Store, strings.TrimRight(digest, `"}`)
}

func TestAReplayDecidesAsThen(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		store, digest := lived(t, &reader{plan: edited(func(r *rig.Rig) { r.Circuits[2].Breaker = 16 })})
		got, err := daemon.Replay(store, 0)
		require.NoError(t, err)
		require.EqualValues(t, 2, got.Epoch)
		require.Equal(t, digest, got.Digest)
		require.Zero(t, got.Differs)
		require.Zero(t, got.Missing)
		require.Greater(t, got.Inputs, uint64(30))
		first, err := daemon.Replay(store, 1)
		require.NoError(t, err)
		require.EqualValues(t, 1, first.Epoch)
		require.Zero(t, first.Differs)
		require.NotEqual(t, digest, first.Digest)
		_, err = daemon.Replay(store, 3)
		require.ErrorIs(t, err, daemon.ErrNoBeginning)
	})
}

// altered is a store of which one row of the journal reads otherwise, or is not there.
type altered struct {
	*daemontest.Store
	alter func(*record.JournalRow) bool
}

func (a altered) ReadJournal(from uint64, each func(record.JournalRow) error) error {
	return a.Store.ReadJournal(from, func(r record.JournalRow) error {
		if !a.alter(&r) {
			return nil
		}
		return each(r)
	})
}

func TestOneChangedInputChangesTheDigest(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		store, digest := lived(t, &reader{plan: edited(func(*rig.Rig) {})})
		var second []record.JournalRow
		for _, r := range store.Journal() {
			if strings.Contains(string(r.Payload), `{"epoch":2,`) {
				second = append(second, r)
			}
		}
		kinds := map[string]bool{}
		rng := rand.New(rand.NewPCG(1, 2))
		for range 40 {
			row := second[rng.IntN(len(second))]
			kinds[row.Kind] = true
			got, err := daemon.Replay(altered{store, func(r *record.JournalRow) bool {
				if r.Seq == row.Seq {
					r.Payload = shifted(t, r.Payload)
				}
				return true
			}}, 2)
			require.NoError(t, err)
			require.NotEqual(t, digest, got.Digest, "%s", row.Payload)
			require.Equal(t, row.Seq, got.Differs)
		}
		require.Greater(t, len(kinds), 3)

		lost := second[len(second)/2].Seq
		got, err := daemon.Replay(altered{store, func(r *record.JournalRow) bool { return r.Seq != lost }}, 2)
		require.NoError(t, err)
		require.Equal(t, lost, got.Missing)
		require.Zero(t, got.Differs, "what is there is not as then")
	})
}

// shifted gives a row whose input came a nanosecond later.
func shifted(t *testing.T, payload json.RawMessage) json.RawMessage {
	var l map[string]json.RawMessage
	require.NoError(t, json.Unmarshal(payload, &l))
	var now time.Duration
	require.NoError(t, json.Unmarshal(l["now"], &now))
	l["now"], _ = json.Marshal(now + 1)
	out, err := json.Marshal(l)
	require.NoError(t, err)
	return out
}

func TestAPlanComesBackFromTheJournalToTheLastBit(t *testing.T) {
	for seed := range uint64(40) {
		r := rigtest.Random(rand.New(rand.NewPCG(seed, 9)), 1+int(seed)%12)
		was := presets.NewPlan(r, daemontest.Book())
		raw, err := json.Marshal(was.Rig)
		require.NoError(t, err)
		var is rig.Rig
		require.NoError(t, json.Unmarshal(raw, &is))
		require.Equal(t, was.Rig, &is, "seed %d", seed)
		var book presets.Book
		raw, err = json.Marshal(was.Book)
		require.NoError(t, err)
		require.NoError(t, json.Unmarshal(raw, &book))
		require.Equal(t, was.Book, &book)
	}
}
