package osc

import (
	"regexp"
	"strings"
)

// slowMatcher is a second matcher, written in another way: it never splits into
// parts but backtracks over the two strings octet by octet, and knows what is
// well formed from a regular expression. One fault can be planted in it.
type slowMatcher struct{ fault string }

// wellFormed is the grammar of a pattern; ranges are looked at apart.
var wellFormed = regexp.MustCompile(`^(/([^/\[\]{},*?]|[*?]|\[(![^\]/]+|[^!\]/][^\]/]*)\]|\{[^{}/]+\})*)+$`)

var classes = regexp.MustCompile(`\{[^}]*\}|\[!?([^\]]*)\]`)

func (s slowMatcher) has(fault string) bool { return s.fault == fault }

// verdict returns yes, no or malformed, as the published table writes it.
func (s slowMatcher) verdict(pattern, address string) string {
	if pattern, address = s.bend(pattern, address); !s.sound(pattern) {
		return "malformed"
	}
	if s.has("characters of regular expressions are special") {
		matched, err := regexp.MatchString("^"+strings.NewReplacer("*", "[^/]*", "?", "[^/]").Replace(pattern)+"$", address)
		return answer(err == nil && matched)
	}
	if s.has("the beginning is not anchored") {
		for i := range address {
			if s.rest(pattern, address[i:]) {
				return "yes"
			}
		}
	}
	return answer(s.rest(pattern, address))
}

// bend is for the faults that rewrite what they are given.
func (s slowMatcher) bend(pattern, address string) (string, string) {
	switch s.fault {
	case "case is ignored":
		return strings.ToLower(pattern), strings.ToLower(address)
	case "an empty last part is dropped":
		return strings.TrimSuffix(pattern, "/"), address
	case "what closes nothing is passed over":
		if !wellFormed.MatchString(pattern) {
			return strings.NewReplacer("]", "", "}", "").Replace(pattern), address
		}
	case "a slash in front may be missing":
		return "/" + strings.TrimPrefix(pattern, "/"), address
	}
	return pattern, address
}

func (s slowMatcher) sound(pattern string) bool {
	switch s.fault {
	case "what is not closed is only itself", "empty brackets match nothing", "a pattern is read only as far as it matches":
		return true
	}
	if !wellFormed.MatchString(pattern) {
		return false
	}
	for _, m := range classes.FindAllStringSubmatch(pattern, -1) {
		if strings.HasSuffix(m[1], "-") && s.has("a dash last is half a range") {
			return false
		}
		for in := m[1]; len(in) > 0; {
			if len(in) > 2 && in[1] == '-' {
				if in[0] > in[2] && !s.has("a range backwards is turned round") {
					return false
				}
				in = in[2:]
			}
			in = in[1:]
		}
	}
	return true
}

func answer(yes bool) string {
	if yes {
		return "yes"
	}
	return "no"
}

// rest reports whether p matches the whole of a.
func (s slowMatcher) rest(p, a string) bool {
	if p == "" {
		return a == "" || s.has("the end is not anchored")
	}
	if a == "" && p == "/*" && s.has("missing parts are matched by a star") {
		return true
	}
	switch p[0] {
	case '*':
		return s.star(p[1:], a)
	case '?':
		return s.mark(p[1:], a)
	case '[':
		return s.brackets(p[1:], a)
	case '{':
		return s.braces(p[1:], a)
	case '/':
		if strings.HasPrefix(p, "//") && s.has("two slashes descend through levels") {
			for i := range a {
				if a[i] == '/' && s.rest(p[1:], a[i:]) {
					return true
				}
			}
		}
	}
	return a != "" && p[0] == a[0] && s.rest(p[1:], a[1:])
}

func (s slowMatcher) star(p, a string) bool {
	run := strings.IndexByte(a, '/')
	if run < 0 || s.has("a star crosses slashes") {
		run = len(a)
	}
	least := 0
	switch s.fault {
	case "a star is only itself":
		return strings.HasPrefix(a, "*") && s.rest(p, a[1:])
	case "a star takes all it can":
		least = run
	case "a star matches at least one":
		least = 1
	}
	for n := least; n <= run; n++ {
		if s.rest(p, a[n:]) {
			return true
		}
		if n < run && p != "" && p[0] == a[n] && s.has("a star takes as little as it can") {
			return false
		}
	}
	return false
}

func (s slowMatcher) mark(p, a string) bool {
	if s.has("a question mark is only itself") {
		return strings.HasPrefix(a, "?") && s.rest(p, a[1:])
	}
	if s.has("a question mark matches none") && s.rest(p, a) {
		return true
	}
	if a == "" || a[0] == '/' && !s.has("a question mark crosses slashes") {
		return false
	}
	if s.has("a question mark matches several") && s.mark(p, a[1:]) {
		return true
	}
	return s.rest(p, a[1:])
}

func (s slowMatcher) brackets(p, a string) bool {
	closing := strings.IndexByte(p, ']')
	if closing < 0 || closing == 0 || s.has("brackets match literally") {
		return strings.HasPrefix(a, "[") && s.rest(p, a[1:])
	}
	inside, after := p[:closing], p[closing+1:]
	if a == "" || a[0] == '/' {
		return false
	}
	if !s.has("brackets match any character") && s.listed(inside, a[0]) == s.negates(inside) {
		return false
	}
	if s.has("brackets match several") && s.brackets(p, a[1:]) {
		return true
	}
	return s.rest(after, a[1:])
}

func (s slowMatcher) negates(inside string) bool {
	if s.has("an exclamation mark negates anywhere") {
		return strings.Contains(inside, "!")
	}
	return inside[0] == '!' && !s.has("negation is inverted")
}

// listed writes out every octet that the inside of brackets names.
func (s slowMatcher) listed(inside string, c byte) bool {
	var all []byte
	inside = strings.TrimPrefix(inside, "!")
	if s.has("an exclamation mark that is not first is dropped") || s.has("an exclamation mark negates anywhere") {
		inside = strings.ReplaceAll(inside, "!", "")
	}
	for inside != "" {
		first, last, size := inside[0], inside[0], 1
		if len(inside) > 2 && inside[1] == '-' && !s.has("a range is its three characters") {
			first, last, size = min(inside[0], inside[2]), max(inside[0], inside[2]), 3
			if s.has("a range leaves out its ends") {
				first, last = first+1, last-1
			}
		}
		for x := int(first); x <= int(last); x++ {
			all = append(all, byte(x))
		}
		inside = inside[size:]
	}
	return strings.IndexByte(string(all), c) >= 0
}

func (s slowMatcher) braces(p, a string) bool {
	closing := strings.IndexByte(p, '}')
	if closing < 0 || s.has("braces match literally") {
		return strings.HasPrefix(a, "{") && s.rest(p, a[1:])
	}
	if s.has("braces match anything") {
		return s.star(p[closing+1:], a)
	}
	for _, one := range strings.Split(p[:closing], ",") {
		if one == "" && s.has("an empty alternative is dropped") {
			continue
		}
		if s.has("alternatives are patterns") && s.rest(one+p[closing+1:], a) {
			return true
		}
		if left, begins := strings.CutPrefix(a, one); begins {
			if s.rest(p[closing+1:], left) {
				return true
			}
			if s.has("the first alternative that begins is kept") {
				return false
			}
		}
		if s.has("only the first alternative counts") {
			return false
		}
	}
	return false
}
