package house

import (
	"bytes"
	"fmt"
	"go/ast"
	"go/token"
	"io/fs"
	"path"
	"slices"
	"strings"
)

// topLevel checks that nothing new stands at the top of the tree.
func (h *check) topLevel() error {
	entries, err := fs.ReadDir(h.tree, ".")
	if err != nil {
		return err
	}
	for _, e := range entries {
		known := slices.ContainsFunc(topLevelEntries, func(pattern string) bool {
			ok, err := path.Match(pattern, e.Name())
			return err == nil && ok
		})
		if !known {
			h.note(e.Name(), "top-level", fmt.Sprintf("%s does not belong at the top", e.Name()),
				"move it into the folder that owns it, or add it to topLevelEntries in cmd/verify/house/tables.go")
		}
	}
	return nil
}

// comment checks that the package says in one place what it is.
func (h *check) comment(p *pkg) {
	files := p.shipped()
	if len(files) == 0 {
		files = p.files // a folder of tests only is described in one of them
	}
	var commented []*file
	for _, f := range files {
		if strings.TrimSpace(f.ast.Doc.Text()) != "" {
			commented = append(commented, f)
		}
	}
	switch {
	case len(commented) == 0:
		h.note(p.dir, "package-comment", fmt.Sprintf("package %s has no package comment", p.name()),
			"say above a package clause what it is for, beginning with \"Package "+p.name()+"\"")
	case len(commented) > 1:
		h.note(commented[1].path, "package-comment",
			fmt.Sprintf("package %s has a second package comment, the first is in %s", p.name(), commented[0].path),
			"keep one, and leave an empty line between any other comment and the package clause")
	case !strings.HasPrefix(commented[0].ast.Doc.Text(), wantOpening(p.name())):
		h.note(commented[0].path, "package-comment",
			fmt.Sprintf("the package comment does not begin with %q", wantOpening(p.name())),
			"begin with the name, as every doc comment does")
	}
}

func wantOpening(name string) string {
	if name == "main" {
		return "Command "
	}
	return "Package " + name + " "
}

// names checks that the package is called after what it holds.
func (h *check) names(p *pkg) {
	for _, name := range []string{p.name(), path.Base(p.dir)} {
		if slices.Contains(emptyNames, name) {
			h.note(p.dir, "name", fmt.Sprintf("a package called %s says nothing and collects everything", name),
				"name it after what it holds, or move its parts to where they are used")
			return
		}
	}
}

// fileLength checks one source file, Go or not.
func (h *check) fileLength(name string, text []byte) {
	n := bytes.Count(text, []byte("\n"))
	if n > maxFileLines {
		h.note(name, "file-length", fmt.Sprintf("%d lines, at most %d", n, maxFileLines),
			"split it: a file past that holds two ideas")
	}
}

// shape checks one Go file without knowing types.
func (h *check) shape(f *file) {
	if f.test || slices.Contains(testSupport, f.dir) {
		h.sleeps(f)
	}
	if f.test {
		return
	}
	ast.Inspect(f.ast, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.FuncDecl:
			h.funcLength(f, n.Pos(), n.End(), funcName(n))
			return false
		case *ast.FuncLit: // only those outside of any declared function get here
			h.funcLength(f, n.Pos(), n.End(), "func literal")
			return false
		}
		return true
	})
}

func (h *check) funcLength(f *file, from, to token.Pos, name string) {
	n := h.lines(from, to)
	if n <= maxFuncLines || longFunctions[f.dir+"."+name] != "" {
		return
	}
	h.at(from, "func-length", fmt.Sprintf("%s has %d lines, at most %d", name, n, maxFuncLines),
		"split it at its steps, or add it with a reason to longFunctions in cmd/verify/house/tables.go")
}

// funcName returns the name of a function, with its receiver's type before it.
func funcName(d *ast.FuncDecl) string {
	if d.Recv == nil || len(d.Recv.List) == 0 {
		return d.Name.Name
	}
	t := d.Recv.List[0].Type
	for {
		switch x := t.(type) {
		case *ast.StarExpr:
			t = x.X
		case *ast.IndexExpr:
			t = x.X
		case *ast.IndexListExpr:
			t = x.X
		case *ast.Ident:
			return x.Name + "." + d.Name.Name
		default:
			return d.Name.Name
		}
	}
}

// sleeps finds tests that wait for a length of time instead of for a fact.
func (h *check) sleeps(f *file) {
	clock := f.importName("time")
	if clock == "" {
		return
	}
	if clock == "." {
		h.note(f.path, "sleep", "time is imported without its name", "import it by name, so that its uses can be found")
		return
	}
	const remedy = "inside a testing/synctest bubble receive from time.After; for sockets wait for the fact, with a deadline"
	bubble := f.importName("testing/synctest") != ""
	deadline := map[ast.Stmt]bool{}
	ast.Inspect(f.ast, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.CommClause:
			deadline[n.Comm] = true // reached before the statement; it waits for a fact as well
		case *ast.SelectorExpr:
			if isSelector(n, clock, "Sleep") {
				h.at(n.Pos(), "sleep", "time.Sleep in a test", remedy)
			}
		case *ast.ExprStmt:
			if !bubble && !deadline[n] && isReceiveFromAfter(n.X, clock) {
				h.at(n.Pos(), "sleep", "<-time.After in a test is a sleep by another name", remedy)
			}
		}
		return true
	})
}

func isSelector(e ast.Expr, pkg, name string) bool {
	s, ok := e.(*ast.SelectorExpr)
	if !ok || s.Sel.Name != name {
		return false
	}
	x, ok := s.X.(*ast.Ident)
	return ok && x.Name == pkg
}

func isReceiveFromAfter(e ast.Expr, clock string) bool {
	u, ok := e.(*ast.UnaryExpr)
	if !ok || u.Op != token.ARROW {
		return false
	}
	c, ok := u.X.(*ast.CallExpr)
	return ok && isSelector(c.Fun, clock, "After")
}
