package site_test

import (
	"context"
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"

	"lookgate/presets/site"
)

// schemaFolder is where the checked-in schemas lie, for the editors of those who have this tree.
const schemaFolder = "schema"

// TestSchemas_AreThoseCheckedIn holds the schemas in the tree to what the reading asks for now.
func TestSchemas_AreThoseCheckedIn(t *testing.T) {
	for i, text := range site.Schemas() {
		path := filepath.Join(schemaFolder, site.SchemaOf(site.Files[i]))
		if *rewrite {
			require.NoError(t, os.WriteFile(path, text, 0o644))
		}
		want, err := os.ReadFile(path)
		require.NoError(t, err)
		require.Equal(t, string(want), string(text), "%s: go test ./presets/site -run TestSchemas -rewrite", path)
	}
}

// judge is a validator that nobody here wrote: python3-jsonschema of Debian. It reads [schema, value] pairs and says for each how many errors it finds, after it has
// judged the schemas themselves.
const judge = `
import json, sys
from jsonschema import Draft202012Validator as V
seen = {}
for schema, value in json.load(sys.stdin):
    if schema not in seen:
        text = json.load(open(schema))
        V.check_schema(text)
        seen[schema] = V(text)
    print(sum(1 for _ in seen[schema].iter_errors(value)))
`

// python finds an interpreter that has the validator. Where there is none the test is skipped, but never in CI.
func python(t *testing.T) string {
	t.Helper()
	for _, name := range []string{"python3", "/usr/bin/python3"} {
		if exec.CommandContext(t.Context(), name, "-c", "import jsonschema").Run() == nil {
			return name
		}
	}
	if os.Getenv("CI") == "true" {
		t.Fatal("python3-jsonschema is missing")
	}
	t.Skip("python3-jsonschema is missing: install it")
	return ""
}

// asked is one file of a site to be judged.
type asked struct {
	what, file string
	text       []byte
}

// judged gives how many errors the validator finds in each file.
func judged(t *testing.T, list []asked) []int {
	t.Helper()
	var pairs [][2]any
	for _, a := range list {
		var doc yaml.Node
		require.NoError(t, yaml.Unmarshal(a.text, &doc), a.what)
		pairs = append(pairs, [2]any{filepath.Join(schemaFolder, site.SchemaOf(a.file)), plainJSON(t, doc.Content[0])})
	}
	in, err := json.Marshal(pairs)
	require.NoError(t, err)
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	cmd := exec.CommandContext(ctx, python(t), "-c", judge)
	cmd.Stdin, cmd.Stderr = strings.NewReader(string(in)), os.Stderr
	out, err := cmd.Output()
	require.NoError(t, err)
	var counts []int
	for line := range strings.FieldsSeq(string(out)) {
		n, err := strconv.Atoi(line)
		require.NoError(t, err)
		counts = append(counts, n)
	}
	require.Len(t, counts, len(list))
	return counts
}

// plainJSON gives a tree as an editor's YAML parser sees it.
func plainJSON(t *testing.T, n *yaml.Node) any {
	t.Helper()
	switch n.Kind {
	case yaml.MappingNode:
		m := map[string]any{}
		for i := 0; i < len(n.Content); i += 2 {
			m[n.Content[i].Value] = plainJSON(t, n.Content[i+1])
		}
		return m
	case yaml.SequenceNode:
		list := []any{}
		for _, c := range n.Content {
			list = append(list, plainJSON(t, c))
		}
		return list
	}
	switch n.Tag {
	case "!!int", "!!float", "!!bool", "!!null":
		var v any
		require.NoError(t, n.Decode(&v))
		if f, is := v.(float64); is && (math.IsNaN(f) || math.IsInf(f, 0)) {
			return n.Value // JSON has no such number
		}
		return v
	}
	return n.Value
}

// sites gives every site whose files can be read, good ones and those that only warn.
func sites(t *testing.T) map[string]map[string][]byte {
	t.Helper()
	all := map[string]map[string][]byte{}
	good, err := filepath.Glob(filepath.Join(testdata, "sites", "*"))
	require.NoError(t, err)
	for _, folder := range good {
		all[folder] = files(t, folder)
	}
	bad, err := filepath.Glob(filepath.Join(testdata, "bad", "*"))
	require.NoError(t, err)
	for _, folder := range bad {
		all[folder] = broken(t, folder)
	}
	for folder, texts := range all {
		if s, _ := site.Read(texts); s == nil {
			delete(all, folder)
		}
	}
	return all
}

// TestSchemas_TakeWhatTheReadingTakes has the validator judge every file of every site that can be read.
func TestSchemas_TakeWhatTheReadingTakes(t *testing.T) {
	var list []asked
	for folder, texts := range sites(t) {
		for _, name := range site.Files {
			list = append(list, asked{folder + "/" + name, name, texts[name]})
		}
	}
	require.Greater(t, len(list), 40)
	for i, n := range judged(t, list) {
		require.Zero(t, n, list[i].what)
	}
}

// ofForm are the mistakes that a schema has to find: those of a file's form, and not those of the plant that it describes.
var ofForm = []string{"content-range", "count-range", "level-range", "missing-key", "no-value", "not-address", "not-cross", "not-host", "not-link", "not-list", "not-mapping", "not-number",
	"not-rate", "not-single", "not-time", "not-whole", "not-yes", "panel-unreadable", "unknown-key", "unknown-word", "wrong-unit"}

// TestSchemas_RefuseMistakesOfForm has the validator judge the broken sites.
func TestSchemas_RefuseMistakesOfForm(t *testing.T) {
	var list []asked
	for _, code := range ofForm {
		texts := broken(t, filepath.Join(testdata, "bad", code))
		_, problems := site.Read(texts)
		i := slices.IndexFunc(problems, func(p site.Problem) bool { return p.Code == code })
		require.GreaterOrEqual(t, i, 0, code)
		list = append(list, asked{code, problems[i].File, texts[problems[i].File]})
	}
	for i, n := range judged(t, list) {
		require.Positive(t, n, list[i].what)
	}
}

// TestSchemas_KnowEveryKey gives one key after the other a letter too many, all over the good sites: the schema must not take it.
func TestSchemas_KnowEveryKey(t *testing.T) {
	draw := rand.New(rand.NewPCG(3, 9))
	var list []asked
	for _, name := range []string{"demo", "iec", "small", "trade"} {
		texts := files(t, filepath.Join(testdata, "sites", name))
		for _, file := range site.Files {
			var doc yaml.Node
			require.NoError(t, yaml.Unmarshal(texts[file], &doc))
			keys := keysOf(&doc)
			for range 25 {
				k := keys[draw.IntN(len(keys))]
				was := k.Value
				k.Value += "x"
				text, err := yaml.Marshal(&doc)
				require.NoError(t, err)
				k.Value = was
				list = append(list, asked{name + "/" + file + ": " + was + "x", file, text})
			}
		}
	}
	for i, n := range judged(t, list) {
		require.Positive(t, n, list[i].what)
	}
}

// keysOf gives the keys of all mappings but those that are the writer's own: the zones of a preset.
func keysOf(n *yaml.Node) []*yaml.Node {
	var out []*yaml.Node
	for i, c := range n.Content {
		if n.Kind == yaml.MappingNode && i%2 == 0 {
			out = append(out, c)
			continue
		}
		inner := keysOf(c)
		if n.Kind == yaml.MappingNode && n.Content[i-1].Value == "zones" && c.Kind == yaml.MappingNode {
			inner = nil
		}
		out = append(out, inner...)
	}
	return out
}
