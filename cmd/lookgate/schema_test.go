package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/site"
)

func TestSchema(t *testing.T) {
	for _, name := range site.Files {
		r := runWith("schema", "some/folder/"+name)
		require.Equal(t, exitOK, r.status, r.err)
		checked, err := os.ReadFile(filepath.Join("..", "..", "presets", "site", "schema", site.SchemaOf(name)))
		require.NoError(t, err)
		require.JSONEq(t, string(checked), r.out)
		var top struct {
			Title string `json:"title"`
		}
		require.NoError(t, json.Unmarshal([]byte(r.out), &top))
		require.Equal(t, name, top.Title)
	}
	r := runWith("schema", "wall.yaml")
	require.Equal(t, exitUsage, r.status)
	require.Contains(t, r.err, `a site has no file "wall.yaml"`)
}
