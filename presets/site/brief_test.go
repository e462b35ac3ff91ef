package site_test

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/rig"
	"lookgate/presets/site"
	"lookgate/presets/units"
)

// badBriefs lists the broken briefs by name.
func badBriefs(t testing.TB) []string {
	t.Helper()
	found, err := filepath.Glob(filepath.Join(testdata, "briefs", "bad", "*.yaml"))
	require.NoError(t, err)
	require.NotEmpty(t, found)
	for i, f := range found {
		found[i] = strings.TrimSuffix(filepath.Base(f), ".yaml")
	}
	return found
}

// TestReadBrief_Bad plays every broken brief against the exact text that is told of it.
func TestReadBrief_Bad(t *testing.T) {
	for _, name := range badBriefs(t) {
		t.Run(name, func(t *testing.T) {
			at := filepath.Join(testdata, "briefs", "bad", name)
			text, err := os.ReadFile(at + ".yaml")
			require.NoError(t, err)
			b, problems := site.ReadBrief("brief.yaml", text)
			if *rewrite {
				require.NoError(t, os.WriteFile(at+".txt", []byte(told(problems)), 0o644))
			}
			want, err := os.ReadFile(at + ".txt")
			require.NoError(t, err)
			require.Equal(t, string(want), told(problems))
			require.NotEmpty(t, problems)
			require.Equal(t, site.Broken(problems), b == nil, "a brief comes back where there is nothing but warnings")
			if strings.HasPrefix(name, "brief-") {
				shows := slices.ContainsFunc(problems, func(p site.Problem) bool { return p.Code == name })
				require.True(t, shows, "the brief shows the problem that it is named after")
			}
		})
	}
}

// TestReadBrief_EachTemplateHasABrokenBrief holds the table of wordings against testdata/briefs/bad.
func TestReadBrief_EachTemplateHasABrokenBrief(t *testing.T) {
	names := badBriefs(t)
	for _, row := range site.BriefTemplates() {
		require.Contains(t, names, row.Code)
		require.NotEmpty(t, row.Hint, row.Code)
	}
}

func TestReadBrief_Levee(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(testdata, "briefs", "levee.yaml"))
	require.NoError(t, err)
	b, problems := site.ReadBrief("levee.yaml", text)
	require.Empty(t, problems)
	require.Equal(t, []string{"G", "S1", "S2"}, []string{b.Rig.Boards[0].Name, b.Rig.Boards[1].Name, b.Rig.Boards[2].Name})
	require.Equal(t, []int{0, 1, 1}, []int{b.Rig.Boards[0].From, b.Rig.Boards[1].From, b.Rig.Boards[2].From})
	require.Equal(t, rig.Delta, b.Rig.Supply.System)
	require.Len(t, b.Rig.Panels, 196)
	require.Len(t, b.Rig.Cables, 4)
	require.Empty(t, b.Rig.Circuits)
	require.Equal(t, site.CircuitsAtHand{Breakers: []units.Amps{15, 20}, Home: site.Way{Length: 30}, Link: site.Way{Length: 1.2}, Highest: 264, Residual: 0.1}, b.Circuits)
	require.Equal(t, []site.Wish{{HomeRun: 18}, {}}, b.Wishes)
	require.Equal(t, []int{16, 2}, []int{b.Runs, b.AtHand})
}

// FuzzReadBrief feeds the reader with anything: it must not panic, and gives either a brief or problems that say where and what to do.
func FuzzReadBrief(f *testing.F) {
	for _, pattern := range []string{"*.yaml", "bad/*.yaml"} {
		found, err := filepath.Glob(filepath.Join(testdata, "briefs", pattern))
		require.NoError(f, err)
		for _, name := range found {
			text, err := os.ReadFile(name)
			require.NoError(f, err)
			f.Add(text)
		}
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		b, problems := site.ReadBrief("brief.yaml", text)
		require.Equal(t, b == nil, site.Broken(problems))
		for _, p := range problems {
			require.NotEmpty(t, p.Sentence)
			require.NotEmpty(t, p.Hint, p.Sentence)
			require.NotContains(t, p.String(), "%!")
		}
	})
}
