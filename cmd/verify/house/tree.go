package house

import (
	"fmt"
	"go/ast"
	"go/build"
	"go/parser"
	"go/token"
	"io"
	"io/fs"
	"path"
	"slices"
	"strconv"
	"strings"
)

// pkg is one folder with Go files in it.
type pkg struct {
	dir   string // from the top of the tree, with slashes
	files []*file
}

// file is one parsed Go file.
type file struct {
	path     string
	dir      string
	ast      *ast.File
	test     bool // its name ends in _test.go
	external bool // it belongs to package x_test
	built    bool // it is compiled here, with no build tag given
}

// name is the package's name as its shipped code states it.
func (p *pkg) name() string {
	for _, f := range p.files {
		if !f.external {
			return f.ast.Name.Name
		}
	}
	return strings.TrimSuffix(p.files[0].ast.Name.Name, "_test")
}

// shipped returns the files that are not tests.
func (p *pkg) shipped() []*file {
	var out []*file
	for _, f := range p.files {
		if !f.test {
			out = append(out, f)
		}
	}
	return out
}

// load parses every Go file that the go tool would see, and measures the length
// of every source file. It skips what the go tool skips: testdata, and names
// that begin with a dot or an underscore.
func (h *check) load() error {
	return fs.WalkDir(h.tree, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			if name != "." && skipped(d.Name()) {
				return fs.SkipDir
			}
			return nil
		}
		if !slices.Contains(sourceSuffixes, path.Ext(name)) || skipped(d.Name()) {
			return nil
		}
		return h.loadFile(name)
	})
}

func skipped(base string) bool {
	return base == "testdata" || base == "node_modules" || strings.HasPrefix(base, ".") || strings.HasPrefix(base, "_")
}

func (h *check) loadFile(name string) error {
	text, err := fs.ReadFile(h.tree, name)
	if err != nil {
		return err
	}
	h.fileLength(name, text)
	if path.Ext(name) != ".go" {
		return nil
	}
	parsed, err := parser.ParseFile(h.fset, name, text, parser.ParseComments|parser.SkipObjectResolution)
	if err != nil {
		h.note(name, "syntax", err.Error(), "make it compile: a file that cannot be read is not checked")
		return nil
	}
	f := &file{path: name, dir: path.Dir(name), ast: parsed, test: strings.HasSuffix(name, "_test.go")}
	f.external = f.test && strings.HasSuffix(parsed.Name.Name, "_test")
	if f.built, err = h.isBuilt(f); err != nil {
		return fmt.Errorf("%s: build constraint: %w", name, err)
	}
	h.packageAt(f.dir).files = append(h.packageAt(f.dir).files, f)
	return nil
}

// isBuilt says whether the file is compiled on this machine without any tag.
func (h *check) isBuilt(f *file) (bool, error) {
	ctx := build.Default
	ctx.BuildTags = nil
	ctx.CgoEnabled = true
	ctx.OpenFile = func(p string) (io.ReadCloser, error) { return h.tree.Open(p) }
	ctx.JoinPath = path.Join
	return ctx.MatchFile(f.dir, path.Base(f.path))
}

func (h *check) packageAt(dir string) *pkg {
	for _, p := range h.packages {
		if p.dir == dir {
			return p
		}
	}
	p := &pkg{dir: dir}
	h.packages = append(h.packages, p)
	return p
}

// importPath returns what an import declaration names.
func importPath(spec *ast.ImportSpec) string {
	p, err := strconv.Unquote(spec.Path.Value)
	if err != nil {
		return spec.Path.Value
	}
	return p
}

// inModule returns the folder that an import path of this module names.
func inModule(importPath string) (string, bool) {
	if importPath == Module {
		return ".", true
	}
	return strings.CutPrefix(importPath, Module+"/")
}

// isStd says whether an import path belongs to the standard library, which is
// the only place whose first element has no dot.
func isStd(importPath string) bool {
	first, _, _ := strings.Cut(importPath, "/")
	return !strings.Contains(first, ".")
}

// isUnder says whether dir is the folder top or lies below it.
func isUnder(dir, top string) bool {
	return dir == top || strings.HasPrefix(dir, top+"/")
}

// importName returns the name under which the file uses an import path, or ""
// where it does not import it.
func (f *file) importName(importPath_ string) string {
	for _, spec := range f.ast.Imports {
		if importPath(spec) != importPath_ {
			continue
		}
		if spec.Name != nil {
			return spec.Name.Name
		}
		return path.Base(importPath_)
	}
	return ""
}

// lines returns the number of lines from one position to another, both counted.
func (h *check) lines(from, to token.Pos) int {
	return h.fset.Position(to).Line - h.fset.Position(from).Line + 1
}
