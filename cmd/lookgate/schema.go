package main

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"lookgate/presets/site"
)

func schemaCommand() subcommand {
	return subcommand{"schema", "FILE", "print the JSON Schema of one of a site's files, for an editor: rig.yaml", schema}
}

// schema is the subcommand: what it prints is what this build reads.
func schema(args []string, s streams) int {
	plain, status, ok := parse(options(schemaCommand(), s), args, 1)
	if !ok {
		return status
	}
	i := slices.Index(site.Files, filepath.Base(plain[0]))
	if i < 0 {
		fmt.Fprintf(s.err, "a site has no file %q\nname one of %s\n", plain[0], strings.Join(site.Files, ", "))
		return exitUsage
	}
	if _, err := s.out.Write(site.Schemas()[i]); err != nil {
		fmt.Fprintf(s.err, "the schema could not be printed: %v\nsend it to a file on a disk with room\n", err)
		return exitRefused
	}
	return exitOK
}
