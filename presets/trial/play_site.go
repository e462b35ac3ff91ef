package trial

import (
	"errors"
	"fmt"
	"strings"

	"lookgate/presets"
	"lookgate/presets/site"
)

// SitePlan is for whoever loads the sites that scenarios name: it makes a plan of a site's files. Name is what [Play] asked for; from " with " on it may
// carry edits, each a file, what stands there once and what takes its place: "rig.yaml: main_a: 100 = main_a: 90; ...". The error has a line or two a problem.
func SitePlan(name string, files map[string][]byte) (*presets.Plan, error) {
	_, edits, _ := strings.Cut(name, " with ")
	for edit := range strings.SplitSeq(edits, "; ") {
		if edit == "" {
			continue
		}
		file, words, _ := strings.Cut(edit, ": ")
		before, after, _ := strings.Cut(words, " = ")
		if strings.Count(string(files[file]), before) != 1 {
			return nil, fmt.Errorf("%s has not one place that says %q", file, before)
		}
		files[file] = []byte(strings.Replace(string(files[file]), before, after, 1))
	}
	s, problems := site.Read(files)
	if s == nil {
		var lines []string
		for _, p := range problems {
			lines = append(lines, p.String())
		}
		return nil, errors.New(strings.Join(lines, "\n"))
	}
	return presets.NewPlan(s.Rig, s.Book), nil
}

// SiteFolder gives the folder's name in what [Play] asked for.
func SiteFolder(name string) string {
	folder, _, _ := strings.Cut(name, " with ")
	return folder
}
