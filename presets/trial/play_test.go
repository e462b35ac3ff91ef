package trial_test

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets"
	"lookgate/presets/site"
	"lookgate/presets/trial"
)

// rewrite puts what came in the place of what was expected. Commit a rewritten scenario only if you can say why it changed.
var rewrite = flag.Bool("rewrite", false, "rewrite the scenarios in testdata/scenarios with what came out")

const scenarios = "../../testdata/scenarios"

// loadSite reads one of the sites in testdata.
func loadSite(name string) (*presets.Plan, error) {
	files := map[string][]byte{}
	for _, file := range site.Files {
		text, err := os.ReadFile(filepath.Join("../../testdata/sites", trial.SiteFolder(name), file))
		if err != nil {
			return nil, err
		}
		files[file] = text
	}
	return trial.SitePlan(name, files)
}

func TestScenarios(t *testing.T) {
	names, err := filepath.Glob(filepath.Join(scenarios, "*.txt"))
	require.NoError(t, err)
	require.NotEmpty(t, names)
	for _, name := range names {
		t.Run(strings.TrimSuffix(filepath.Base(name), ".txt"), func(t *testing.T) {
			text, err := os.ReadFile(name)
			require.NoError(t, err)
			got, ok := trial.Play(string(text), loadSite)
			if *rewrite && got != string(text) {
				require.NoError(t, os.WriteFile(name, []byte(got), 0o644))
				_, ok = trial.Play(got, loadSite)
			}
			if !ok {
				require.Equal(t, string(text), got)
				t.Fatal("it cannot be played, or what must not be happened: see the lines in capitals")
			}
		})
	}
}
