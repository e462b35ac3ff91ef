package site

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// probe finds out what files may hold by asking the reading itself: it reads files that are empty, then files with all that was asked for, each key there and not
// there, each word and form in turn, until nothing new is asked. What is asked only behind a key whose mere presence changes the reading is found that way too.
type probe struct {
	files  []string
	shapes map[string]*shape
}

// maxRounds is far above the depth of any file.
const maxRounds = 20

// watched reads files of made-up content until no reading asks anything new, and gives their shapes.
func watched(files []string, read func(shapes map[string]*shape, texts map[string][]byte)) map[string]*shape {
	p := probe{files, map[string]*shape{}}
	for _, name := range files {
		p.shapes[name] = &shape{}
	}
	for range maxRounds {
		before := p.size()
		for turn := range p.turns() {
			texts := map[string][]byte{}
			for _, name := range p.files {
				texts[name] = []byte(sample(p.shapes[name], turn, turn == 0) + "\n")
			}
			read(p.shapes, texts)
		}
		if p.size() == before {
			break
		}
	}
	return p.shapes
}

// size grows with everything that a reading asks for the first time.
func (p *probe) size() int {
	n := 0
	for _, name := range p.files {
		n += p.shapes[name].size()
	}
	return n
}

func (s *shape) size() int {
	if s == nil {
		return 0
	}
	n := 1 + len(s.kinds) + len(s.readings) + s.own.size() + s.items.size()
	for _, k := range s.keys {
		n += s.of[k].size()
	}
	return n
}

// turns is how many files it takes to try everything that stands in no list.
func (p *probe) turns() int {
	n := 1
	for _, name := range p.files {
		n = max(n, len(choices(p.shapes[name])))
	}
	return n
}

// choice is one way to write a place. Of a mapping it says which keys are there, and the turn that their values take.
type choice struct {
	kind  kind
	word  string
	keys  []string
	turn  int
	whole bool // lists in it are tried in full
}

// choices gives the ways to write a place, the most complete one first.
func choices(s *shape) []choice {
	var out []choice
	for _, form := range []form{mappingForm, listForm} {
		if k := (kind{form: form}); slices.Contains(s.kinds, k) && form == mappingForm {
			out = append(out, s.mappings()...)
		} else if slices.Contains(s.kinds, k) {
			out = append(out, choice{kind: k})
		}
	}
	for _, k := range s.kinds {
		switch k.form {
		case mappingForm, listForm:
		case wordForm:
			for w := range strings.SplitSeq(k.words, "\n") {
				out = append(out, choice{kind: k, word: w})
			}
		default:
			out = append(out, choice{kind: k})
		}
	}
	if len(out) == 0 {
		out = append(out, choice{kind: kind{form: anyForm}})
	}
	return out
}

// mappings gives the ways to write a mapping: with every key, as often as its values have choices; on every side of every test; and without and with only each key.
func (s *shape) mappings() []choice {
	k := kind{form: mappingForm}
	if s.own != nil {
		var out []choice
		for turn := range choices(s.own) {
			out = append(out, choice{kind: k, turn: turn, whole: turn == 0})
		}
		return out
	}
	most := 1
	for _, key := range s.keys {
		most = max(most, len(choices(s.of[key])))
	}
	var out []choice
	for turn := range most {
		out = append(out, choice{kind: k, keys: s.keys, turn: turn, whole: turn == 0})
	}
	out = append(out, s.sides()...)
	for i, key := range s.keys {
		out = append(out, choice{kind: k, keys: slices.Delete(slices.Clone(s.keys), i, i+1)}, choice{kind: k, keys: []string{key}})
	}
	return out
}

// sides gives the ways that lead to either side of tests: every one and every two of the tested keys missing where all others are there, and there where no other is.
// Two at a time is as far as one answer decides what another one means.
func (s *shape) sides() []choice {
	tested := s.tested()
	var out []choice
	add := func(whole bool, turned ...string) {
		for _, others := range []bool{true, false} {
			c := choice{kind: kind{form: mappingForm}, whole: whole}
			for _, key := range s.keys {
				if slices.Contains(turned, key) != others {
					c.keys = append(c.keys, key)
				}
			}
			out = append(out, c)
		}
	}
	for i, a := range tested {
		add(true, a)
		for _, b := range tested[:i] {
			add(false, a, b)
		}
	}
	return out
}

// tested gives the keys that any reading tested for.
func (s *shape) tested() []string {
	var keys []string
	for _, r := range s.readings {
		for _, t := range r.tests {
			if !slices.Contains(keys, t.key) {
				keys = append(keys, t.key)
			}
		}
	}
	return keys
}

// sample writes a place as one of its choices, in YAML's flow style.
func sample(s *shape, turn int, whole bool) string {
	all := choices(s)
	c := all[turn%len(all)]
	switch c.kind.form {
	case mappingForm:
		return s.sampleMapping(c, whole)
	case listForm:
		return s.sampleList(whole)
	case wordForm:
		return strconv.Quote(c.word)
	default:
		return strconv.Quote(c.kind.sample())
	}
}

func (s *shape) sampleMapping(c choice, whole bool) string {
	if s.own != nil {
		return "{" + made + ": " + sample(s.own, c.turn, whole && c.whole) + "}"
	}
	var parts []string
	for _, key := range c.keys {
		parts = append(parts, key+": "+sample(s.of[key], c.turn, whole && c.whole))
	}
	return "{" + strings.Join(parts, ", ") + "}"
}

// sampleList writes a list with every choice of its items, or with the first alone.
func (s *shape) sampleList(whole bool) string {
	if s.items == nil {
		return "[" + made + "]"
	}
	n := 1
	if whole {
		n = len(choices(s.items))
	}
	var parts []string
	for i := range n {
		parts = append(parts, sample(s.items, i, whole))
	}
	return "[" + strings.Join(parts, ", ") + "]"
}

// made is the one name of a probe's files, so that what refers to a part finds one.
const made = "a"

// sample gives a text that a reading of the kind takes.
func (k kind) sample() string {
	switch k.form {
	case yesForm:
		return "true"
	case wholeForm:
		return fmt.Sprint(min(max(2, k.lo), k.hi))
	case numberForm:
		if k.unit == "A" { // so that a breaker carries some panels of as many watts as volts
			return "20"
		}
		return "2"
	case shareForm, levelForm:
		return "50%"
	case autoForm:
		return "auto"
	case timeForm:
		return "2 min"
	case linkForm:
		return "1 Gb/s"
	case rateForm:
		return "60"
	case crossForm:
		return "2 x 2"
	case spanForm:
		return "1-2"
	case panelForm:
		return "C1R1"
	case addressForm:
		return made + ":1"
	default:
		return made
	}
}
