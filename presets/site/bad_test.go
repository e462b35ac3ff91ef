package site_test

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/rig"
	"lookgate/presets/site"
)

var rewrite = flag.Bool("rewrite", false, "write what is told of each broken site into its expected.txt")

// What a folder in testdata/bad may hold besides files of a site, which lie over those of sites/small.
const (
	expected = "expected.txt" // what is told, exactly
	made     = "made.txt"     // lines of "FILE COUNT TEXT": so many lines of the text are added to the file
	several  = "several"      // the folder of a site that is wrong in many ways
	gone     = ".gone"        // behind a file's name: the file is not there
)

// broken gives the files of a broken site.
func broken(t testing.TB, folder string) map[string][]byte {
	t.Helper()
	out := files(t, filepath.Join(testdata, "sites", "small"))
	entries, err := os.ReadDir(folder)
	require.NoError(t, err)
	for _, e := range entries {
		b, err := os.ReadFile(filepath.Join(folder, e.Name()))
		require.NoError(t, err)
		switch name, isGone := strings.CutSuffix(e.Name(), gone); {
		case isGone:
			delete(out, name)
		case name == made:
			makeLines(t, out, string(b))
		case name != expected:
			out[name] = b
		}
	}
	return out
}

func makeLines(t testing.TB, out map[string][]byte, orders string) {
	t.Helper()
	for order := range strings.Lines(orders) {
		part := strings.SplitN(strings.TrimSuffix(order, "\n"), " ", 3)
		require.Len(t, part, 3)
		n, err := strconv.Atoi(part[1])
		require.NoError(t, err)
		out[part[0]] = append(out[part[0]], strings.Repeat(part[2]+"\n", n)...)
	}
}

// told prints problems as a person reads them. Of very many it keeps the first ones and the last.
func told(problems []site.Problem) string {
	var b strings.Builder
	for i, p := range problems {
		if i < 40 || i == len(problems)-1 {
			fmt.Fprintln(&b, p)
		} else if i == 40 {
			fmt.Fprintln(&b, "...")
		}
	}
	return b.String()
}

// TestRead_Bad plays every broken site against the exact text that is told of it. The site's folder is named after the template that it is there for.
func TestRead_Bad(t *testing.T) {
	folders, err := filepath.Glob(filepath.Join(testdata, "bad", "*"))
	require.NoError(t, err)
	require.NotEmpty(t, folders)
	for _, folder := range folders {
		t.Run(filepath.Base(folder), func(t *testing.T) {
			s, problems := site.Read(broken(t, folder))
			got := told(problems)
			if *rewrite {
				require.NoError(t, os.WriteFile(filepath.Join(folder, expected), []byte(got), 0o644))
			}
			want, err := os.ReadFile(filepath.Join(folder, expected))
			require.NoError(t, err)
			require.Equal(t, string(want), got)
			require.Equal(t, site.Broken(problems), s == nil, "a site comes back where there is nothing but warnings")
			if code := filepath.Base(folder); code != several {
				shows := slices.ContainsFunc(problems, func(p site.Problem) bool { return p.Code == code })
				require.True(t, shows, "the site shows the problem that its folder is named after")
			}
		})
	}
}

// TestTemplates_EachHasABrokenSite holds the tables of templates against testdata/bad: a wording that nobody has seen is not kept.
func TestTemplates_EachHasABrokenSite(t *testing.T) {
	seen := map[string]bool{}
	for _, row := range site.AllTemplates() {
		require.False(t, seen[row.Code], "two templates have the code %s", row.Code)
		seen[row.Code] = true
		require.NotEmpty(t, row.Hint, row.Code)
		if row.CodeOnly {
			continue
		}
		_, err := os.Stat(filepath.Join(testdata, "bad", row.Code, expected))
		require.NoError(t, err, "template %s has no broken site", row.Code)
	}
	require.Greater(t, len(seen), len(rig.Templates))
}
