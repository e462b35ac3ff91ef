package site_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets/site"
)

// TestRead_HostileFiles holds that files made to be slow or large come back soon, with problems.
func TestRead_HostileFiles(t *testing.T) {
	small := files(t, testdata+"/sites/small")
	with := func(file, from, to string) map[string][]byte {
		fs := map[string][]byte{}
		for _, f := range site.Files {
			fs[f] = small[f]
		}
		require.Contains(t, string(fs[file]), from)
		fs[file] = []byte(strings.Replace(string(fs[file]), from, to, 1))
		return fs
	}
	numbered := func(n int, format string) string {
		var b strings.Builder
		for i := range n {
			fmt.Fprintf(&b, format, i)
		}
		return b.String()
	}
	const stations = "stations:\n"
	for _, c := range []struct {
		name  string
		files map[string][]byte
	}{
		{"brackets", with(site.StationsFile, stations, "x: "+strings.Repeat("[", 1<<20)+"\n"+stations)},
		{"braces", with(site.StationsFile, stations, "x: "+strings.Repeat("{a: ", 1<<18)+"\n"+stations)},
		{"deep indentation", with(site.StationsFile, stations, numbered(1500, "%d:\n")+stations)},
		{"dashes", with(site.StationsFile, stations, "x:\n "+strings.Repeat("- ", 1<<19)+"\n"+stations)},
		{"aliases of aliases", with(site.StationsFile, stations, "a: &a [x, x]\n"+numbered(60, "b%[1]d: &b%[1]d [*a, *a]\n")+stations)},
		{"a hundred thousand keys", with(site.StationsFile, stations, numbered(100_000, "k%d: 1\n")+stations)},
		{"ten thousand sources and as many unknown inputs", with(site.RigFile, "inputs: [plate]", "inputs: ["+numbered(9_999, "sxx%d, ")+"plate]")},
		{"a number of a million digits", with(site.RigFile, "white_w: 170", "white_w: 1"+strings.Repeat("0", 1_000_000))},
		{"a name of a million letters", with(site.RigFile, "{name: K1", "{name: K"+strings.Repeat("x", 1_000_000))},
		{"a key of a million letters", with(site.StationsFile, stations, "k"+strings.Repeat("x", 1_000_000)+": 1\n"+stations)},
		{"a duplicate key that a terminal would obey", with(site.StationsFile, stations, "\"\\e[2J\": 1\n\"\\e[2J\": 1\n"+stations)},
		{"quoted line breaks", with(site.StationsFile, stations, "x: \""+strings.Repeat("\\n", 1<<20)+"\"\n"+stations)},
	} {
		t.Run(c.name, func(t *testing.T) {
			begin := time.Now()
			_, problems := site.Read(c.files)
			require.True(t, site.Broken(problems))
			require.Less(t, time.Since(begin), 20*time.Second)
			for _, p := range problems {
				require.Less(t, len(p.String()), 2000, "what is told stays readable")
				require.NotContains(t, p.String(), "\x1b")
			}
		})
	}
}

// TestRead_Large holds that a wall of two hundred thousand panels is read, and how the bound on walls is exact.
func TestRead_Large(t *testing.T) {
	fs := files(t, testdata+"/sites/trade")
	text := string(fs[site.RigFile])
	for _, change := range [][2]string{
		{"columns: 48, rows: 10", "columns: 2000, rows: 100"},
		{"columns_each: most", "panels_each: 1000"},
		{"columns_each: 12", "columns_each: 100"},
		{"poles: 84", "poles: 400"},
	} {
		require.Contains(t, text, change[0])
		text = strings.Replace(text, change[0], change[1], 1)
	}
	fs[site.RigFile] = []byte(text)
	s, problems := site.Read(fs)
	require.Len(t, must(t, s, problems).Rig.Panels, 200_000)
	fs[site.RigFile] = []byte(strings.Replace(text, "columns: 2000, rows: 100", "columns: 2001, rows: 100", 1))
	s, problems = site.Read(fs)
	require.Nil(t, s)
	require.Equal(t, "too-many-panels", problems[0].Code)
}
