package main

import (
	"bytes"
	"runtime/debug"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestVersion(t *testing.T) {
	r := runWith("version")
	require.Equal(t, exitOK, r.status)
	require.Regexp(t, `^lookgate .*go1\.`, r.out)

	var b bytes.Buffer
	info := &debug.BuildInfo{GoVersion: "go1.26", Settings: []debug.BuildSetting{{Key: "vcs.revision", Value: "abc123"}, {Key: "vcs.modified", Value: "true"}}}
	info.Main.Version = "v0.1.0"
	printVersion(&b, info, true)
	require.Equal(t, "lookgate v0.1.0, commit abc123 with changes, go1.26\n", b.String())
	b.Reset()
	printVersion(&b, nil, false)
	require.Equal(t, "lookgate, built without a record of what from\n", b.String())
}
