package main

import (
	"bytes"
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/require"

	"lookgate/presets/site"
)

var rewrite = flag.Bool("rewrite", false, "write the golden files anew from what the program prints now")

const sites = "../../testdata/sites"

// ran is what a run of the program left behind.
type ran struct {
	status   int
	out, err string
}

func runWith(args ...string) ran {
	var out, err bytes.Buffer
	status := run(args, strings.NewReader(""), &out, &err)
	return ran{status, out.String(), err.String()}
}

// demos are the sites that the repository ships, with the status that a check of each ends in.
var demos = []struct {
	site   string
	status int
}{{"demo", exitRefused}, {"iec", exitRefused}, {"small", exitOK}, {"trade", exitOK}}

func TestCheckPrintsWhatTheGoldenFilesHold(t *testing.T) {
	for _, d := range demos {
		t.Run(d.site, func(t *testing.T) {
			r := runWith("check", filepath.Join(sites, d.site))
			require.Empty(t, r.err)
			require.Equal(t, d.status, r.status)
			requireGolden(t, "check-"+d.site+".txt", r.out)
		})
	}
}

// requireGolden holds a text against a golden file, or writes the file anew where that is asked for.
func requireGolden(t *testing.T, name, text string) {
	t.Helper()
	golden := filepath.Join("testdata", "golden", name)
	if *rewrite {
		require.NoError(t, os.WriteFile(golden, []byte(text), 0o644))
	}
	want, err := os.ReadFile(golden)
	require.NoError(t, err)
	require.Equal(t, string(want), text, "if the new text is right: go test ./cmd/lookgate -rewrite")
}

func TestEveryDemoHasAGoldenFile(t *testing.T) {
	folders, err := os.ReadDir(sites)
	require.NoError(t, err)
	folders = slices.DeleteFunc(folders, func(f os.DirEntry) bool { return !f.IsDir() })
	require.Len(t, demos, len(folders))
}

func TestCheckFitsThePage(t *testing.T) {
	for _, d := range demos {
		for _, line := range strings.Split(runWith("check", filepath.Join(sites, d.site), "-all").out, "\n") {
			require.LessOrEqual(t, utf8.RuneCountInString(line), pageWidth, line)
		}
	}
}

// TestCheckAsData holds the data against the text: the same verdicts, findings and remedies, whole.
func TestCheckAsData(t *testing.T) {
	for _, d := range demos {
		for _, spelling := range []string{"-json", "--json"} {
			r := runWith("check", filepath.Join(sites, d.site), spelling)
			require.Equal(t, d.status, r.status)
			var data report
			require.NoError(t, json.Unmarshal([]byte(r.out), &data))
			require.Equal(t, data.Admitted+data.Refused, len(data.Presets))
			require.Equal(t, d.status == exitRefused, data.Refused > 0)
			require.Len(t, data.Cautions, len(cautions))
			text := strings.Join(strings.Fields(runWith("check", filepath.Join(sites, d.site), "-all").out), " ")
			for _, p := range data.Presets {
				require.Contains(t, text, p.Name)
				require.NotEmpty(t, p.Outputs)
				for _, f := range p.Findings {
					require.Contains(t, text, f.Sentence)
					for _, m := range f.Remedies {
						require.Contains(t, text, m.Words)
					}
				}
				for _, c := range p.Conductors {
					require.Contains(t, text, c.Kind+" "+c.Name)
					require.InDelta(t, c.Limit-c.Worst, c.Headroom, 1e-9)
				}
			}
		}
	}
}

func TestCheckOfABrokenSite(t *testing.T) {
	folder := t.TempDir()
	for _, name := range site.Files {
		text, err := os.ReadFile(filepath.Join(sites, "small", name))
		require.NoError(t, err)
		if name == site.PresetsFile {
			text = append(text, []byte("\nsurprise: 1\nanother: 2\n")...)
		}
		require.NoError(t, os.WriteFile(filepath.Join(folder, name), text, 0o644))
	}
	r := runWith("check", folder)
	require.Equal(t, exitBroken, r.status)
	require.Empty(t, r.out)
	require.Regexp(t, `(?m)^presets\.yaml:\d+:1: .*surprise`, r.err)
	require.Regexp(t, `(?m)^presets\.yaml:\d+:1: .*another`, r.err, "all problems, not the first")
	require.Contains(t, r.err, "the site cannot be used: 2 problems, 0 warnings")

	r = runWith("check", "-json", folder)
	require.Equal(t, exitBroken, r.status)
	var data struct{ Problems []problemReport }
	require.NoError(t, json.Unmarshal([]byte(r.out), &data))
	require.Len(t, data.Problems, 2)
	require.Equal(t, "presets.yaml", data.Problems[0].File)
	require.Equal(t, 1, data.Problems[0].Column)
}

func TestCheckOfWhatIsNoSite(t *testing.T) {
	r := runWith("check", filepath.Join(t.TempDir(), "nowhere"))
	require.Equal(t, exitBroken, r.status)
	require.Contains(t, r.err, "nowhere is no folder that can be read\n")
	r = runWith("check", t.TempDir())
	require.Equal(t, exitBroken, r.status)
	require.Contains(t, r.err, "rig.yaml")
}

func TestUsage(t *testing.T) {
	for _, c := range []struct {
		name   string
		args   []string
		status int
		says   string
	}{
		{"nothing", nil, exitUsage, "lookgate check SITE"},
		{"no such subcommand", []string{"explode"}, exitUsage, `there is no subcommand "explode"`},
		{"check without a site", []string{"check"}, exitUsage, "it takes 1 argument besides its options, and got 0"},
		{"check with two", []string{"check", "a", "b"}, exitUsage, "got 2"},
		{"an option that is none", []string{"check", "-loud", "a"}, exitUsage, "-loud"},
		{"version with an argument", []string{"version", "x"}, exitUsage, "it takes 0 arguments"},
		{"help on check", []string{"check", "-h"}, exitOK, "-all"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := runWith(c.args...)
			require.Equal(t, c.status, r.status)
			require.Contains(t, r.err, c.says)
			require.Empty(t, r.out)
		})
	}
	r := runWith("help")
	require.Equal(t, exitOK, r.status)
	for _, c := range subcommands() {
		require.Contains(t, r.out, "lookgate "+c.name)
	}
	require.Contains(t, r.out, "breakers do")
}
