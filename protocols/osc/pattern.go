package osc

import (
	"errors"
	"fmt"
	"strings"
)

// Pattern is an address pattern that was found well formed.
type Pattern struct {
	text    string
	literal bool // nothing in it matches anything but itself
	parts   [][]token
}

// token matches some of the octets of one part. It turns the set of positions
// that the tokens before it could have reached into the set that it can reach,
// so the work is bounded by pattern length times address length however many
// stars and alternatives there are.
type token interface {
	step(part string, from, to []bool)
}

// reserved may not be in the name of a method or container. Source: OSC 1.0,
// OSC Address Spaces and OSC Addresses.
const reserved = " #*,/?[]{}"

// Match reports whether the OSC 1.0 pattern matches the address of a method:
// both have the same number of parts and each part matches its counterpart, so
// that no wildcard crosses a slash. A malformed pattern matches nothing and is
// an error, as is an address that no method can have. Source: OSC 1.0, OSC
// Message Dispatching and Pattern Matching. Where that is silent:
//
//   - a range that runs backwards ([c-a]), [] and [!], {}, a brace within braces,
//     what is not closed and what closes nothing are malformed;
//   - a dash that does not stand between two characters is only itself;
//   - an empty alternative ({,foo}) matches nothing at all, and an empty part (the
//     end of /a/) is matched by an empty part and by what may match nothing;
//   - two slashes are an empty part, not the descent through levels of 1.1.
func Match(pattern, address string) (bool, error) {
	p, err := CompilePattern(pattern)
	if err != nil {
		return false, err
	}
	if err := CheckAddress(address); err != nil {
		return false, err
	}
	return p.Match(address), nil
}

// CheckAddress returns an error unless address could be that of a method.
func CheckAddress(address string) error {
	if !strings.HasPrefix(address, "/") {
		return fmt.Errorf("osc address %q does not begin with a slash", address)
	}
	for i := range len(address) {
		c := address[i]
		if c < ' ' || c > '~' || c != '/' && strings.IndexByte(reserved, c) >= 0 {
			return fmt.Errorf("osc address %q: %q may not be in a name", address, c)
		}
	}
	return nil
}

// CompilePattern reads a pattern, or returns an error that names the offset of
// what is malformed.
func CompilePattern(pattern string) (Pattern, error) {
	if !strings.HasPrefix(pattern, "/") {
		return Pattern{}, fmt.Errorf("osc pattern %q does not begin with a slash", pattern)
	}
	p := Pattern{text: pattern, literal: !strings.ContainsAny(pattern, "*?[]{},")}
	if p.literal {
		return p, nil // held as a whole against an address; most messages are this
	}
	at := 1
	for _, part := range strings.Split(pattern[1:], "/") {
		tokens, err := tokenize(part)
		if err != nil {
			return Pattern{}, fmt.Errorf("osc pattern %q, part at offset %d: %w", pattern, at, err)
		}
		p.parts = append(p.parts, tokens)
		at += len(part) + 1
	}
	return p, nil
}

// Literal reports whether the pattern is an address: it matches only itself.
func (p Pattern) Literal() bool { return p.literal }

// String returns the pattern as it was written.
func (p Pattern) String() string { return p.text }

// Match reports whether the pattern matches address, which has to be one that
// [CheckAddress] accepts.
func (p Pattern) Match(address string) bool {
	if p.literal {
		return p.text == address
	}
	parts := strings.Split(strings.TrimPrefix(address, "/"), "/")
	if len(parts) != len(p.parts) {
		return false
	}
	for i, part := range parts {
		if !matchPart(p.parts[i], part) {
			return false
		}
	}
	return true
}

func matchPart(tokens []token, part string) bool {
	from, to := make([]bool, len(part)+1), make([]bool, len(part)+1)
	from[0] = true
	for _, t := range tokens {
		clear(to)
		t.step(part, from, to)
		from, to = to, from
	}
	return from[len(part)]
}

// tokenize reads one part of a pattern.
func tokenize(part string) ([]token, error) {
	var tokens []token
	for i := 0; i < len(part); {
		t, size, err := readToken(part[i:])
		if err != nil {
			return nil, err
		}
		tokens = append(tokens, t)
		i += size
	}
	return tokens, nil
}

func readToken(rest string) (token, int, error) {
	switch rest[0] {
	case '*':
		return anyRun{}, 1, nil
	case '?':
		return negated{}, 1, nil
	case '[':
		return readClass(rest)
	case '{':
		return readAlternatives(rest)
	case ']', '}', ',':
		return nil, 0, fmt.Errorf("%q without what it belongs to", rest[0])
	}
	size := strings.IndexAny(rest, "*?[]{},")
	if size < 0 {
		size = len(rest)
	}
	return alternatives{rest[:size]}, size, nil
}

func readClass(rest string) (token, int, error) {
	closing := strings.IndexByte(rest, ']')
	if closing < 0 {
		return nil, 0, errors.New("a [ that is not closed")
	}
	inside, negate := strings.CutPrefix(rest[1:closing], "!")
	if inside == "" {
		return nil, 0, errors.New("brackets with nothing in them")
	}
	ranges, err := readRanges(inside)
	if err != nil {
		return nil, 0, err
	}
	if negate {
		return negated(ranges), closing + 1, nil
	}
	return class(ranges), closing + 1, nil
}

func readRanges(inside string) ([]span, error) {
	var ranges []span
	for i := 0; i < len(inside); i++ {
		r := span{inside[i], inside[i]}
		if i+2 < len(inside) && inside[i+1] == '-' {
			r.last = inside[i+2]
			i += 2
		}
		if r.first > r.last {
			return nil, fmt.Errorf("range %c-%c runs backwards", r.first, r.last)
		}
		ranges = append(ranges, r)
	}
	return ranges, nil
}

func readAlternatives(rest string) (token, int, error) {
	closing := strings.IndexByte(rest, '}')
	if closing < 0 {
		return nil, 0, errors.New("a { that is not closed")
	}
	inside := rest[1:closing]
	if inside == "" {
		return nil, 0, errors.New("braces with nothing in them")
	}
	if strings.Contains(inside, "{") {
		return nil, 0, errors.New("a brace within braces")
	}
	return alternatives(strings.Split(inside, ",")), closing + 1, nil
}

// anyRun is a star.
type anyRun struct{}

func (anyRun) step(_ string, from, to []bool) {
	reached := false
	for i := range from {
		reached = reached || from[i]
		to[i] = reached
	}
}

// span is a range of octets, both ends included.
type span struct{ first, last byte }

func among(ranges []span, c byte) bool {
	for _, r := range ranges {
		if r.first <= c && c <= r.last {
			return true
		}
	}
	return false
}

// class is one octet of the ranges.
type class []span

func (t class) step(part string, from, to []bool) {
	for i := range len(part) {
		to[i+1] = from[i] && among(t, part[i])
	}
}

// negated is one octet that is in none of the ranges; with no ranges, any one.
type negated []span

func (t negated) step(part string, from, to []bool) {
	for i := range len(part) {
		to[i+1] = from[i] && !among(t, part[i])
	}
}

// alternatives is any one of some strings, literally.
type alternatives []string

func (t alternatives) step(part string, from, to []bool) {
	for i := range from {
		if !from[i] {
			continue
		}
		for _, s := range t {
			if strings.HasPrefix(part[i:], s) {
				to[i+len(s)] = true
			}
		}
	}
}
