package house

import (
	"go/token"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// root is the top of the module, seen from this package's folder.
var root = filepath.Join("..", "..", "..")

// TestHouse holds the real tree to the plan.
func TestHouse(t *testing.T) {
	tree := os.DirFS(root)
	faults, err := Check(tree, NewOutside(root))
	require.NoError(t, err)
	for _, f := range faults {
		t.Error(f)
	}
}

// TestTablesNameOnlyWhatTheyRule fails for a line in a table that can no longer
// take effect, which is how an exception outlives its reason.
func TestTablesNameOnlyWhatTheyRule(t *testing.T) {
	for dir, allowed := range mayImport {
		for _, to := range allowed {
			_, known := mayImport[to]
			require.True(t, known || to == all, "%s may import %s, which has no rule of its own", dir, to)
		}
	}
	for _, l := range libraries {
		for _, dir := range l.in {
			require.Contains(t, mayImport, dir, "%s", l.path)
		}
		require.NotEmpty(t, l.why, l.path)
	}
	for _, b := range stdBans {
		require.NotEmpty(t, b.because, b.rule)
		for _, dir := range b.except {
			require.Contains(t, mayImport, dir)
		}
	}
	long := declared(t, &check{tree: os.DirFS(root), fset: token.NewFileSet()})
	for name, reason := range longFunctions {
		require.NotEmpty(t, reason, name)
		require.Contains(t, long, name, "listed in longFunctions and not in the tree")
	}
}

// TestDirectionsHaveNoCycle follows the table: two packages that may see each
// other would be one package.
func TestDirectionsHaveNoCycle(t *testing.T) {
	var walk func(from string, path []string)
	walk = func(from string, path []string) {
		require.NotContains(t, path, from, "the table allows a cycle")
		for _, to := range mayImport[from] {
			if to != all {
				walk(to, append(slices.Clone(path), from))
			}
		}
	}
	for dir := range mayImport {
		walk(dir, nil)
	}
}
