package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"lookgate/daemon/files"
	"lookgate/presets/site"
)

// fileLimit bounds what is read of one file: a little above what package site takes, so that it is the one to say that a file is too large.
const fileLimit = 5 << 20

// readSite reads a site folder. Files that are missing are left to package site to judge. The error is about the folder itself.
func readSite(folder string) (*site.Site, []site.Problem, error) {
	info, err := os.Stat(folder)
	if err != nil || !info.IsDir() {
		return nil, nil, fmt.Errorf("%s is no folder that can be read\nname a site folder: one that holds rig.yaml", folder)
	}
	contents := map[string][]byte{}
	for _, name := range site.Files {
		text, err := files.ReadWhole(filepath.Join(folder, name), fileLimit)
		switch {
		case errors.Is(err, fs.ErrNotExist):
		case err != nil:
			return nil, nil, err
		default:
			contents[name] = text
		}
	}
	s, problems := site.Read(contents)
	return s, problems, nil
}
