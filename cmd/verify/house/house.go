// Package house holds the plan of this house as tables, and checks a source
// tree against them: which package may import which, what may not be used in
// the packages that must be a pure function of their arguments, and the shape
// that every file and function keeps.
//
// The tables are in tables.go; a new package, library or exception is a line
// there and nothing else. [Check] needs no package outside the standard
// library: imports and shapes are read with go/parser, and what only a type can
// tell (a map under range, a bare number behind an alias, a clock behind a
// renamed import) with go/types.
package house

import (
	"cmp"
	"fmt"
	"go/token"
	"io/fs"
	"slices"
)

// Fault is one place where the tree departs from the plan.
type Fault struct {
	// Place is file:line:column, or a file or folder where no line is at fault.
	Place string
	// Rule is the short name of the rule, the same for every fault of one kind.
	Rule string
	// Text says what is wrong and names the thing.
	Text string
	// Remedy says what to do about it.
	Remedy string
}

// String prints the fault on two lines: what is wrong and where, then what to do.
func (f Fault) String() string {
	return fmt.Sprintf("%s: %s: %s\n\t%s", f.Place, f.Rule, f.Text, f.Remedy)
}

// Check reads the module in tree and returns every fault in it, ordered by
// place. outside finds the packages that are not in the tree; one value may
// serve many checks, one after the other. An error means that the tree could
// not be judged at all, which is never the same as being without fault.
func Check(tree fs.FS, outside *Outside) ([]Fault, error) {
	h := &check{tree: tree, fset: token.NewFileSet(), outside: outside}
	if err := h.load(); err != nil {
		return nil, err
	}
	if len(h.packages) == 0 {
		return nil, fmt.Errorf("no Go package found: nothing was checked")
	}
	if err := h.topLevel(); err != nil {
		return nil, err
	}
	for _, p := range h.packages {
		h.imports(p)
		h.comment(p)
		h.names(p)
		for _, f := range p.files {
			h.shape(f)
		}
	}
	if err := h.purity(); err != nil {
		return nil, err
	}
	slices.SortStableFunc(h.faults, func(a, b Fault) int {
		return cmp.Or(cmp.Compare(a.Place, b.Place), cmp.Compare(a.Rule, b.Rule))
	})
	return h.faults, nil
}

// check is the state of one run of [Check].
type check struct {
	tree     fs.FS
	fset     *token.FileSet
	outside  *Outside
	packages []*pkg
	faults   []Fault
}

// at notes a fault at a position in a file.
func (h *check) at(pos token.Pos, rule, text, remedy string) {
	p := h.fset.Position(pos)
	h.note(fmt.Sprintf("%s:%d:%d", p.Filename, p.Line, p.Column), rule, text, remedy)
}

// note notes a fault at a place that is not a position: a file or a folder.
func (h *check) note(place, rule, text, remedy string) {
	h.faults = append(h.faults, Fault{Place: place, Rule: rule, Text: text, Remedy: remedy})
}
