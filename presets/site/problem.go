package site

import (
	"cmp"
	"fmt"
	"slices"
)

// Problem is one thing that is wrong in a site's files, at its place.
type Problem struct {
	Code     string // row of the table of templates that it was made from
	File     string
	Line     int    // from 1; 0 where the file as a whole is meant
	Column   int    // from 1, in characters; 0 where the line as a whole is meant
	Path     string // "circuits[2].breaker_a", counted from 0; empty for the file as a whole
	Sentence string // what is wrong
	Hint     string // what to do
	Warning  bool   // the site may be used; somebody should know
}

// String gives two lines: the place with what is wrong, and what to do. The first is "rig.yaml:41:7: circuits[2].breaker_a: ..." and says where it is
// only a warning.
func (p Problem) String() string {
	at := p.File
	if p.Line > 0 {
		at += fmt.Sprintf(":%d", p.Line)
		if p.Column > 0 {
			at += fmt.Sprintf(":%d", p.Column)
		}
	}
	at += ": "
	if p.Warning {
		at += "warning: "
	}
	if p.Path != "" {
		at += p.Path + ": "
	}
	return at + p.Sentence + "\n    " + p.Hint
}

// Broken reports whether any of the problems is more than a warning.
func Broken(problems []Problem) bool {
	return slices.ContainsFunc(problems, func(p Problem) bool { return !p.Warning })
}

// maxProblems bounds what one reading tells. A file that is wrong in more places than this is not mended place by place.
const maxProblems = 500

// list collects problems.
type list struct {
	problems []Problem
	same     map[Problem]int // problems so far: index of the first of those that are told together
	more     map[int]int     // by that index, how many others there are
	left     int             // how many found no room
}

// add keeps a problem, once. Where merge says so, of several of one kind at one place it keeps the first and counts the others: a rule that is wrong is
// one mistake, whatever it makes.
func (l *list) add(p Problem, merge bool) {
	key := p
	if merge {
		key.Sentence, key.Hint = "", ""
	}
	if first, ok := l.same[key]; ok {
		if l.problems[first].Sentence != p.Sentence {
			l.more[first]++
		}
		return
	}
	if l.full() {
		l.left++
		return
	}
	l.same[key] = len(l.problems)
	l.problems = append(l.problems, p)
}

// full reports whether no more problems are kept.
func (l *list) full() bool { return len(l.problems) >= maxProblems }

// sorted gives the problems by place, the warnings after all others.
func (l *list) sorted() []Problem {
	out := slices.Clone(l.problems)
	for i := range out {
		if n := l.more[i]; n > 0 {
			out[i].Sentence += fmt.Sprintf(" (and %d more of this kind here)", n)
		}
	}
	slices.SortStableFunc(out, func(a, b Problem) int {
		return cmp.Or(
			cmp.Compare(order(a.Warning), order(b.Warning)),
			cmp.Compare(slices.Index(Files, a.File), slices.Index(Files, b.File)),
			cmp.Compare(a.File, b.File),
			cmp.Compare(a.Line, b.Line),
			cmp.Compare(a.Column, b.Column),
		)
	})
	if l.left > 0 {
		t := template("too-many-problems")
		p := Problem{Code: t.Code, File: out[len(out)-1].File}
		p.Sentence, p.Hint = t.Fill(l.left)
		out = append(out, p)
	}
	return out
}

func order(warning bool) int {
	if warning {
		return 1
	}
	return 0
}
