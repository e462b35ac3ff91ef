package site

import (
	"go.yaml.in/yaml/v3"

	"lookgate/presets"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// failure names a key of a mapping whose value could not be read.
type failure struct {
	node *yaml.Node
	key  string
}

// reader is one reading of a site.
type reader struct {
	list    list
	site    *Site
	rig     *rig.Rig
	failed  map[failure]bool
	missing map[*yaml.Node][]string // keys that a mapping needs and does not have
	unsure  map[string]bool         // lists that could not be read whole: what refers to them, or counts on them, is not judged
	origins map[string][]origin     // by list of the rig, where each of its parts comes from
	factor  units.Share             // continuous factor where a part names none
	grid    [][]int                 // by wall, the panel at (row-1) × columns + column-1; -1 for a gap
	typesOn [][]int                 // by wall, the panel types on it
	ruled   []ruledProcessors       // processors that rules made, with their columns
	named   int                     // panels named so far, over all lists

	cables, boards, types, sources, modes, walls, processors, devices, outputs, zones index

	lastPort    map[int]int       // by processor
	lastOutput  map[int]int       // by device
	wired       map[string]string // by address, the device that has it
	processorOf []int             // by panel, once all data runs are read
	outputOf    []int             // by panel, once all outputs are read

	shapes map[string]*shape // by file, of a reading that is watched
}

func newReader() *reader {
	rg := &rig.Rig{}
	return &reader{
		list:    list{same: map[Problem]int{}, more: map[int]int{}},
		site:    &Site{Rig: rg, Book: &presets.Book{}},
		rig:     rg,
		failed:  map[failure]bool{},
		missing: map[*yaml.Node][]string{},
		unsure:  map[string]bool{},
		origins: map[string][]origin{},

		lastPort:   map[int]int{},
		lastOutput: map[int]int{},
		wired:      map[string]string{},
	}
}

// at tells of a problem at a line and column.
func (r *reader) at(code, file string, line, column int, args ...any) {
	t := template(code)
	p := Problem{Code: code, File: file, Line: line, Column: column, Warning: t.Warning}
	p.Sentence, p.Hint = t.Fill(args...)
	r.list.add(p, false)
}

// place tells of a problem at a node.
func (r *reader) place(code, file string, node *yaml.Node, path string, args ...any) {
	t := template(code)
	p := Problem{Code: code, File: file, Path: path, Warning: t.Warning}
	if node != nil {
		p.Line, p.Column = node.Line, node.Column
	}
	p.Sentence, p.Hint = t.Fill(args...)
	r.list.add(p, false)
}

// index finds the parts of a list by their names.
type index struct {
	names []string
	at    map[string]int
}

// indexed makes the index of a list, the first of equal names winning.
func indexed[T any](parts []T, name func(T) string) index {
	x := index{names: make([]string, len(parts)), at: make(map[string]int, len(parts))}
	for i, p := range parts {
		n := name(p)
		x.names[i] = n
		if _, taken := x.at[n]; !taken {
			x.at[n] = i
		}
	}
	return x
}

// ref gives the index of the named part in a list of the rig, -1 where no part has the name. Where that list could not be read whole, it says nothing.
func (v value) ref(list, word string, in index) int {
	s, ok := v.as(kind{form: nameForm})
	if !ok {
		return -1
	}
	if i, ok := in.at[s]; ok {
		return i
	}
	if v.r.unsure[list] {
		v.mark()
		return -1
	}
	v.wrong("unknown-name", word, quoted(s), v.r.suggest(s, in.names))
	return -1
}

// suggest is the hint for a word that is not known. Once so much is wrong that problems are no longer kept, it saves the search.
func (r *reader) suggest(word string, choices []string) string {
	if r.list.full() {
		return ""
	}
	return suggest(word, choices)
}
