package main

import (
	"fmt"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/alignment"
)

func TestAlignmentWritesAPictureOfEachKindForEachWall(t *testing.T) {
	for site, walls := range map[string][]string{"iec": {"main 4608 x 1536", "side 1536 x 1536"}, "small": {"back 768 x 576"}} {
		t.Run(site, func(t *testing.T) {
			to := filepath.Join(t.TempDir(), "new", "folder")
			r := runWith("alignment", filepath.Join(sites, site), "-to", to)
			require.Empty(t, r.err)
			require.Equal(t, exitOK, r.status)
			for _, wall := range walls {
				name, size, _ := strings.Cut(wall, " ")
				for _, kind := range []string{"panels", "circuits", "data-runs", "seams", "greys"} {
					file := name + "-" + kind + ".png"
					require.Equal(t, size, sizeOf(t, filepath.Join(to, file)))
					require.Contains(t, r.out, file)
				}
			}
			require.FileExists(t, filepath.Join(to, alignment.Table))
			require.Contains(t, r.out, "breakers do", "the caution stands under it")
			require.Contains(t, r.out, "photosensitive")
		})
	}
}

func sizeOf(t *testing.T, path string) string {
	t.Helper()
	file, err := os.Open(path)
	require.NoError(t, err)
	defer file.Close()
	is, err := png.DecodeConfig(file)
	require.NoError(t, err)
	return fmt.Sprintf("%d x %d", is.Width, is.Height)
}

func TestAlignmentTellsWhatItWrote(t *testing.T) {
	to := filepath.Join(t.TempDir(), "pictures")
	r := runWith("alignment", filepath.Join(sites, "demo"), "-to", to)
	require.Equal(t, exitOK, r.status)
	requireGolden(t, "alignment-demo.txt", strings.ReplaceAll(r.out, to, "pictures"))
	table, err := os.ReadFile(filepath.Join(to, alignment.Table))
	require.NoError(t, err)
	requireGolden(t, "alignment-demo.csv", string(table))
}

func TestAlignmentRefusesWhatItCannotUse(t *testing.T) {
	demo := filepath.Join(sites, "demo")
	for _, c := range []struct {
		name   string
		args   []string
		status int
		says   string
	}{
		{"no folder", []string{demo}, exitUsage, "-to: what is made needs a folder to go to"},
		{"a site's own folder", []string{demo, "-to", demo}, exitRefused, "is a site's own folder"},
		{"no site", []string{filepath.Join(sites, "none"), "-to", t.TempDir()}, exitBroken, "is no folder that can be read"},
		{"a broken site", []string{altered(t, "small", "columns: 4", "columns: four"), "-to", t.TempDir()}, exitBroken, "rig.yaml:"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := runWith(append([]string{"alignment"}, c.args...)...)
			require.Equal(t, c.status, r.status)
			require.Contains(t, r.err, c.says)
			require.Empty(t, r.out)
		})
	}
}
