package daemon_test

import (
	"os"
	"path/filepath"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/daemon"
	"lookgate/daemon/daemontest"
	"lookgate/presets/engine"
)

// TestAProofOutlivesTheDaemon proves a circuit, starts again, and reads it where others do.
func TestAProofOutlivesTheDaemon(t *testing.T) {
	state := t.TempDir()
	none, err := daemon.ReadProved(state)
	require.NoError(t, err)
	require.Empty(t, none)
	in := func(o *daemon.Options) { o.StateDir = state }
	synctest.Test(t, func(t *testing.T) {
		first := daemontest.New(t, in)
		require.NoError(t, first.Start())
		daemontest.Confirmed(t, first)
		on(t, first, 1)
		_, err := os.Stat(filepath.Join(state, "proved.json"))
		require.ErrorIs(t, err, os.ErrNotExist, "a site without proofs has no list of them")

		name := first.Plan.Rig.Circuits[1].Name
		say := engine.Command{Station: "booth", Engineer: true, Verb: engine.Prove, Target: name, By: "R. Ames", Clock: 7}
		require.Equal(t, engine.Accepted, daemontest.Order(first, say).Answer(t).Status)
		want := &engine.ProofView{By: "R. Ames", Station: "booth", When: time.Now().Unix()}
		require.Equal(t, want, first.View().Circuits[1].Proved, "the daemon's clock counts, and no station's")
		require.NoError(t, first.Stop())

		second := daemontest.Again(t, first.Store, in)
		require.NoError(t, second.Start())
		require.Equal(t, want, second.View().Circuits[1].Proved)
		require.Nil(t, second.View().Circuits[0].Proved)
		proofs, err := daemon.ReadProved(state)
		require.NoError(t, err)
		require.Equal(t, *want, engine.ProofView{By: proofs[0].By, Station: proofs[0].Station, When: proofs[0].When})
		require.NotNil(t, engine.Proved(second.Plan.Rig, proofs)[1])

		say.Off = true
		require.Equal(t, engine.Accepted, daemontest.Order(second, say).Answer(t).Status)
		require.NoError(t, second.Stop())
		proofs, err = daemon.ReadProved(state)
		require.NoError(t, err)
		require.Empty(t, proofs)
	})
}

func TestAListOfProofsThatDoesNotReadIsSaid(t *testing.T) {
	state := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(state, "proved.json"), []byte("{"), 0o644))
	_, err := daemon.ReadProved(state)
	require.ErrorContains(t, err, "proved.json: it does not read")
}
