package site

import (
	"bytes"
	"encoding/json"
	"math"
	"slices"
	"strings"
)

// draft is the dialect of JSON Schema that the schemas are written in.
const draft = "https://json-schema.org/draft/2020-12/schema"

// SchemaOf gives the name of the JSON Schema of a site's file.
func SchemaOf(file string) string { return strings.TrimSuffix(file, ".yaml") + ".schema.json" }

// Schemas gives a JSON Schema of each of a site's files, in the order of Files, for editors that complete and check while one writes. They are made from what the
// reading itself asks for. A schema never refuses what the reading takes; what depends on other parts of the plant, or on the value of another key, only the
// reading can judge.
func Schemas() [][]byte {
	shapes := watched(Files, func(shapes map[string]*shape, texts map[string][]byte) {
		r := newReader()
		r.shapes = shapes
		r.files(texts)
	})
	out := make([][]byte, len(Files))
	for i, name := range Files {
		out[i] = shapes[name].document(name)
	}
	return out
}

// object is a JSON object that keeps its order.
type object []member

type member struct {
	key   string
	value any
}

// MarshalJSON writes the members in their order.
func (o object) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	b.WriteByte('{')
	for i, m := range o {
		if i > 0 {
			b.WriteByte(',')
		}
		for k, part := range []any{m.key, m.value} {
			if k == 1 {
				b.WriteByte(':')
			}
			e := json.NewEncoder(&b)
			e.SetEscapeHTML(false)
			if err := e.Encode(part); err != nil {
				return nil, err
			}
		}
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

// document writes the schema of a whole file.
func (s *shape) document(name string) []byte {
	used := map[string]object{}
	top := object{{"$schema", draft}, {"title", name}}
	top = append(top, s.schema(used)...)
	top = append(top, member{"$defs", defs(used)})
	raw, err := top.MarshalJSON()
	if err != nil {
		panic("site: a schema cannot be written: " + err.Error()) // it is made of words, numbers and lists alone
	}
	var b bytes.Buffer
	if err := json.Indent(&b, raw, "", "  "); err != nil {
		panic("site: a schema is no JSON: " + err.Error())
	}
	b.WriteByte('\n')
	return b.Bytes()
}

// defs puts the kinds that a schema refers to into an order of their own.
func defs(used map[string]object) object {
	var names []string
	// order does not show: the names are sorted next
	for name := range used {
		names = append(names, name)
	}
	slices.Sort(names)
	var out object
	for _, name := range names {
		out = append(out, member{name, used[name]})
	}
	return out
}

// schema gives what can stand in a place.
func (s *shape) schema(used map[string]object) object {
	var ways []object
	for _, k := range s.kinds {
		switch k.form {
		case mappingForm:
			ways = append(ways, s.mappingSchema(used))
		case listForm:
			ways = append(ways, object{{"type", "array"}, {"maxItems", maxItems}, {"items", s.item().schema(used)}})
		case bareItemForm:
			ways = append(ways, s.item().schema(used))
		default:
			ways = append(ways, k.schema(used))
		}
	}
	switch len(ways) {
	case 0:
		return object{} // read nowhere: nothing is known of it
	case 1:
		return ways[0]
	}
	return object{{"anyOf", ways}}
}

func (s *shape) mappingSchema(used map[string]object) object {
	if s.own != nil {
		return object{{"type", "object"}, {"additionalProperties", s.own.schema(used)}}
	}
	var properties object
	for _, key := range s.keys {
		if s.asks(key) {
			properties = append(properties, member{key, s.of[key].schema(used)})
		}
	}
	out := object{{"type", "object"}, {"properties", properties}, {"additionalProperties", false}}
	return append(out, decide(s.readings, s.keys, nil).schema(nil, nil)...)
}

// asks reports whether any reading could use a key.
func (s *shape) asks(key string) bool {
	return slices.ContainsFunc(s.readings, func(r reading) bool { return slices.Contains(r.asked, key) })
}

// decided is what a mapping needs and cannot use, and how that hangs on whether it has a key.
type decided struct {
	needed, useless []string
	key             string // empty where nothing more hangs on any key
	yes, no         *decided
}

// decide makes one tree of all readings. Where a reading broke off before it made a test, the test says nothing of it, so the group is not divided by it.
func decide(all []reading, keys, tested []string) *decided {
	d := &decided{}
	for _, key := range keys {
		if !slices.ContainsFunc(all, func(r reading) bool { return !slices.Contains(r.needed, key) }) {
			d.needed = append(d.needed, key)
		}
		if !slices.ContainsFunc(all, func(r reading) bool { return slices.Contains(r.asked, key) }) {
			d.useless = append(d.useless, key)
		}
	}
	for _, t := range all[0].tests {
		yes, no := divide(all, t.key)
		if slices.Contains(tested, t.key) || len(yes) == 0 || len(no) == 0 || len(yes)+len(no) < len(all) {
			continue
		}
		after := append(slices.Clone(tested), t.key)
		a, b := decide(yes, keys, after), decide(no, keys, after)
		if !a.equal(b) {
			d.key, d.yes, d.no = t.key, a, b
			return d
		}
	}
	return d
}

// divide gives the readings that found a key and those that did not.
func divide(all []reading, key string) (yes, no []reading) {
	for _, r := range all {
		switch {
		case slices.Contains(r.tests, test{key, true}):
			yes = append(yes, r)
		case slices.Contains(r.tests, test{key, false}):
			no = append(no, r)
		}
	}
	return yes, no
}

func (d *decided) equal(o *decided) bool {
	if d == nil || o == nil {
		return d == o
	}
	return slices.Equal(d.needed, o.needed) && slices.Equal(d.useless, o.useless) && d.key == o.key && d.yes.equal(o.yes) && d.no.equal(o.no)
}

// schema writes the tree, without what stands further up already.
func (d *decided) schema(needed, useless []string) object {
	var out object
	if more := beyond(d.needed, needed); len(more) > 0 {
		out = append(out, member{"required", more})
	}
	var forbidden object
	for _, key := range beyond(d.useless, useless) {
		if needed != nil || useless != nil { // at the top they are no properties at all
			forbidden = append(forbidden, member{key, false})
		}
	}
	if len(forbidden) > 0 {
		out = append(out, member{"properties", forbidden})
	}
	if d.key == "" {
		return out
	}
	known, idle := append([]string{d.key}, d.needed...), append([]string{d.key}, d.useless...)
	out = append(out, member{"if", object{{"required", []string{d.key}}}})
	out = append(out, member{"then", d.yes.schema(known, idle)})
	return append(out, member{"else", d.no.schema(known, idle)})
}

func beyond(words, known []string) []string {
	return slices.DeleteFunc(slices.Clone(words), func(w string) bool { return slices.Contains(known, w) })
}

// Patterns of what is written as text. White space around a value and before a unit is the reader's to take away.
const (
	number    = `[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)`
	positive  = `\+?([0-9]+\.?[0-9]*|\.[0-9]+)`
	nameChars = `[!-"$-)+.0->@-Z\\^-z|~-]` // printable ASCII without space # * , / ? [ ] { }
	port      = `\+?0*(6553[0-5]|655[0-2][0-9]|65[0-4][0-9]{2}|6[0-4][0-9]{3}|[1-5][0-9]{4}|[1-9][0-9]{0,3})`
	cellWords = `C[1-9][0-9]*R[1-9][0-9]*`
)

// schema writes what a single value of the kind is, as a reference where it is used again and again.
func (k kind) schema(used map[string]object) object {
	switch k.form {
	case wordForm:
		return object{{"enum", strings.Split(k.words, "\n")}}
	case wholeForm:
		whole := object{{"type", "integer"}}
		if k.lo > math.MinInt32 {
			whole = append(whole, member{"minimum", k.lo})
		}
		if k.hi < math.MaxInt32 {
			whole = append(whole, member{"maximum", k.hi})
		}
		return object{{"anyOf", []object{whole, written(`[+-]?[0-9]+`)}}}
	case numberForm:
		name := "number-" + strings.ReplaceAll(k.unit, "°", "deg")
		used[name] = object{{"description", "a number of " + k.unit + "; the unit may be repeated: 2 " + k.unit},
			{"anyOf", []object{{{"type", "number"}}, written(number + `\s*(` + k.unit + `)?`)}}}
		return ref(name)
	}
	name, def := k.def()
	used[name] = def
	return ref(name)
}

func ref(name string) object { return object{{"$ref", "#/$defs/" + name}} }

func written(pattern string) object {
	return object{{"type", "string"}, {"pattern", `^\s*` + pattern + `\s*$`}}
}

// plain are the types of what YAML takes for a word, a number or a truth where it is text all the same.
var plain = []string{"string", "number", "boolean"}

// def names and writes a kind that needs no more than its form.
func (k kind) def() (string, object) {
	percent := func(lo, hi bool) []object {
		plainNumber := object{{"type", "number"}}
		if lo {
			plainNumber = append(plainNumber, member{"minimum", 0})
		}
		if hi {
			plainNumber = append(plainNumber, member{"maximum", 1})
		}
		return []object{plainNumber, written(number + `\s*%?`)}
	}
	switch k.form {
	case textForm:
		return "text", object{{"description", "words that people read"}, {"type", plain}, {"pattern", `\S`}}
	case nameForm:
		return "name", object{{"description", "the name of a part: printable ASCII without spaces and # * , / ? [ ] { }"}, {"type", plain},
			{"pattern", `^\s*` + nameChars + `*\s*$`}}
	case yesForm:
		return "yes", object{{"description", "true or false"}, {"anyOf", []object{{{"type", "boolean"}}, {{"enum", []string{"true", "false"}}}}}}
	case shareForm:
		return "share", object{{"description", "a share: 42% or 0.42"}, {"anyOf", percent(false, false)}}
	case levelForm:
		return "level", object{{"description", "a level: 42% or 0.42"}, {"anyOf", percent(true, true)}}
	case autoForm:
		return "auto", append(object{{"description", "as bright as it passes: auto, or auto up to 80%"}}, written(`(auto)?\s*(up to)?\s*(`+number+`\s*%?)?`)...)
	case timeForm:
		return "time", append(object{{"description", "a time with its unit: 500 ms, 2 s, 5 min"}}, written(number+`\s*(ms|s|min|h)`)...)
	case linkForm:
		return "data-rate", append(object{{"description", "a data rate with its unit: 1 Gb/s"}}, written(number+`\s*(Mb/s|Gb/s)`)...)
	}
	return k.placeDef()
}

// placeDef writes the kinds that speak of rates, places and addresses.
func (k kind) placeDef() (string, object) {
	switch k.form {
	case rateForm:
		return "frame-rate", object{{"description", "an exact frame rate: 60 or 24000/1001"},
			{"anyOf", []object{{{"type", "number"}, {"exclusiveMinimum", 0}}, written(positive + `(\s*/\s*\+?[0-9]+)?`)}}}
	case crossForm:
		return "two-numbers", append(object{{"description", "two numbers: 500 x 400"}}, written(number+`\s*x\s*`+number)...)
	case spanForm:
		return "span", object{{"description", "one column or row, or the first and last of several: 3-17"},
			{"anyOf", []object{{{"type", "integer"}, {"minimum", 1}}, written(`\+?[0-9]+\s*(-\s*\+?[0-9]+)?`)}}}
	case panelForm:
		return "panel", append(object{{"description", "a panel or a block: C3R1, bay C3R1, C1R1..C2R9"}},
			written(`(`+nameChars+`+ )?\s*`+cellWords+`\s*(\.\.\s*`+cellWords+`)?`)...)
	case addressForm:
		return "address", append(object{{"description", "a host and a port: 10.0.0.7:9000"}}, written(`\S+:`+port)...)
	case hostForm:
		return "host", object{{"description", "a host name or an address without a port"}, {"type", plain}, {"pattern", `^\s*[0-9A-Za-z.:\[\]-]+\s*$`}}
	default:
		return "value", object{{"description", "a single value"}, {"type", plain}}
	}
}
