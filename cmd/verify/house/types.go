package house

import (
	"fmt"
	"go/ast"
	"go/importer"
	"go/token"
	"go/types"
	"io"
	"os"
	"os/exec"
	"slices"
	"strings"
)

// Outside finds packages that are not in the tree under check, through the
// compiler's export data. It asks the go command once for each set of packages
// that it has not met and keeps what it learned. It is not safe for concurrent
// use.
type Outside struct {
	dir    string
	export map[string]string // import path to file
	gc     types.Importer
}

// NewOutside returns an [Outside] that runs the go command in dir, which must
// lie in a module that requires what the tree imports.
func NewOutside(dir string) *Outside {
	o := &Outside{dir: dir, export: map[string]string{}}
	o.gc = importer.ForCompiler(token.NewFileSet(), "gc", func(name string) (io.ReadCloser, error) {
		if o.export[name] == "" {
			return nil, fmt.Errorf("no export data for %s", name)
		}
		return os.Open(o.export[name])
	})
	return o
}

// fetch learns where the export data of the packages lies. A package that
// cannot be built is left out; whoever imports it then fails to type-check.
func (o *Outside) fetch(names []string) error {
	names = slices.DeleteFunc(slices.Clone(names), func(n string) bool {
		_, known := o.export[n]
		return known || n == "unsafe" || n == "C"
	})
	if len(names) == 0 {
		return nil
	}
	args := append([]string{"list", "-e", "-export", "-f", "{{.ImportPath}}\t{{.Export}}", "--"}, names...)
	cmd := exec.Command("go", args...)
	cmd.Dir = o.dir
	var stderr strings.Builder
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		return fmt.Errorf("go list -export %s: %w\n%s", strings.Join(names, " "), err, stderr.String())
	}
	for line := range strings.Lines(string(out)) {
		name, file, _ := strings.Cut(strings.TrimSpace(line), "\t")
		o.export[name] = file
	}
	return nil
}

// typed is a package with what go/types found out about it.
type typed struct {
	*pkg
	types *types.Package
	info  *types.Info
}

// checker type-checks the packages of one tree from their source, each after
// those that it imports.
type checker struct {
	h    *check
	done map[string]*typed // by folder; nil while it is being checked
}

// Import finds a package for another that imports it: one of the tree from its
// source, any other from export data.
func (c *checker) Import(name string) (*types.Package, error) {
	if name == "unsafe" {
		return types.Unsafe, nil
	}
	dir, ours := inModule(name)
	if !ours {
		return c.h.outside.gc.Import(name)
	}
	i := slices.IndexFunc(c.h.packages, func(p *pkg) bool { return p.dir == dir })
	if i < 0 {
		return nil, fmt.Errorf("package %s is not in the tree", name)
	}
	t, err := c.check(c.h.packages[i])
	if err != nil {
		return nil, err
	}
	return t.types, nil
}

// check type-checks the shipped files of one package and notes what does not
// compile.
func (c *checker) check(p *pkg) (*typed, error) {
	if t, begun := c.done[p.dir]; begun {
		if t == nil {
			return nil, fmt.Errorf("import cycle through %s", p.dir)
		}
		return t, nil
	}
	c.done[p.dir] = nil
	t := &typed{pkg: p, info: &types.Info{
		Uses:  map[*ast.Ident]types.Object{},
		Defs:  map[*ast.Ident]types.Object{},
		Types: map[ast.Expr]types.TypeAndValue{},
	}}
	var files []*ast.File
	for _, f := range p.shipped() {
		if f.built {
			files = append(files, f.ast)
		}
	}
	failed := 0
	conf := types.Config{Importer: c, FakeImportC: true, Error: func(err error) {
		if failed++; failed <= 3 {
			c.noteError(p, err)
		}
	}}
	t.types, _ = conf.Check(Module+"/"+p.dir, c.h.fset, files, t.info)
	c.done[p.dir] = t
	return t, nil
}

func (c *checker) noteError(p *pkg, err error) {
	const remedy = "make it compile: what has no type is not checked"
	if e, ok := err.(types.Error); ok {
		if !e.Soft { // soft errors, such as an unused import, leave every type known
			c.h.at(e.Pos, "types", e.Msg, remedy)
		}
		return
	}
	c.h.note(p.dir, "types", err.Error(), remedy)
}

// purePackages type-checks the packages under presets/ and returns those that
// have shipped code.
func (h *check) purePackages() ([]*typed, error) {
	var pure []*pkg
	var names []string
	for _, p := range h.packages {
		if !isUnder(p.dir, "presets") || len(p.shipped()) == 0 {
			continue
		}
		pure = append(pure, p)
		for _, f := range p.shipped() {
			for _, spec := range f.ast.Imports {
				if _, ours := inModule(importPath(spec)); !ours {
					names = append(names, importPath(spec))
				}
			}
		}
	}
	slices.Sort(names)
	if err := h.outside.fetch(slices.Compact(names)); err != nil {
		return nil, err
	}
	c := &checker{h: h, done: map[string]*typed{}}
	var out []*typed
	for _, p := range pure {
		t, err := c.check(p)
		if err != nil {
			return nil, err
		}
		out = append(out, t)
	}
	return out, nil
}
