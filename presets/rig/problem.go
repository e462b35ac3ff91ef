package rig

import (
	"fmt"
	"strings"
	"unicode"
)

// Problem is one thing that is wrong with a rig as described. It names the part by the slice that holds it, its index and the key, so that whoever read
// the rig from a file can give file, line and column.
type Problem struct {
	Code     string // row of [Templates] that it was made from
	Part     string // key of the part's list in rig.yaml or devices.yaml: "circuits", "boards"; empty for the rig itself
	Index    int    // into the rig's slice; -1 for a part that is no list
	Key      string // key within the part: "breaker_a"; empty for the part itself
	Sentence string // what is wrong, lower case, no full stop
	Hint     string // what to do
	Warning  bool   // the rig may be used; somebody should know
}

// maxShown is the longest thing, in octets, that a sentence repeats from a file.
const maxShown = 300

// Shown gives text from a file as a sentence may repeat it: not longer than a few lines, and without characters that would upset a terminal.
func Shown(s string) string {
	if len(s) > maxShown {
		s = s[:maxShown] + "..."
	}
	return strings.Map(func(c rune) rune {
		if !unicode.IsPrint(c) {
			return unicode.ReplacementChar
		}
		return c
	}, s)
}

// Template is the wording of one kind of problem. {1}, {2} ... stand for what the check fills in.
type Template struct {
	Code     string
	Sentence string
	Hint     string
	Warning  bool
	CodeOnly bool // cannot come from a site's files, only from a rig that a program made
}

// Fill gives the sentence and the hint with args in their places.
func (t Template) Fill(args ...any) (sentence, hint string) {
	pairs := make([]string, 0, 2*len(args))
	for i, a := range args {
		pairs = append(pairs, fmt.Sprintf("{%d}", i+1), Shown(fmt.Sprint(a)))
	}
	r := strings.NewReplacer(pairs...)
	return r.Replace(t.Sentence), r.Replace(t.Hint)
}
