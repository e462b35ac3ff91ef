package main

import (
	"fmt"
	"io"
	"runtime/debug"
)

func versionCommand() subcommand {
	return subcommand{"version", "", "say which build this is", version}
}

func version(args []string, s streams) int {
	if _, status, ok := parse(options(versionCommand(), s), args, 0); !ok {
		return status
	}
	info, ok := debug.ReadBuildInfo()
	printVersion(s.out, info, ok)
	return exitOK
}

// printVersion tells what the Go linker knows: the module's version, the commit it was built from and whether the tree had changes, the Go version.
func printVersion(w io.Writer, info *debug.BuildInfo, ok bool) {
	if !ok {
		fmt.Fprintln(w, "lookgate, built without a record of what from")
		return
	}
	line := "lookgate " + info.Main.Version
	commit, changed := "", ""
	for _, s := range info.Settings {
		switch {
		case s.Key == "vcs.revision":
			commit = ", commit " + s.Value
		case s.Key == "vcs.modified" && s.Value == "true":
			changed = " with changes"
		}
	}
	fmt.Fprintln(w, line+commit+changed+", "+info.GoVersion)
}
