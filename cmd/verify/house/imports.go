package house

import (
	"fmt"
	"go/ast"
	"slices"
	"strings"
)

// imports holds one package against the tables of who may import what.
func (h *check) imports(p *pkg) {
	allowed, known := mayImport[p.dir]
	if !known {
		h.note(p.dir, "no-rule", fmt.Sprintf("package %s has no rule", p.dir),
			"decide what it may import and add a line to mayImport in cmd/verify/house/tables.go")
	}
	for _, f := range p.files {
		for _, spec := range f.ast.Imports {
			name := importPath(spec)
			switch dir, ours := inModule(name); {
			case ours && known && !f.external:
				h.direction(f, spec, dir, allowed)
			case ours:
			case !isStd(name):
				h.library(f, spec, name)
			case !f.test:
				h.std(f, spec, name)
			}
		}
	}
}

// direction checks one import of a package of the module.
func (h *check) direction(f *file, spec *ast.ImportSpec, dir string, allowed []string) {
	if slices.Contains(allowed, all) || slices.Contains(allowed, dir) || f.test && slices.Contains(testSupport, dir) {
		return
	}
	h.at(spec.Pos(), "direction", fmt.Sprintf("%s may not import %s", f.dir, dir), directionRemedy(f.dir, dir))
}

func directionRemedy(from, to string) string {
	switch {
	case isUnder(from, "protocols") && isUnder(to, "protocols"):
		return "protocols do not know each other: put the contract into protocols and let cmd wire the two"
	case from == "presets/plant":
		return "the plant judges the arithmetic, so it must not share it: write its own, slow and obvious"
	case isUnder(from, "web"):
		return "the panel sees nothing: it is served by what cmd wires"
	default:
		return "imports go one way: move the thing down, pass it as an argument, or let cmd wire the two"
	}
}

// library checks one import of a module from outside.
func (h *check) library(f *file, spec *ast.ImportSpec, name string) {
	for _, l := range libraries {
		if name != l.path && !strings.HasPrefix(name, l.path+"/") {
			continue
		}
		test := f.test || slices.Contains(testSupport, f.dir)
		if !slices.Contains(l.in, f.dir) && !(test && l.tests) {
			h.at(spec.Pos(), "library", fmt.Sprintf("%s may not import %s", f.dir, name), l.why)
		}
		return
	}
	h.at(spec.Pos(), "library", fmt.Sprintf("%s has no rule", name),
		"do without it, or say in libraries in cmd/verify/house/tables.go who may import it and why")
}

// std checks one import of the standard library in shipped code.
func (h *check) std(f *file, spec *ast.ImportSpec, name string) {
	for _, b := range stdBans {
		if isUnder(f.dir, b.under) && b.covers(name) && !slices.Contains(b.except, f.dir) {
			h.at(spec.Pos(), b.rule, fmt.Sprintf("%s may not import %s", f.dir, name), b.because)
		}
	}
}

func (b stdBan) covers(name string) bool {
	for _, p := range b.paths {
		top, deep := strings.CutSuffix(p, "/...")
		if name == top || deep && isUnder(name, top) {
			return true
		}
	}
	return false
}
