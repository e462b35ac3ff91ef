package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/engine"
)

// TestCheckKnowsWhatIsProved checks a site whose daemon has kept proofs: of one circuit as it is, and of one that was another then.
func TestCheckKnowsWhatIsProved(t *testing.T) {
	folder := t.TempDir()
	require.NoError(t, os.CopyFS(folder, os.DirFS(filepath.Join(sites, "small"))))
	require.Contains(t, runWith("check", folder).out, "unproved circuits, whose breakers nobody has opened to see which panels go dark: 2 of 2\n")

	read, _, err := readSite(folder)
	require.NoError(t, err)
	prints := engine.Prints(read.Rig)
	keep := func(proofs ...engine.Proof) {
		text, err := json.Marshal(proofs)
		require.NoError(t, err)
		require.NoError(t, os.MkdirAll(stateOf(folder), 0o755))
		require.NoError(t, os.WriteFile(filepath.Join(stateOf(folder), "proved.json"), text, 0o644))
	}
	first := engine.Proof{Circuit: read.Rig.Circuits[0].Name, By: "R. Ames", Station: "booth", When: 1_800_000_000, Print: prints[0]}
	keep(first, engine.Proof{Circuit: read.Rig.Circuits[1].Name, Station: "booth", When: 1_800_000_060, Print: "of before"})
	require.Contains(t, runWith("check", folder).out, "unproved circuits, whose breakers nobody has opened to see which panels go dark: 1 of 2\n")
	all := runWith("check", folder, "-all").out
	require.Contains(t, all, "  circuit K1 is proved by R. Ames, said at booth at 2027-01-15T08:00:00Z\n")
	require.Contains(t, all, "  unproved circuits, whose breakers nobody has opened to see which panels go dark: 1 of 2: K2\n")

	var data report
	require.NoError(t, json.Unmarshal([]byte(runWith("check", folder, "-json").out), &data))
	require.Equal(t, []provedReport{{"K1", true, "R. Ames", "booth", "2027-01-15T08:00:00Z"}, {Circuit: "K2"}}, data.Proved)

	keep(first, engine.Proof{Circuit: read.Rig.Circuits[1].Name, Station: "booth", Print: prints[1]})
	require.Contains(t, runWith("check", folder).out, "  all of 2 circuits are proved: their breakers were opened and the panels seen to go dark\n")
	entries, err := os.ReadDir(stateOf(folder))
	require.NoError(t, err)
	require.Len(t, entries, 1, "check only reads")

	require.NoError(t, os.WriteFile(filepath.Join(stateOf(folder), "proved.json"), []byte("{"), 0o644))
	r := runWith("check", folder)
	require.Equal(t, exitOK, r.status)
	require.Contains(t, r.err, "proved.json: it does not read")
	require.Contains(t, r.out, "2 of 2\n")
}
