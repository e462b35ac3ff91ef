package site

import (
	"slices"
	"strings"
)

// form says how a value is written.
type form uint8

// The forms, in the order in which a schema names them.
const (
	anyForm form = iota // a single value of which no more is known
	textForm
	nameForm
	wordForm
	yesForm
	wholeForm
	numberForm
	shareForm
	levelForm
	autoForm
	timeForm
	linkForm
	rateForm
	crossForm
	spanForm
	panelForm
	addressForm
	hostForm
	bareItemForm // one item of the list, without brackets
	listForm
	mappingForm
)

// kind is one way in which a place of a file may be written.
type kind struct {
	form   form
	words  string // that can stand here, one a line
	unit   string // that the key names
	lo, hi int    // of whole numbers
}

func wordKind(words []string) kind { return kind{form: wordForm, words: strings.Join(words, "\n")} }

// shape is what readings asked of one place of a file. Nil watches nothing, which is how sites are read; schemas are made of those that watched.
type shape struct {
	kinds    []kind
	keys     []string // of a mapping, in the order in which they were first asked for
	of       map[string]*shape
	own      *shape // of each value, in a mapping whose keys are the writer's own
	items    *shape
	readings []reading // each that differs from the others
}

// reading is what one reading of a mapping asked: which keys it tested for first, which it could use, and which it could not do without.
type reading struct {
	tests         []test
	asked, needed []string
}

// test is one question whether a mapping has a key. What is asked for afterwards may follow from it.
type test struct {
	key string
	has bool
}

func (s *shape) saw(k kind) {
	if s != nil && !slices.Contains(s.kinds, k) {
		s.kinds = append(s.kinds, k)
	}
}

// at gives the shape of a key's value.
func (s *shape) at(key string) *shape {
	switch {
	case s == nil:
		return nil
	case s.own != nil:
		return s.own
	case s.of[key] == nil:
		if s.of == nil {
			s.of = map[string]*shape{}
		}
		s.keys, s.of[key] = append(s.keys, key), &shape{}
	}
	return s.of[key]
}

// freed notes that the keys of a mapping are the writer's own.
func (s *shape) freed() {
	if s != nil && s.own == nil {
		s.own = &shape{}
	}
}

func (s *shape) item() *shape {
	if s == nil {
		return nil
	}
	if s.items == nil {
		s.items = &shape{}
	}
	return s.items
}

// read takes note of one reading of a mapping, at its end.
func (s *shape) read(f *fields) {
	if s == nil || s.own != nil {
		return
	}
	next := reading{tests: f.watch.tests, needed: sortedOnce(f.watch.needed), asked: sortedOnce(f.asked)}
	if !slices.ContainsFunc(s.readings, next.equal) {
		s.readings = append(s.readings, next)
	}
}

func (r reading) equal(o reading) bool {
	return slices.Equal(r.tests, o.tests) && slices.Equal(r.asked, o.asked) && slices.Equal(r.needed, o.needed)
}

func (r *reading) need(s *shape, key string) {
	if s != nil {
		r.needed = append(r.needed, key)
	}
}

func (r *reading) test(s *shape, key string, has bool) {
	if s == nil {
		return
	}
	s.at(key) // whoever tries keys out has to know it
	if !slices.Contains(r.tests, test{key, has}) {
		r.tests = append(r.tests, test{key, has})
	}
}

func sortedOnce(words []string) []string {
	out := slices.Clone(words)
	slices.Sort(out)
	return slices.Compact(out)
}
