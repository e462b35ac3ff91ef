package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

const briefs = "../../testdata/briefs"

// TestPlan plans the briefs that the repository ships: what is told is that of the golden files, and a check admits every preset of what was written.
func TestPlan(t *testing.T) {
	for _, name := range []string{"saltmarsh", "dyke", "sluice", "reckoning", "levee"} {
		t.Run(name, func(t *testing.T) {
			to := filepath.Join(t.TempDir(), "site")
			r := runWith("plan", filepath.Join(briefs, name+".yaml"), "-to", to, "-why")
			require.Empty(t, r.err)
			require.Equal(t, exitOK, r.status)
			requireGolden(t, "plan-"+name+".txt", strings.ReplaceAll(r.out, to, "FOLDER"))
			text, err := os.ReadFile(filepath.Join(to, "rig.yaml"))
			require.NoError(t, err)
			requireGolden(t, "plan-"+name+"-rig.yaml", string(text))
			require.Equal(t, exitOK, runWith("check", to).status)
		})
	}
}

// TestPlan_WithoutWhy holds that the reasons come only where they are asked for.
func TestPlan_WithoutWhy(t *testing.T) {
	r := runWith("plan", filepath.Join(briefs, "dyke.yaml"), "-to", filepath.Join(t.TempDir(), "site"))
	require.Equal(t, exitOK, r.status)
	require.Contains(t, r.out, "11 circuits on 2 boards")
	require.NotContains(t, r.out, "What binds")
}

// TestPlan_Refuses holds that nothing is overwritten, and that what cannot be planned says so and writes nothing.
func TestPlan_Refuses(t *testing.T) {
	folder := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(folder, "rig.yaml"), []byte("mine"), 0o644))
	brief := filepath.Join(briefs, "sluice.yaml")
	poor := filepath.Join(t.TempDir(), "poor.yaml")
	text, err := os.ReadFile(brief)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(poor, []byte(strings.Replace(string(text), "poles: 12", "poles: 1", 1)), 0o644))
	for _, c := range []struct {
		name   string
		args   []string
		status int
		says   string
	}{
		{"a folder that holds something", []string{brief, "-to", folder}, exitRefused, "is there already, and not empty\nname a folder that does not exist yet"},
		{"a file in the folder's place", []string{brief, "-to", filepath.Join(folder, "rig.yaml")}, exitRefused, "is there already"},
		{"no folder", []string{brief}, exitUsage, "-to: the plan needs a folder to go to"},
		{"no brief", []string{"-to", filepath.Join(folder, "new")}, exitUsage, "it takes 1 argument"},
		{"a brief that is not there", []string{filepath.Join(folder, "none.yaml"), "-to", filepath.Join(folder, "new")}, exitBroken, "none.yaml"},
		{"a broken brief", []string{filepath.Join(briefs, "bad", "volts-zero.yaml"), "-to", filepath.Join(folder, "new")}, exitBroken, "volts-zero.yaml:2:54: supply.line_neutral_v"},
		{"too few poles", []string{poor, "-to", filepath.Join(folder, "new")}, exitRefused, "and the boards at hand have 1\nname another board"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := runWith(append([]string{"plan"}, c.args...)...)
			require.Equal(t, c.status, r.status, r.err)
			require.Contains(t, r.err, c.says)
			require.Empty(t, r.out)
			require.NoDirExists(t, filepath.Join(folder, "new"))
		})
	}
	kept, err := os.ReadFile(filepath.Join(folder, "rig.yaml"))
	require.NoError(t, err)
	require.Equal(t, "mine", string(kept))
}
