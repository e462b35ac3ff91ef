package ws

import (
	"encoding/json"
	"fmt"
	"slices"
)

// params are a request's arguments, by position or by name. Both nil: there were none.
type params struct {
	list  []json.RawMessage
	named map[string]json.RawMessage
}

// readParams reads the member params; it may be absent, an array or an object, and nothing else.
func readParams(raw json.RawMessage) (p params, ok bool) {
	if len(raw) == 0 {
		return p, true
	}
	switch raw[0] {
	case '[':
		return p, json.Unmarshal(raw, &p.list) == nil
	case '{':
		return p, json.Unmarshal(raw, &p.named) == nil
	}
	return p, false
}

// bind gives the arguments by name, those by position as the names stand in order. An argument that no name takes is an error; one that is null is
// as absent.
func (p params) bind(names ...string) (args, error) {
	if len(p.list) > len(names) {
		return nil, fmt.Errorf("at most %d arguments are known", len(names))
	}
	a := args{}
	for i, v := range p.list {
		a[names[i]] = v
	}
	for n, v := range p.named {
		if !slices.Contains(names, n) {
			return nil, fmt.Errorf("no argument is called %.40q", n)
		}
		a[n] = v
	}
	for _, n := range names {
		if string(a[n]) == "null" {
			delete(a, n)
		}
	}
	return a, nil
}

// args are arguments by name.
type args map[string]json.RawMessage

func (a args) has(name string) bool { return a[name] != nil }

// isText reports whether the argument is there and a string.
func (a args) isText(name string) bool { return a.has(name) && a[name][0] == '"' }

// reader takes arguments into pointers to strings, numbers and booleans of the right kind; those that are absent leave them as they are. It keeps the
// first thing that is wrong.
type reader struct {
	args args
	err  error
}

// optional reads one argument where it is there.
func (r *reader) optional(name, what string, into any) {
	if r.err != nil || !r.args.has(name) {
		return
	}
	if json.Unmarshal(r.args[name], into) != nil {
		r.wrong(name, what)
	}
}

// wrong says what an argument should have been.
func (r *reader) wrong(name, what string) {
	if r.err == nil {
		r.err = fmt.Errorf("%s is %s", name, what)
	}
}

// needed reads one argument that must be there.
func (r *reader) needed(name, what string, into any) {
	if r.err == nil && !r.args.has(name) {
		r.err = fmt.Errorf("%s is missing: %s", name, what)
	}
	r.optional(name, what, into)
}
