package main

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// scratch is a module on disk with one package for each way to end.
var scratch = map[string]string{
	"go.mod": "module lookgate\n\ngo 1.26\n",
	"good/good_test.go": `package good

import "testing"

func TestA(t *testing.T) { t.Run("one", func(t *testing.T) {}) }
func TestB(t *testing.T) { t.Skip("not on this machine") }
func FuzzSeeded(f *testing.F) { f.Add(1); f.Add(2); f.Fuzz(func(t *testing.T, n int) {}) }
`,
	"bad/bad_test.go": `package bad

import "testing"

func TestC(t *testing.T) { t.Run("sub", func(t *testing.T) { t.Log("said before"); t.Error("wrong by 3") }) }
func TestD(t *testing.T) { t.Log("nobody asks") }
`,
	"broken/broken_test.go": "package broken\n\nvar x = missing\n",
	"crash/crash_test.go":   "package crash\n\nimport \"testing\"\n\nfunc TestE(t *testing.T) { panic(\"out of bounds\") }\n",
	"exit/exit_test.go":     "package exit\n\nimport (\"os\"; \"testing\")\n\nfunc TestMain(m *testing.M) { println(\"no port\"); os.Exit(3) }\n",
	"none/none.go":          "package none\n",
}

// over writes a module and returns a run over it, and what it prints.
func over(t *testing.T, files map[string]string) (*verify, *bytes.Buffer) {
	t.Helper()
	dir := t.TempDir()
	for name, text := range files {
		require.NoError(t, os.MkdirAll(filepath.Join(dir, filepath.Dir(name)), 0o755))
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644))
	}
	t.Setenv("GOFLAGS", "-mod=mod")
	out := &bytes.Buffer{}
	return &verify{root: dir, out: out, tally: newTally(out), fuzzTime: "20x"}, out
}

// only returns the files of scratch under some folders.
func only(dirs ...string) map[string]string {
	out := map[string]string{"go.mod": scratch["go.mod"]}
	for name, text := range scratch {
		for _, d := range dirs {
			if strings.HasPrefix(name, d+"/") {
				out[name] = text
			}
		}
	}
	return out
}

// noRace keeps the go command from linking the race detector, which would take
// most of the time of these tests.
func noRace(t *testing.T) { t.Setenv("CGO_ENABLED", "0") }

func TestTestStepCountsEveryWayToEnd(t *testing.T) {
	noRace(t)
	v, out := over(t, scratch)
	v.step("test", v.test)
	require.Error(t, v.done[0].err)
	require.False(t, v.summary())
	said := out.String()

	// TestA, its part, FuzzSeeded, its two seeds, TestD. TestC and its part,
	// TestE, and one each for what did not build and what left at once.
	require.True(t, strings.HasSuffix(said, "\n6 passed, 5 failed\n"), said)
	require.Contains(t, v.done[0].note, "1 skipped")
	require.Equal(t, map[string]int{"lookgate/good.FuzzSeeded": 2}, v.tally.seeds)
	for _, want := range []string{"said before", "wrong by 3", "undefined: missing", "out of bounds", "no port",
		"not on this machine", "ok    good", "FAIL  bad TestC/sub", "FAIL  crash", "FAIL  broken", "FAIL  exit", "-     none"} {
		require.Contains(t, said, want)
	}
	require.NotContains(t, said, "nobody asks", "a passing test is quiet")
	require.NotContains(t, said, `"Action"`, "raw events are not for people")
}

func TestTestStepNeedsATest(t *testing.T) {
	noRace(t)
	v, _ := over(t, only("none"))
	_, err := v.test()
	require.ErrorContains(t, err, "no test ran")
}

func TestTestStepInCINeedsTheRaceDetector(t *testing.T) {
	noRace(t)
	v, _ := over(t, only("good"))
	v.ci = true
	_, err := v.test()
	require.ErrorContains(t, err, "race detector")
}

func TestFuzzStep(t *testing.T) {
	if testing.Short() {
		t.Skip("builds instrumented binaries")
	}
	noRace(t)
	fuzzed := func(body string) map[string]string {
		return map[string]string{"go.mod": scratch["go.mod"], "f/f_test.go": "package f\n\nimport \"testing\"\n\nfunc FuzzX(f *testing.F) { " + body + " }\n"}
	}
	for _, row := range []struct {
		name  string
		files map[string]string
		fails string
	}{
		{"a target with seeds", only("good"), ""},
		{"no target anywhere", only("none"), "no fuzz target found"},
		{"a target without a seed", fuzzed(`f.Fuzz(func(t *testing.T, n int) {})`), "no seed was played"},
		{"a target that fails once it is fuzzed", fuzzed(`f.Add(0); f.Fuzz(func(t *testing.T, n int) { if n != 0 { t.Error("found it") } })`), "f FuzzX"},
	} {
		t.Run(row.name, func(t *testing.T) {
			v, out := over(t, row.files)
			_, _ = v.test()
			v.step("fuzz", v.fuzz)
			if row.fails == "" {
				require.NoError(t, v.done[0].err)
				require.True(t, v.summary())
				return
			}
			require.ErrorContains(t, v.done[0].err, row.fails)
			require.False(t, v.summary())
			if strings.Contains(row.name, "fuzzed") {
				require.Contains(t, out.String(), "found it")
			}
		})
	}
}

func TestGofmtStep(t *testing.T) {
	v, _ := over(t, map[string]string{"go.mod": scratch["go.mod"], "web/web.go": "package web\n"})
	_, err := v.gofmt()
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(v.root, "web", "web.go"), []byte("package  web\n"), 0o644))
	_, err = v.gofmt()
	require.ErrorContains(t, err, filepath.Join("web", "web.go"))
}

func TestHouseStep(t *testing.T) {
	v, out := over(t, map[string]string{"go.mod": scratch["go.mod"], "web/web.go": "package web\n"})
	_, err := v.house()
	require.ErrorContains(t, err, "1 faults")
	require.Contains(t, out.String(), "web: package-comment:")
}

func TestSummaryNeverSaysNothingFailedWhenAStepDid(t *testing.T) {
	for _, name := range []string{"needs", "vet", "test", "fuzz"} {
		var out bytes.Buffer
		v := &verify{out: &out, tally: &tally{passed: 7}, done: []step{{name: name, err: errors.New("no")}}}
		require.False(t, v.summary(), name)
		require.True(t, strings.HasSuffix(out.String(), "\n7 passed, 1 failed\n"), out.String())
	}
	var out bytes.Buffer
	v := &verify{out: &out, tally: &tally{passed: 7}, done: []step{{name: "test"}}}
	require.True(t, v.summary())
	require.True(t, strings.HasSuffix(out.String(), "\n7 passed, 0 failed\n"), out.String())
}

func TestArguments(t *testing.T) {
	var out bytes.Buffer
	require.Equal(t, 2, run([]string{"./presets"}, &out))
	require.Contains(t, out.String(), `unexpected argument "./presets"`)
	require.Equal(t, 2, run([]string{"-fast"}, &out))
	require.Equal(t, 0, run([]string{"-h"}, &out))
	t.Chdir(t.TempDir())
	require.Equal(t, 2, run(nil, &out), "outside of a module")
}

func TestIsTrue(t *testing.T) {
	for text, want := range map[string]bool{"": false, "0": false, "false": false, "False": false, "true": true, "1": true, "yes": true} {
		require.Equal(t, want, isTrue(text), "%q", text)
	}
}
