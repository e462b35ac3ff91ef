package house

import (
	"go/ast"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"
)

// houseOf returns a tree in memory: the clean house with files laid over it.
func houseOf(over map[string]string) fstest.MapFS {
	tree := fstest.MapFS{}
	for _, files := range []map[string]string{clean, over} {
		for name, text := range files {
			tree[name] = &fstest.MapFile{Data: []byte(text), Mode: 0o644}
		}
	}
	return tree
}

func TestCleanHousePasses(t *testing.T) {
	faults, err := Check(houseOf(nil), NewOutside(root))
	require.NoError(t, err)
	require.Empty(t, faults)
}

func TestPlantedFaultIsFound(t *testing.T) {
	outside := NewOutside(root)
	for _, row := range planted {
		t.Run(row.name, func(t *testing.T) {
			faults, err := Check(houseOf(row.files), outside)
			require.NoError(t, err)
			require.NotEmpty(t, faults, "not found")
			for _, f := range faults {
				require.Equal(t, row.rule, f.Rule, "%s", f)
				require.True(t, strings.HasPrefix(f.Place, row.place), "want %s\nhave %s", row.place, f)
				require.NotEmpty(t, f.Text)
				require.NotEmpty(t, f.Remedy)
			}
		})
	}
}

// TestEveryRuleIsPlanted fails for a rule that no planted fault has shown to work.
func TestEveryRuleIsPlanted(t *testing.T) {
	shown := map[string]bool{}
	for _, row := range planted {
		shown[row.rule] = true
	}
	for _, b := range stdBans {
		require.True(t, shown[b.rule], b.rule)
	}
	for _, b := range nameBans {
		require.True(t, shown[b.rule], b.rule)
	}
}

// TestEveryForbiddenNameIsFound uses each forbidden function of a package as a
// value, which is the way to use it that a search for calls would miss.
func TestEveryForbiddenNameIsFound(t *testing.T) {
	outside := NewOutside(root)
	for _, b := range nameBans {
		for _, full := range b.names {
			dot := strings.LastIndex(full, ".")
			if dot < 0 || strings.HasPrefix(full, "(") {
				continue // builtins and methods have rows of their own
			}
			path, name := full[:dot], full[dot+1:]
			use := "any(x." + name + ")"
			if path == "iter" {
				use = "any(x." + name + map[string]string{"Pull": "[int])", "Pull2": "[int, int])"}[name]
			}
			faults, err := Check(houseOf(rigWith(`import x "`+path+`"; var planted = `+use)), outside)
			require.NoError(t, err)
			require.Len(t, faults, 1, full)
			require.Equal(t, b.rule, faults[0].Rule, full)
			require.Contains(t, faults[0].Text, full)
		}
	}
}

// TestForbiddenImportCovers reads each line of the table of forbidden packages:
// it covers its package, those below it only where it says so, and no neighbour.
func TestForbiddenImportCovers(t *testing.T) {
	for _, b := range stdBans {
		for _, p := range b.paths {
			name, deep := strings.CutSuffix(p, "/...")
			require.True(t, b.covers(name), name)
			require.Equal(t, deep, b.covers(name+"/below"), name)
			require.False(t, b.covers(name+"x"), name)
		}
	}
}

// TestFaultOnDisk finds a fault in a folder of files as it does in memory.
func TestFaultOnDisk(t *testing.T) {
	dir := t.TempDir()
	for name, file := range houseOf(rigWith(`import "time"; var clock = time.Now`)) {
		require.NoError(t, os.MkdirAll(filepath.Join(dir, filepath.Dir(name)), 0o755))
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), file.Data, 0o644))
	}
	faults, err := Check(os.DirFS(dir), NewOutside(root))
	require.NoError(t, err)
	require.Len(t, faults, 1)
	require.Equal(t, `presets/rig/planted.go:3:33: clock: presets/rig uses time.Now
	time is an argument: take now, return the next deadline`, faults[0].String())
}

// TestNothingToCheckIsAnError: an empty tree must not pass for a clean one.
func TestNothingToCheckIsAnError(t *testing.T) {
	_, err := Check(fstest.MapFS{"LICENSE": {}}, NewOutside(root))
	require.Error(t, err)
}

// TestExemptions: what is listed with a reason passes, and only that.
func TestExemptions(t *testing.T) {
	long := "func %() {" + strings.Repeat("\n", maxFuncLines) + "}\n\n"
	tree := houseOf(rigWith(strings.ReplaceAll(long, "%", "listed") + strings.ReplaceAll(long, "%", "other")))
	before := maps.Clone(longFunctions)
	t.Cleanup(func() { longFunctions = before })
	longFunctions = map[string]string{"presets/rig.listed": "for this test"}

	faults, err := Check(tree, NewOutside(root))
	require.NoError(t, err)
	require.Len(t, faults, 1)
	require.Contains(t, faults[0].Text, "other has 51 lines")
}

// declared returns the names of all functions of a tree, as [longFunctions]
// writes them.
func declared(t *testing.T, h *check) []string {
	t.Helper()
	require.NoError(t, h.load())
	var out []string
	for _, p := range h.packages {
		for _, f := range p.files {
			for _, d := range f.ast.Decls {
				if d, ok := d.(*ast.FuncDecl); ok {
					out = append(out, f.dir+"."+funcName(d))
				}
			}
		}
	}
	require.NotEmpty(t, out)
	slices.Sort(out)
	return out
}
