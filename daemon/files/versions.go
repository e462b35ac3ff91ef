package files

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// Versions says where earlier contents of a file are kept. Each is a file NAME.000007.LABEL (NAME.000007 without a label) in Folder. The number
// decides which is older, never the label: a label is often a time, and clocks are set back.
type Versions struct {
	Folder string // created where it is missing
	Count  int    // how many are kept of one file; 0 keeps none
	Label  string // told in the name of the version that is being kept, such as a time: letters, digits, - . + _
}

// Version is one kept version of a file.
type Version struct {
	Number int
	Label  string
	Path   string
}

// List returns the versions that are kept of the file called name, oldest first. A folder that is missing holds none.
func (v Versions) List(name string) ([]Version, error) {
	entries, err := os.ReadDir(v.Folder)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("%s: the kept versions cannot be listed: %w\ncheck the permissions of the folder", v.Folder, err)
	}
	var found []Version
	for _, e := range entries {
		number, label, ok := versionOf(e.Name(), name)
		if ok && e.Type().IsRegular() {
			found = append(found, Version{Number: number, Label: label, Path: filepath.Join(v.Folder, e.Name())})
		}
	}
	slices.SortFunc(found, func(a, b Version) int { return a.Number - b.Number })
	return found, nil
}

// versionOf reads number and label out of a version's file name.
func versionOf(entry, name string) (number int, label string, ok bool) {
	rest, ok := strings.CutPrefix(entry, name+".")
	if !ok {
		return 0, "", false
	}
	digits, label, _ := strings.Cut(rest, ".")
	number, err := strconv.Atoi(digits)
	return number, label, err == nil && number > 0 && len(digits) >= 6
}

func (v Versions) add(name string, old []byte) error {
	if strings.IndexFunc(v.Label, notInLabel) >= 0 {
		return fmt.Errorf("version label %q has a character that is not a letter, a digit or one of - . + _", v.Label)
	}
	if err := os.MkdirAll(v.Folder, 0o755); err != nil {
		return err
	}
	if err := FlushFolder(filepath.Dir(v.Folder)); err != nil { // the folder's own name, where it is new
		return err
	}
	kept, err := v.List(name)
	if err != nil {
		return err
	}
	next := 1
	if len(kept) > 0 {
		next = kept[len(kept)-1].Number + 1
	}
	entry := fmt.Sprintf("%s.%06d", name, next)
	if v.Label != "" {
		entry += "." + v.Label
	}
	return writeWhole(filepath.Join(v.Folder, entry), old, newFileMode, func(Step) error { return nil })
}

func (v Versions) drop(name string) {
	kept, err := v.List(name)
	if err != nil {
		return
	}
	for _, old := range kept[:max(0, len(kept)-v.Count)] {
		_ = os.Remove(old.Path) // what stays is dropped by the next replacement
	}
}

func notInLabel(r rune) bool {
	switch {
	case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9':
		return false
	default:
		return !strings.ContainsRune("-.+_", r)
	}
}
