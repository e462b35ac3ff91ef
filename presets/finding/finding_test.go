package finding_test

import (
	"encoding/json"
	"go/ast"
	"go/parser"
	"go/token"
	"regexp"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/finding"
	"lookgate/presets/units"
)

// TestEveryCodeHasOneRow reads the constants out of the source, so that a code without a row cannot be added.
func TestEveryCodeHasOneRow(t *testing.T) {
	declared := declaredCodes(t)
	require.NotEmpty(t, declared)
	seen := map[finding.Code]bool{}
	for _, row := range finding.Codes {
		require.False(t, seen[row.Code], "%s has two rows", row.Code)
		seen[row.Code] = true
		require.Regexp(t, regexp.MustCompile(`^[a-z]+(-[a-z]+)*$`), string(row.Code))
		require.NotEmpty(t, row.Meaning)
		require.Contains(t, []finding.Severity{finding.Refuse, finding.Warn, finding.Note}, row.Severity)
	}
	for _, code := range declared {
		require.True(t, seen[code], "%s has no row", code)
	}
	require.Len(t, seen, len(declared))
}

func declaredCodes(t *testing.T) []finding.Code {
	file, err := parser.ParseFile(token.NewFileSet(), "codes.go", nil, 0)
	require.NoError(t, err)
	var codes []finding.Code
	ast.Inspect(file, func(n ast.Node) bool {
		spec, ok := n.(*ast.ValueSpec)
		if !ok {
			return true
		}
		if name, ok := spec.Type.(*ast.Ident); ok && name.Name == "Code" {
			for _, v := range spec.Values {
				word, err := strconv.Unquote(v.(*ast.BasicLit).Value)
				require.NoError(t, err)
				codes = append(codes, finding.Code(word))
			}
		}
		return true
	})
	return codes
}

func TestNewTakesTheSeverityOfItsRow(t *testing.T) {
	f := finding.New(finding.RestartOver, finding.Place{Kind: "circuit", Name: "B7"}, "so it is")
	require.Equal(t, finding.Warn, f.Severity)
	require.Equal(t, "circuit B7", f.Place.String())
	require.Equal(t, "site", finding.Place{Kind: "site"}.String())
	_, known := finding.Of("no-such-code")
	require.False(t, known)
}

func TestRefusesLooksAtAll(t *testing.T) {
	warn, refuse := finding.Finding{Severity: finding.Warn}, finding.Finding{Severity: finding.Refuse}
	require.False(t, finding.Refuses(nil))
	require.False(t, finding.Refuses([]finding.Finding{warn, {Severity: finding.Note}}))
	require.True(t, finding.Refuses([]finding.Finding{warn, refuse}))
}

// TestFindingAsJSON holds the field names that stations and scripts read.
func TestFindingAsJSON(t *testing.T) {
	level := units.Level(0.62)
	f := finding.New(finding.CircuitOver, finding.Place{Kind: "circuit", Name: "B7"}, "over")
	f.Computed, f.Limit = units.InAmps(18), units.InAmps(16)
	f.Remedies = []finding.Remedy{{When: finding.Now, Words: "recall", Do: &finding.Do{Verb: "recall", Target: "day", Level: &level}}}
	b, err := json.Marshal(f)
	require.NoError(t, err)
	require.JSONEq(t, `{"code":"circuit-over","severity":"refuse","place":{"kind":"circuit","name":"B7"},"computed":{"value":18,"unit":"A"},
		"limit":{"value":16,"unit":"A"},"sentence":"over","remedies":[{"when":"now","words":"recall","do":{"verb":"recall","target":"day","level":0.62}}]}`, string(b))
}
