package site

import (
	"fmt"
	"slices"

	"go.yaml.in/yaml/v3"

	"lookgate/presets/rig"
)

// maxItems bounds a list. A wall of a hundred thousand panels has fewer circuits.
const maxItems = 10000

// mapping is the kind of node that has keys.
const mapping = yaml.MappingNode

// value is one node of a file with the path that leads to it. An absent value has no node: every reader of it gives the zero value and says nothing, so
// that what is missing is told once, where it is asked for.
type value struct {
	r    *reader
	file string
	node *yaml.Node
	path string
	up   *value // mapping or list that it stands in
	key  string // its key in that mapping

	shape *shape // what readings ask of this place, nil where nobody watches
}

// here reports whether the value is in the file.
func (v value) here() bool { return v.node != nil }

// wrong tells of a problem with the value, and marks it and all that it stands in, so that what follows from the mistake is not told again.
func (v value) wrong(code string, args ...any) {
	v.mark()
	v.r.place(code, v.file, v.node, v.path, args...)
}

// mark notes that the value could not be read.
func (v value) mark() {
	for u := &v; u.up != nil; u = u.up {
		if u.key != "" && u.up.node != nil {
			v.r.failed[failure{u.up.node, u.key}] = true
		}
	}
}

// fields is a mapping that is being read.
type fields struct {
	value
	keys  []string
	pairs map[string][2]*yaml.Node // key and value
	asked []string
	watch reading // what the reading asked, where somebody watches
}

// fields opens a mapping. It is absent where the value is no mapping.
func (v value) fields() *fields {
	f := &fields{value: v, pairs: map[string][2]*yaml.Node{}}
	v.shape.saw(kind{form: mappingForm})
	if !v.here() {
		return f
	}
	if v.node.Kind != yaml.MappingNode {
		v.wrong("not-mapping", v.said())
		f.node = nil
		return f
	}
	for i := 0; i+1 < len(v.node.Content); i += 2 {
		k, x := v.node.Content[i], v.node.Content[i+1]
		if k.Kind != yaml.ScalarNode {
			v.r.place("key-not-word", v.file, k, v.path)
			continue
		}
		if first, twice := f.pairs[k.Value]; twice {
			v.r.place("duplicate-key", v.file, k, join(v.path, k.Value), k.Value, first[0].Line)
			continue
		}
		f.keys = append(f.keys, k.Value)
		f.pairs[k.Value] = [2]*yaml.Node{k, x}
	}
	return f
}

// opt gives the value of a key, absent where the mapping does not have it.
func (f *fields) opt(key string) value {
	f.asked = append(f.asked, key)
	v := value{r: f.r, file: f.file, path: join(f.path, key), up: &f.value, key: key, shape: f.shape.at(key)}
	if p, ok := f.pairs[key]; ok {
		v.node = p[1]
		if isNull(v.node) {
			v.wrong("no-value", key)
			v.node = nil
		}
	}
	return v
}

// need gives the value of a key that must be there. The missing key is told by done, once every key that the mapping may have is known.
func (f *fields) need(key string) value {
	v := f.opt(key)
	f.watch.need(f.shape, key)
	if _, ok := f.pairs[key]; !ok && f.here() {
		v.mark()
		f.r.missing[f.node] = append(f.r.missing[f.node], key)
	}
	return v
}

// fail marks a key whose value could be read and not used, since what it refers to is broken.
func (f *fields) fail(key string) {
	f.mark()
	f.r.failed[failure{f.node, key}] = true
}

// failedAt reports whether the value of a key could not be read or used.
func (f *fields) failedAt(key string) bool { return f.r.failed[failure{f.node, key}] }

// has reports whether the mapping has a key.
func (f *fields) has(key string) bool {
	_, ok := f.pairs[key]
	f.watch.test(f.shape, key, ok)
	return ok
}

// free gives the keys of a mapping in which they are the writer's own.
func (f *fields) free() []string {
	f.shape.freed()
	return f.keys
}

// done tells of keys that nobody asked for and of those that were needed and are not there. Where a key is written nearly like a missing one, it is the
// mistake, and the missing one is not told besides.
func (f *fields) done() {
	if !f.here() {
		return
	}
	f.shape.read(f)
	missing := f.r.missing[f.node]
	for _, k := range f.keys {
		if slices.Contains(f.asked, k) {
			continue
		}
		free := slices.DeleteFunc(slices.Clone(f.asked), f.has)
		if near := nearest(k, missing); near != "" {
			missing = slices.DeleteFunc(slices.Clone(missing), func(m string) bool { return m == near })
		}
		f.r.place("unknown-key", f.file, f.pairs[k][0], join(f.path, k), quoted(k), f.r.suggest(k, free))
	}
	for _, m := range missing {
		f.r.place("missing-key", f.file, f.node, f.path, m)
	}
}

// items opens a list. It is empty where the value is no list.
func (v value) items() []value {
	v.shape.saw(kind{form: listForm})
	if !v.here() {
		return nil
	}
	if v.node.Kind != yaml.SequenceNode {
		v.wrong("not-list", v.said())
		return nil
	}
	if n := len(v.node.Content); n > maxItems {
		v.wrong("list-too-long", n, maxItems)
		return nil
	}
	out := make([]value, len(v.node.Content))
	for i, n := range v.node.Content {
		out[i] = value{r: v.r, file: v.file, node: n, path: fmt.Sprintf("%s[%d]", v.path, i), up: &v, shape: v.shape.item()}
		if isNull(n) {
			out[i].wrong("no-value", "the item")
			out[i].node = nil
		}
	}
	return out
}

// some opens a list of which a single item may stand without brackets.
func (v value) some() []value {
	v.shape.saw(kind{form: bareItemForm})
	v.shape.saw(kind{form: listForm})
	if v.here() && v.node.Kind == yaml.ScalarNode {
		one := v
		one.shape = v.shape.item()
		return []value{one}
	}
	return v.items()
}

// isMapping reports whether a value that may be one has keys.
func (v value) isMapping() bool {
	v.shape.saw(kind{form: mappingForm})
	return v.here() && v.node.Kind == mapping
}

// said says in words what a node is.
func (v value) said() string {
	switch v.node.Kind {
	case yaml.MappingNode:
		return "a mapping"
	case yaml.SequenceNode:
		return "a list"
	default:
		return quoted(v.node.Value)
	}
}

func isNull(n *yaml.Node) bool { return n.Kind == yaml.ScalarNode && n.Tag == "!!null" }

func join(path, key string) string {
	key = rig.Shown(key)
	if path == "" {
		return key
	}
	return path + "." + key
}
