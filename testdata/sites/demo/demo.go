// Package demo carries the demo site into the program, so that the demo needs no folder.
package demo

import "embed"

// Files are the files of the site.
//
//go:embed *.yaml
var Files embed.FS
