package site

import (
	"bytes"
	"errors"
	"io"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"
)

// Bounds of one file. A rig of a hundred thousand panels without any rule stays far below them.
const (
	maxFile  = 4 << 20 // octets
	maxDepth = 12      // of lists and mappings in each other
)

// document parses one file into its root. The value is absent where the file cannot be used; its problems are then told.
func (r *reader) document(files map[string][]byte, name string) value {
	doc := value{r: r, file: name, shape: r.shapes[name]}
	text, ok := files[name]
	if !ok {
		r.at("file-missing", name, 0, 0, name)
		return doc
	}
	if !r.plainText(name, text) {
		return doc
	}
	root := r.parse(name, text)
	if root == nil || !r.simple(name, root, 0) {
		return doc
	}
	doc.node = root
	return doc
}

// unknownFiles tells of files that a site does not have: a name with a slip of the pen would otherwise go unread.
func (r *reader) unknownFiles(files map[string][]byte) {
	for _, name := range slices.Sorted(maps.Keys(files)) {
		if slices.Contains(Files, name) {
			continue
		}
		r.at("file-unknown", name, 0, 0, quoted(name), suggest(name, Files))
	}
}

// plainText checks what must hold before the text can be parsed as YAML: its size, its encoding, and no tabs where indentation counts.
func (r *reader) plainText(name string, text []byte) bool {
	if len(text) > maxFile {
		r.at("file-too-large", name, 0, 0, len(text), maxFile)
		return false
	}
	if len(bytes.TrimSpace(text)) == 0 {
		r.at("file-empty", name, 0, 0, name)
		return false
	}
	good, number := true, 0
	for line := range bytes.Lines(text) {
		number++
		if column, code := badText(line); code != "" {
			r.at(code, name, number, column)
			good = false
		}
	}
	return good
}

// badText gives the first thing in a line that a site's file must not hold, and its column.
func badText(line []byte) (column int, code string) {
	indent := true
	for len(line) > 0 {
		c, size := utf8.DecodeRune(line)
		column++
		switch {
		case c == utf8.RuneError && size == 1:
			return column, "not-utf8"
		case c == '\t' && indent:
			return column, "tab-indent"
		case c < ' ' && c != '\t' && c != '\n' && c != '\r', c == 0x7f, c >= 0x80 && c < 0xa0:
			return column, "control-character"
		}
		indent = indent && c == ' '
		line = line[size:]
	}
	return 0, ""
}

// parse gives the root of the one document in text.
func (r *reader) parse(name string, text []byte) *yaml.Node {
	d := yaml.NewDecoder(bytes.NewReader(text))
	var doc, next yaml.Node
	if err := d.Decode(&doc); err != nil {
		r.notYAML(name, err)
		return nil
	}
	if err := d.Decode(&next); err == nil {
		r.at("many-documents", name, next.Line, next.Column)
		return nil
	} else if !errors.Is(err, io.EOF) {
		r.notYAML(name, err)
		return nil
	}
	if len(doc.Content) == 0 {
		r.at("file-empty", name, 0, 0, name)
		return nil
	}
	return doc.Content[0]
}

// yamlLine finds the line in what the parser says.
var yamlLine = regexp.MustCompile(`^yaml: (?:line (\d+): )?`)

// notYAML tells what the parser could not read.
func (r *reader) notYAML(name string, err error) {
	said := err.Error()
	if errors.Is(err, io.EOF) {
		r.at("file-empty", name, 0, 0, name)
		return
	}
	m := yamlLine.FindStringSubmatch(said)
	line := 0
	if m != nil {
		line, _ = strconv.Atoi(m[1])
		said = strings.TrimPrefix(said, m[0])
	}
	r.at("not-yaml", name, line, 0, said)
}

// simple checks that a tree has no aliases, anchors or tags and is not too deep, so that everything stands where it is read, once.
func (r *reader) simple(name string, n *yaml.Node, depth int) bool {
	if depth > maxDepth {
		r.at("too-deep", name, n.Line, n.Column, maxDepth)
		return false
	}
	if n.Kind == yaml.AliasNode || n.Anchor != "" {
		r.at("alias", name, n.Line, n.Column)
		return false
	}
	if n.Style&yaml.TaggedStyle != 0 {
		r.at("tag", name, n.Line, n.Column, quoted(n.Tag))
		return false
	}
	good := true
	for _, c := range n.Content {
		good = r.simple(name, c, depth+1) && good
	}
	return good
}
