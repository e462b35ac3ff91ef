package house

import (
	"fmt"
	"go/ast"
	"go/token"
	"go/types"
	"slices"
	"strings"
)

// orderMark opens the comment that says why a map's random order cannot be seen
// in a result. It stands on the line of the range or on the line above, and a
// reason follows it.
const orderMark = "order does not show:"

// purity holds the shipped code under presets/ to being a pure function of its
// arguments.
func (h *check) purity() error {
	packages, err := h.purePackages()
	if err != nil {
		return err
	}
	for _, p := range packages {
		for _, f := range p.shipped() {
			if !f.built {
				h.note(f.path, "build-constraint", "a file under presets/ with a build constraint",
					"take it away: the code that is checked must be the code that runs, everywhere")
				continue
			}
			h.usedNames(p, f)
			h.concurrency(f)
			h.mapOrder(p, f)
		}
		if !slices.Contains(bareNumbersIn, p.dir) {
			h.bareNumbers(p)
		}
	}
	return nil
}

// usedNames finds forbidden functions by what a name resolves to.
func (h *check) usedNames(p *typed, f *file) {
	ast.Inspect(f.ast, func(n ast.Node) bool {
		id, ok := n.(*ast.Ident)
		if !ok {
			return true
		}
		full, global := fullName(p.info.Uses[id])
		for _, b := range nameBans {
			if slices.Contains(b.names, full) {
				h.at(id.Pos(), b.rule, fmt.Sprintf("%s uses %s", f.dir, full), b.because)
			}
		}
		if name, ok := strings.CutPrefix(full, "math/rand/v2."); ok && global && !slices.Contains(sourcesOfRandom, name) {
			h.at(id.Pos(), "random", fmt.Sprintf("%s uses %s, which draws from a global source", f.dir, full),
				"draw from rand.New with the seed that the run prints")
		}
		return true
	})
}

// fullName returns the name of an object with its package's path, methods with
// their receiver's type, and whether it stands at the top of its package. It is
// empty for a local name, and the plain name for one of the language's own.
func fullName(obj types.Object) (full string, global bool) {
	switch obj := obj.(type) {
	case nil:
		return "", false
	case *types.Builtin:
		return obj.Name(), false
	case *types.Func:
		return obj.FullName(), obj.Signature().Recv() == nil
	}
	if obj.Pkg() == nil || obj.Parent() != obj.Pkg().Scope() {
		return "", false
	}
	return obj.Pkg().Path() + "." + obj.Name(), true
}

// concurrency finds goroutines and what only serves them.
func (h *check) concurrency(f *file) {
	const remedy = "nothing under presets/ runs beside its caller: return what should happen, and let the daemon do it"
	ast.Inspect(f.ast, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.GoStmt:
			h.at(n.Pos(), "goroutine", f.dir+" starts a goroutine", remedy)
		case *ast.ChanType:
			h.at(n.Pos(), "goroutine", f.dir+" uses a channel", remedy)
		case *ast.SelectStmt:
			h.at(n.Pos(), "goroutine", f.dir+" waits in a select", remedy)
		}
		return true
	})
}

// mapOrder finds where a map's random order could reach a result: a map under
// range, and the functions of package maps that walk one, unless slices.Sorted
// takes what they yield.
func (h *check) mapOrder(p *typed, f *file) {
	sorted := map[ast.Expr]bool{}
	ast.Inspect(f.ast, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.RangeStmt:
			if t := p.info.TypeOf(n.X); t != nil && isMap(t) {
				h.unlessMarked(f, n.Pos(), "range over a map")
			}
		case *ast.CallExpr:
			switch name := h.callee(p, n); name {
			case "slices.Sorted", "maps.Collect":
				if len(n.Args) == 1 {
					sorted[n.Args[0]] = true // reached before its argument
				}
			case "maps.Keys", "maps.Values", "maps.All", "maps.DeleteFunc":
				if !sorted[n] {
					h.unlessMarked(f, n.Pos(), name+" walks a map")
				}
			}
		}
		return true
	})
}

// callee returns the full name of the function that is called, if it has one.
func (h *check) callee(p *typed, call *ast.CallExpr) string {
	fun := call.Fun
	for {
		switch x := fun.(type) {
		case *ast.ParenExpr:
			fun = x.X
		case *ast.IndexExpr:
			fun = x.X
		case *ast.IndexListExpr:
			fun = x.X
		case *ast.SelectorExpr:
			name, _ := fullName(p.info.Uses[x.Sel])
			return name
		case *ast.Ident:
			name, _ := fullName(p.info.Uses[x])
			return name
		default:
			return ""
		}
	}
}

// unlessMarked notes a fault of order unless a comment on the line or the line
// above says why the order does not show.
func (h *check) unlessMarked(f *file, pos token.Pos, text string) {
	line := h.fset.Position(pos).Line
	for _, group := range f.ast.Comments {
		for _, c := range group.List {
			at := h.fset.Position(c.Pos()).Line
			if at != line && at != line-1 {
				continue
			}
			reason, marked := strings.CutPrefix(strings.TrimSpace(strings.TrimPrefix(c.Text, "//")), orderMark)
			if marked && strings.TrimSpace(reason) != "" {
				return
			}
		}
	}
	h.at(pos, "map-order", text+", whose order is random",
		"range over sorted keys, or say on the line above: // "+orderMark+" and why")
}

// isMap says whether a value of the type is a map, also behind a name or a type
// parameter that admits one.
func isMap(t types.Type) bool {
	if p, ok := types.Unalias(t).(*types.TypeParam); ok {
		return admitsMap(p.Constraint())
	}
	_, ok := t.Underlying().(*types.Map)
	return ok
}

func admitsMap(t types.Type) bool {
	switch u := t.Underlying().(type) {
	case *types.Map:
		return true
	case *types.Union:
		for term := range u.Terms() {
			if admitsMap(term.Type()) {
				return true
			}
		}
	case *types.Interface:
		for e := range u.EmbeddedTypes() {
			if admitsMap(e) {
				return true
			}
		}
	}
	return false
}
