// Package sites carries the demo site into the program, so that the demo needs no folder.
package sites

import "embed"

// Demo is the demo site: the files of the folder demo.
//
//go:embed demo/*.yaml
var Demo embed.FS
