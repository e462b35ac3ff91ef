package site_test

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets"
	"lookgate/presets/site"
)

// FuzzRead feeds the reader with anything. It must not panic, must come back in bounded time, and must give either a site that a plan can be made of, or
// problems; every problem has its file, its sentence and its hint.
func FuzzRead(f *testing.F) {
	seed := func(fs map[string][]byte) {
		f.Add(fs[site.RigFile], fs[site.DevicesFile], fs[site.PresetsFile], fs[site.StationsFile])
	}
	sites, err := filepath.Glob(filepath.Join(testdata, "sites", "*"))
	require.NoError(f, err)
	require.NotEmpty(f, sites)
	for _, s := range sites {
		seed(files(f, s))
	}
	bad, err := filepath.Glob(filepath.Join(testdata, "bad", "*"))
	require.NoError(f, err)
	require.NotEmpty(f, bad)
	for _, b := range bad {
		if _, err := os.Stat(filepath.Join(b, made)); os.IsNotExist(err) {
			seed(broken(f, b))
		}
	}
	f.Fuzz(func(t *testing.T, rigText, devices, book, stations []byte) {
		begin := time.Now()
		s, problems := site.Read(map[string][]byte{
			site.RigFile: rigText, site.DevicesFile: devices, site.PresetsFile: book, site.StationsFile: stations,
		})
		require.Less(t, time.Since(begin), 20*time.Second)
		require.Equal(t, s == nil, site.Broken(problems))
		for _, p := range problems {
			require.NotEmpty(t, p.File)
			require.NotEmpty(t, p.Sentence)
			require.NotEmpty(t, p.Hint, p.Sentence)
			require.NotContains(t, p.String(), "%!")
		}
		if s != nil && len(s.Rig.Panels) < 5000 {
			require.Len(t, presets.NewPlan(s.Rig, s.Book).Void, len(s.Rig.Conductors()))
			require.Len(t, s.Devices, len(s.Rig.Devices))
		}
	})
}
