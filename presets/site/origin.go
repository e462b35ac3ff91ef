package site

import (
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"lookgate/presets/rig"
)

// origin is the mapping that a part of the rig was read from: its own item, or the rule that made it, with the exception that changed it, if any.
type origin struct {
	fields    *fields
	exception *fields
}

// stands names, for keys that a rule does not have, those that it has instead.
var stands = map[string][]string{
	"poles":    {"first_pole", "poles_each"},
	"panels":   {"panels_each", "columns_each", "rows_each", "columns", "wall", "walls", "each"},
	"outputs":  {"walls", "wall"},
	"name":     {"prefix", "wall", "circuit"},
	"port":     {"first_port"},
	"device":   {"wall", "name"},
	"address":  {"prefix", "name"},
	"inputs":   {"name"},
	"wire":     {"name"},
	"except":   {"panel"},
	"board":    {"wall"},
	"jumper_a": {"jumper", "home_run_a"},

	"home_run_a":      {"home_run"},
	"feeder_a":        {"feeder"},
	"ambient_factor":  {"ambient_c"},
	"grouping_factor": {"together"},
}

// find gives the node and path of a key, or of what stands for it, or of the part as a whole. A key with a dot is one in a mapping of the part: "feeder.length_m".
func (o origin) find(key string) (f *fields, found string, node *yaml.Node) {
	for _, k := range alike(key) {
		for _, f := range []*fields{o.exception, o.fields} {
			if f == nil || k == "" {
				continue
			}
			if n := f.deep(k); n != nil {
				return f, k, n
			}
		}
	}
	return o.fields, "", o.fields.node
}

// alike lists a key with those that stand for it.
func alike(key string) []string {
	keys := append([]string{key}, stands[key]...)
	if outer, _, deep := strings.Cut(key, "."); deep {
		keys = append(keys, outer)
	}
	return keys
}

// deep gives the value of a key, or of one in a mapping of the part.
func (f *fields) deep(key string) *yaml.Node {
	outer, inner, deeper := strings.Cut(key, ".")
	p, ok := f.pairs[outer]
	if !ok || !deeper {
		return p[1]
	}
	for i := 0; i+1 < len(p[1].Content); i += 2 {
		if p[1].Kind == mapping && p[1].Content[i].Value == inner {
			return p[1].Content[i+1]
		}
	}
	return nil
}

// rigProblems checks the rig and puts what is wrong to its place in the files.
func (r *reader) rigProblems() {
	if r.unsure["rig"] {
		return
	}
	for _, p := range r.rig.Problems() {
		if r.meaningless(p) {
			continue
		}
		r.locate(p)
	}
}

// meaningless reports whether a problem only follows from something that could not be read.
func (r *reader) meaningless(p rig.Problem) bool {
	unsure := func(lists ...string) bool {
		return slices.ContainsFunc(lists, func(l string) bool { return r.unsure[l] })
	}
	switch p.Code {
	case "reference-broken":
		return true // told as an unknown name, or left out since the list that it refers to is broken
	case "panel-in-none":
		return unsure("circuits", "data_runs", "outputs", "walls")
	case "type-unused":
		return unsure("walls")
	case "cable-unused":
		return unsure("circuits", "boards", "runs")
	case "source-unused":
		return unsure("processors")
	case "device-unused":
		return unsure("outputs", "outputs.device", "processors")
	case "output-no-zone":
		return unsure("zones", "zones.outputs", "outputs")
	case "chain-empty":
		return unsure("walls")
	}
	return unsure(p.Part) && r.origin(p) == nil
}

// origin gives where the part that a problem is about comes from, nil for the rig as a whole.
func (r *reader) origin(p rig.Problem) *origin {
	list := r.origins[p.Part]
	i := max(p.Index, 0)
	if i >= len(list) {
		return nil
	}
	return &list[i]
}

// locate tells of a rig's problem at its place, unless what it is about could not be read.
func (r *reader) locate(p rig.Problem) {
	q := Problem{Code: p.Code, File: RigFile, Sentence: p.Sentence, Hint: p.Hint, Warning: p.Warning}
	o := r.origin(p)
	if o == nil {
		q.Path = p.Part
		r.list.add(q, false)
		return
	}
	for _, k := range alike(p.Key) {
		if o.fields.failedAt(k) || o.exception != nil && o.exception.failedAt(k) {
			return
		}
	}
	f, key, node := o.find(p.Key)
	if root := r.origins[""][0].fields; key == "" && p.Key == "factor" && root.has("factor") {
		f, key, node = root, "factor", root.pairs["factor"][1]
	}
	q.File, q.Path = f.file, f.path
	if key != "" {
		q.Path = join(f.path, key)
	}
	if node != nil {
		q.Line, q.Column = node.Line, node.Column
	}
	r.list.add(q, p.Code != "panel-in-none")
}
