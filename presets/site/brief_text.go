package site

import (
	"bytes"
	"fmt"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"
)

// longLine is the widest line, in octets, on which a part that is carried over stays; wider ones are written one key a line.
const longLine = 150

// carried gives a key of the brief's root with its value as text of a site file, comments included.
func carried(f *fields, key string) string {
	p, ok := f.pairs[key]
	if !ok {
		return ""
	}
	root := &yaml.Node{Kind: yaml.MappingNode, Content: []*yaml.Node{clone(p[0]), clone(p[1])}}
	return encoded(root)
}

// item gives a mapping as an item of a list, under another name where one is given and without some of its keys. What is no mapping was told by whoever read it.
func item(n *yaml.Node, name string, without ...string) string {
	if n == nil || n.Kind != mapping {
		return ""
	}
	m := clone(n)
	m.HeadComment, m.FootComment = "", ""
	kept := m.Content[:0]
	for i := 0; i+1 < len(m.Content); i += 2 {
		key, v := m.Content[i], m.Content[i+1]
		if slices.Contains(without, key.Value) {
			continue
		}
		if key.Value == "name" && name != "" {
			v.Value = name
		}
		kept = append(kept, key, v)
	}
	m.Content = kept
	return encoded(&yaml.Node{Kind: yaml.SequenceNode, Content: []*yaml.Node{m}})
}

// fields2text gives some keys of a mapping, those that it has, within the braces of a flow mapping: "a: 1, b: 2".
func fields2text(f *fields, keys ...string) string {
	m := &yaml.Node{Kind: yaml.MappingNode, Style: yaml.FlowStyle}
	for _, k := range keys {
		if p, ok := f.pairs[k]; ok {
			m.Content = append(m.Content, clone(p[0]), clone(p[1]))
		}
	}
	return strings.TrimSuffix(strings.TrimPrefix(inline(m), "{"), "}")
}

// inline gives a value on one line, without comments.
func inline(n *yaml.Node) string {
	one := clone(n)
	flow(one)
	return strings.TrimSpace(encoded(one))
}

// flow writes a value and all in it on one line.
func flow(n *yaml.Node) {
	n.HeadComment, n.LineComment, n.FootComment = "", "", ""
	if n.Kind != yaml.ScalarNode {
		n.Style = yaml.FlowStyle
	}
	for _, c := range n.Content {
		flow(c)
	}
}

func clone(n *yaml.Node) *yaml.Node {
	c := *n
	c.Content = make([]*yaml.Node, len(n.Content))
	for i, x := range n.Content {
		c.Content[i] = clone(x)
	}
	return &c
}

// encoded writes a tree that was read from a file, which cannot fail; flow mappings that would be too wide go over several lines.
func encoded(n *yaml.Node) string {
	if n.Style&yaml.FlowStyle == 0 {
		widen(n)
	}
	var b bytes.Buffer
	e := yaml.NewEncoder(&b)
	e.SetIndent(2)
	if err := e.Encode(n); err != nil {
		panic(fmt.Sprintf("site: a tree that was read cannot be written: %v", err))
	}
	return b.String()
}

// widen puts flow mappings that are too wide for a line one key a line.
func widen(n *yaml.Node) {
	for _, c := range n.Content {
		if c.Kind == yaml.MappingNode && c.Style&yaml.FlowStyle != 0 && len(inline(c)) > longLine {
			c.Style &^= yaml.FlowStyle
		}
		if c.Style&yaml.FlowStyle == 0 {
			widen(c)
		}
	}
}

// numbered gives the name of the i-th of several, from 0.
func numbered(name string, i int) string { return fmt.Sprintf("%s%d", name, i+1) }
