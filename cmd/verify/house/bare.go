package house

import (
	"fmt"
	"go/types"
)

// bareNumbers finds what a package under presets/ shows to others as a plain
// floating point number: without a type, amps can be passed for volts.
func (h *check) bareNumbers(p *typed) {
	if p.types == nil {
		return
	}
	scope := p.types.Scope()
	for _, name := range scope.Names() { // sorted
		if obj := scope.Lookup(name); obj.Exported() {
			h.bareObject(p, obj)
		}
	}
}

func (h *check) bareObject(p *typed, obj types.Object) {
	switch obj := obj.(type) {
	case *types.Func:
		h.bareSignature(p, obj, obj.Signature())
	case *types.TypeName:
		h.bareType(p, obj)
	default: // a variable or a constant
		if isBare(obj.Type()) {
			h.bare(obj, fmt.Sprintf("%s.%s", p.dir, obj.Name()))
		}
	}
}

// bareType checks a type's definition and its exported methods.
func (h *check) bareType(p *typed, obj *types.TypeName) {
	h.bareParts(p, obj, obj.Name(), obj.Type().Underlying())
	named, ok := obj.Type().(*types.Named)
	if !ok {
		return
	}
	for m := range named.Methods() {
		if m.Exported() {
			h.bareSignature(p, m, m.Signature())
		}
	}
}

// bareParts checks the exported parts of a definition: fields, methods of an
// interface, elements.
func (h *check) bareParts(p *typed, obj types.Object, name string, t types.Type) {
	switch u := t.(type) {
	case *types.Struct:
		for f := range u.Fields() {
			if !f.Exported() {
				continue
			}
			if inner, ok := f.Type().(*types.Struct); ok {
				h.bareParts(p, f, name+"."+f.Name(), inner)
			} else if isBare(f.Type()) {
				h.bare(f, fmt.Sprintf("%s.%s.%s", p.dir, name, f.Name()))
			}
		}
	case *types.Interface:
		for m := range u.ExplicitMethods() {
			if m.Exported() {
				h.bareSignature(p, m, m.Signature())
			}
		}
	default:
		if isBare(t) {
			h.bare(obj, fmt.Sprintf("%s.%s", p.dir, name))
		}
	}
}

func (h *check) bareSignature(p *typed, obj types.Object, s *types.Signature) {
	if isBare(s) {
		name := obj.Name()
		if r := s.Recv(); r != nil {
			name = types.TypeString(r.Type(), func(*types.Package) string { return "" }) + "." + name
		}
		h.bare(obj, fmt.Sprintf("%s.%s", p.dir, name))
	}
}

func (h *check) bare(obj types.Object, name string) {
	h.at(obj.Pos(), "bare-number", name+" shows a bare floating point number",
		"give it a type of presets/units: a number that leaves its package says what it measures")
}

// isBare says whether a type is made of plain floating point numbers without
// any name on the way to them.
func isBare(t types.Type) bool {
	switch t := types.Unalias(t).(type) {
	case *types.Basic:
		return t.Info()&(types.IsFloat|types.IsComplex) != 0
	case *types.Slice:
		return isBare(t.Elem())
	case *types.Array:
		return isBare(t.Elem())
	case *types.Pointer:
		return isBare(t.Elem())
	case *types.Map:
		return isBare(t.Key()) || isBare(t.Elem())
	case *types.Signature:
		return anyBare(t.Params()) || anyBare(t.Results())
	case *types.Struct:
		for f := range t.Fields() {
			if isBare(f.Type()) {
				return true
			}
		}
	case *types.Named: // a generic type from elsewhere, such as iter.Seq[float64]
		for a := range t.TypeArgs().Types() {
			if isBare(a) {
				return true
			}
		}
	}
	return false
}

func anyBare(tuple *types.Tuple) bool {
	for v := range tuple.Variables() {
		if isBare(v.Type()) {
			return true
		}
	}
	return false
}
