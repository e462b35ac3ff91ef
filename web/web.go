// Package web is the operator panel: pages, scripts and styles as a browser takes them, with no build step and nothing from elsewhere. It speaks to the
// daemon through the WebSocket at /ws only.
package web

import (
	"embed"
	"io/fs"
)

//go:embed panel
var files embed.FS

// Files gives the panel's files; index.html stands at the top.
func Files() fs.FS {
	panel, err := fs.Sub(files, "panel")
	if err != nil {
		panic(err) // the folder is named in the line above
	}
	return panel
}
