package site_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/site"
)

const testdata = "../../testdata"

// files reads the files of a folder that a site may have.
func files(t testing.TB, folder string) map[string][]byte {
	t.Helper()
	out := map[string][]byte{}
	for _, name := range site.Files {
		b, err := os.ReadFile(filepath.Join(folder, name))
		if os.IsNotExist(err) {
			continue
		}
		require.NoError(t, err)
		out[name] = b
	}
	return out
}

// read reads one of the good sites.
func read(t testing.TB, name string) (*site.Site, []site.Problem) {
	t.Helper()
	return site.Read(files(t, filepath.Join(testdata, "sites", name)))
}

func TestRead_Sites(t *testing.T) {
	for _, c := range []struct {
		name                                              string
		panels, circuits, runs, outputs, presets, devices int
		warnings                                          int
	}{
		{"demo", 558, 31, 62, 4, 8, 3, 0},
		{"iec", 254, 12, 16, 3, 4, 3, 1},
		{"small", 12, 2, 2, 2, 3, 1, 0},
		{"trade", 480, 24, 48, 4, 1, 4, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, problems := read(t, c.name)
			for _, p := range problems {
				t.Log(p)
			}
			require.NotNil(t, s)
			require.Len(t, problems, c.warnings)
			require.Len(t, s.Rig.Panels, c.panels)
			require.Len(t, s.Rig.Circuits, c.circuits)
			require.Len(t, s.Rig.DataRuns, c.runs)
			require.Len(t, s.Rig.Outputs, c.outputs)
			require.Len(t, s.Book.Presets, c.presets)
			require.Len(t, s.Rig.Devices, c.devices)
			require.Len(t, s.Devices, c.devices)
		})
	}
}
