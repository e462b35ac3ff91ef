package draft

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"
)

// wide is how many columns a comment of a file fills.
const wide = 120

// page is a file that is being written.
type page struct{ strings.Builder }

func (g *page) line(format string, args ...any) { fmt.Fprintf(g, format+"\n", args...) }

// glued finds figures with their units, which stay on one line.
var glued = regexp.MustCompile(`([0-9]) (%|A\b|V\b|mA\b|m\b|W\b|kW\b|mm|AWG)`)

// note writes a comment of its own, broken into lines.
func (g *page) note(indent, format string, args ...any) {
	line := indent + "#"
	for word := range strings.SplitSeq(glued.ReplaceAllString(fmt.Sprintf(format, args...), "$1\u00a0$2"), " ") {
		if utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > wide && len(line) > len(indent)+1 {
			g.line("%s", line)
			line = indent + "#"
		}
		line += " " + strings.ReplaceAll(word, "\u00a0", " ")
	}
	g.line("%s", line)
}

// gap leaves a line free.
func (g *page) gap() { g.line("") }

// plainWord is what YAML takes as text without quotes, wherever it stands.
var plainWord = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9_.-]*$`)

// reserved are words that some readers of YAML take for something else.
var reserved = regexp.MustCompile(`(?i)^(true|false|yes|no|on|off|y|n|null|nan|inf)$`)

// word gives a name or text as a scalar of YAML.
func word(s string) string {
	if plainWord.MatchString(s) && !reserved.MatchString(s) {
		return s
	}
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(s) + `"`
}

// plainText is what YAML takes as text without quotes behind a key of its own line.
var plainText = regexp.MustCompile(`^[A-Za-z]([A-Za-z0-9 ,._'()-]*[A-Za-z0-9.)])?$`)

// sentence gives a text that stands behind a key of its own line.
func sentence(s string) string {
	if plainText.MatchString(s) && !reserved.MatchString(s) {
		return s
	}
	return word(s)
}

// figure gives a number as a person writes it.
func figure[T ~float64](v T) string { return strconv.FormatFloat(float64(v), 'f', -1, 64) }

// percent gives a level or share, rounded to a millionth.
func percent[T ~float64](v T) string {
	s := strconv.FormatFloat(float64(v)*100, 'f', 4, 64)
	return strings.TrimSuffix(strings.TrimRight(s, "0"), ".") + "%"
}

// lasting gives a time with its unit.
func lasting(d time.Duration) string {
	if d%time.Second == 0 {
		return fmt.Sprintf("%d s", d/time.Second)
	}
	return figure(float64(d)/float64(time.Millisecond)) + " ms"
}

// list gives numbers in brackets.
func list(numbers []int) string {
	return "[" + strings.Trim(strings.ReplaceAll(fmt.Sprint(numbers), " ", ", "), "[]") + "]"
}

// prefixes gives each wall the prefix of its circuits: as few letters of its name as tell it from the others.
func (p *planner) prefixes() []string {
	var out []string
	for i, w := range p.rig.Walls {
		out = append(out, w.Name+"-")
		for n := 1; n < len(w.Name); n++ {
			short := w.Name[:n]
			if last := short[n-1]; last >= '0' && last <= '9' || last == '-' {
				continue
			}
			alone := true
			for k, other := range p.rig.Walls {
				alone = alone && (k == i || !strings.HasPrefix(strings.ToLower(other.Name), strings.ToLower(short)))
			}
			if alone {
				out[i] = strings.ToUpper(short)
				break
			}
		}
	}
	return out
}
