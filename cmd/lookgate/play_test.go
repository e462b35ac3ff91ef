package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

const scenario = "../../testdata/scenarios/lower-first.txt"

// copied puts a scenario, with an edit in it, into a folder of its own.
func copied(t *testing.T, edit func(string) string) string {
	text, err := os.ReadFile(scenario)
	require.NoError(t, err)
	name := filepath.Join(t.TempDir(), "scenario.txt")
	require.NoError(t, os.WriteFile(name, []byte(edit(string(text))), 0o600))
	return name
}

func same(s string) string { return s }

func TestPlayPrintsAScenarioThatGoesAsExpected(t *testing.T) {
	name := copied(t, same)
	r := runWith("play", name)
	require.Equal(t, exitOK, r.status, r.err)
	text, err := os.ReadFile(name)
	require.NoError(t, err)
	require.Equal(t, string(text), r.out)
}

func TestPlayShowsWhatDiffersAndRewrites(t *testing.T) {
	name := copied(t, func(s string) string { return strings.Replace(s, "#1 recall accepted", "#1 recall refused", 1) })
	r := runWith("play", name)
	require.Equal(t, exitRefused, r.status)
	require.Regexp(t, `(?m)^-.*#1 recall refused$`, r.out)
	require.Regexp(t, `(?m)^\+.*#1 recall accepted$`, r.out)
	require.Contains(t, r.err, "-rewrite")
	require.Less(t, strings.Count(r.out, "\n"), 12)

	require.Equal(t, exitOK, runWith("play", "-rewrite", name).status)
	require.Equal(t, exitOK, runWith("play", name).status)
	mended, err := os.ReadFile(name)
	require.NoError(t, err)
	whole, err := os.ReadFile(scenario)
	require.NoError(t, err)
	require.Equal(t, string(whole), string(mended))
}

func TestPlayNeverBlessesWhatCannotBePlayed(t *testing.T) {
	name := copied(t, func(s string) string { return s + "\nconsole: juggle 3\n" })
	for range 2 {
		r := runWith("play", "-rewrite", name)
		require.Equal(t, exitRefused, r.status)
		require.Contains(t, r.out, "THIS CANNOT BE PLAYED")
		require.Contains(t, r.err, "capitals")
	}
}

func TestPlayReadsSitesFromAFolder(t *testing.T) {
	name := filepath.Join(t.TempDir(), "scenario.txt")
	require.NoError(t, os.WriteFile(name, []byte("site: small\nbegin\n"), 0o600))
	require.Equal(t, exitRefused, runWith("play", name).status, "there is no such folder beside it")
	r := runWith("play", "-rewrite", "-sites", sites, name)
	require.Equal(t, exitOK, r.status, r.out)
	require.Contains(t, r.out, "confirmed: left 20 %, right 20 %")
}

func TestPlayTellsOfAFileThatIsNotThere(t *testing.T) {
	r := runWith("play", filepath.Join(t.TempDir(), "none.txt"))
	require.Equal(t, exitBroken, r.status)
	require.NotEmpty(t, r.err)
}
