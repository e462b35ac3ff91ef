package site

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"

	"lookgate/presets/units"
)

// Bounds of words and times.
const (
	maxText = 60 // characters of a text that people read
	maxTime = time.Hour
	maxRest = 24 * time.Hour
)

// scalar gives the text of a single value of any kind, and whether it is one.
func (v value) scalar() (string, bool) { return v.as(kind{form: anyForm}) }

// as gives the text of a single value that is read as a kind, and whether it is one.
func (v value) as(k kind) (string, bool) {
	v.shape.saw(k)
	return v.raw()
}

// raw gives the text of a single value, whatever it is read as.
func (v value) raw() (string, bool) {
	if !v.here() {
		return "", false
	}
	if v.node.Kind != yaml.ScalarNode {
		v.wrong("not-single", v.said())
		return "", false
	}
	return strings.TrimSpace(v.node.Value), true
}

// text gives words that people read.
func (v value) text() string {
	s, ok := v.as(kind{form: textForm})
	if !ok {
		return ""
	}
	if s == "" || utf8.RuneCountInString(s) > maxText || strings.ContainsFunc(s, func(c rune) bool { return !unicode.IsPrint(c) }) {
		v.wrong("text-bad", quoted(s), maxText)
		return ""
	}
	return s
}

// name gives the name of a part. What a name may hold is the rig's to say.
func (v value) name() string {
	s, _ := v.as(kind{form: nameForm})
	return s
}

// word gives the index of the value in the words that can stand here, -1 where it is none of them.
func (v value) word(words ...string) int {
	s, ok := v.as(wordKind(words))
	if !ok {
		return -1
	}
	i := slices.Index(words, s)
	if i < 0 {
		v.wrong("unknown-word", quoted(s), v.r.suggest(s, words))
	}
	return i
}

// wordOr gives the index of the value in the words, and d where nothing is said.
func (v value) wordOr(d int, words ...string) int {
	if !v.here() {
		return d
	}
	return v.word(words...)
}

// isWord reports whether a value that may be another thing is a word.
func (v value) isWord(word string) bool {
	v.shape.saw(wordKind([]string{word}))
	s, ok := v.raw()
	return ok && s == word
}

// yes gives true or false, and false where nothing is said.
func (v value) yes() bool {
	s, ok := v.as(kind{form: yesForm})
	if ok && s != "true" && s != "false" {
		v.wrong("not-yes", quoted(s))
	}
	return s == "true"
}

// splitNumber parts a number from the unit behind it. Only plain decimals are numbers: no exponent, no hexadecimal, no infinity.
func splitNumber(s string) (number float64, unit string, ok bool) {
	end := 0
	for end < len(s) && (s[end] >= '0' && s[end] <= '9' || s[end] == '.' || end == 0 && (s[end] == '-' || s[end] == '+')) {
		end++
	}
	f, err := strconv.ParseFloat(s[:end], 64)
	if err != nil || math.IsInf(f, 0) || end > 24 || !strings.ContainsAny(s[:end], "0123456789") {
		return 0, "", false
	}
	unit = strings.TrimSpace(s[end:])
	return f, unit, !strings.ContainsAny(unit, "0123456789.,")
}

// number gives a number in the unit that its key names; the value may repeat the unit.
func (v value) number(unit string) float64 {
	s, ok := v.as(kind{form: numberForm, unit: unit})
	if !ok {
		return 0
	}
	f, u, ok := splitNumber(s)
	if !ok {
		v.wrong("not-number", quoted(s))
		return 0
	}
	if u != "" && u != unit {
		v.wrong("wrong-unit", quoted(u), unit)
		return 0
	}
	return f
}

func (v value) amps() units.Amps       { return units.Amps(v.number("A")) }
func (v value) volts() units.Volts     { return units.Volts(v.number("V")) }
func (v value) watts() units.Watts     { return units.Watts(v.number("W")) }
func (v value) nits() units.Nits       { return units.Nits(v.number("nits")) }
func (v value) degrees() units.Degrees { return units.Degrees(v.number("°")) }

// fraction reads what is written as per cent or as a plain number.
func (v value) fraction() (float64, bool) { return v.fractionAs(shareForm) }

// fractionAs reads a fraction of the named form.
func (v value) fractionAs(form form) (float64, bool) {
	s, ok := v.as(kind{form: form})
	if !ok {
		return 0, false
	}
	f, u, ok := splitNumber(s)
	switch {
	case !ok:
		v.wrong("not-number", quoted(s))
	case u == "%":
		return f / 100, true
	case u != "":
		v.wrong("wrong-unit", quoted(u), "%")
	default:
		return f, true
	}
	return 0, false
}

// share gives a fraction whose range the rig judges.
func (v value) share() units.Share {
	f, _ := v.fraction()
	return units.Share(f)
}

// shareOr gives a fraction, or what stands where nothing is said.
func (v value) shareOr(d units.Share) units.Share {
	if !v.here() {
		return d
	}
	return v.share()
}

// level gives a level of a preset.
func (v value) level() units.Level {
	f, ok := v.fractionAs(levelForm)
	if l := units.Level(f); ok && !l.Valid() {
		v.wrong("level-range", quoted(v.node.Value))
		return 0
	}
	return units.Level(f)
}

// count gives a whole number from lo to hi.
func (v value) count(lo, hi int) int {
	s, ok := v.as(kind{form: wholeForm, lo: lo, hi: hi})
	if !ok {
		return 0
	}
	n, err := strconv.Atoi(s)
	if err != nil {
		v.wrong("not-whole", quoted(s))
		return 0
	}
	if n < lo || n > hi {
		v.wrong("count-range", n, lo, hi)
		return 0
	}
	return n
}

// countOr gives a whole number from lo to hi, and d where nothing is said.
func (v value) countOr(d, lo, hi int) int {
	if !v.here() {
		return d
	}
	return v.count(lo, hi)
}

// anyCount gives a whole number whose range the rig judges.
func (v value) anyCount() int { return v.count(math.MinInt32, math.MaxInt32) }

// timeUnits are the units that a time may have.
var timeUnits = map[string]time.Duration{"ms": time.Millisecond, "s": time.Second, "min": time.Minute, "h": time.Hour}

// time gives a time with its unit.
func (v value) time() time.Duration { return v.timeTo(maxTime) }

// timeTo gives a time with its unit, not longer than most.
func (v value) timeTo(most time.Duration) time.Duration {
	s, ok := v.as(kind{form: timeForm})
	if !ok {
		return 0
	}
	f, u, ok := splitNumber(s)
	unit, known := timeUnits[u]
	if !ok || !known {
		v.wrong("not-time", quoted(s))
		return 0
	}
	d := f * float64(unit)
	if math.Abs(d) > float64(most) {
		v.wrong("time-range", quoted(s), mostWords(most))
		return 0
	}
	return time.Duration(math.Round(d))
}

// mostWords says the longest time that can stand somewhere.
func mostWords(most time.Duration) string {
	if most > maxTime {
		return fmt.Sprintf("%g h", most.Hours())
	}
	return fmt.Sprintf("%g min", most.Minutes())
}

// fade gives a time that may be zero and not below.
func (v value) fade() time.Duration {
	d := v.time()
	if d < 0 {
		v.wrong("time-range", quoted(v.node.Value), mostWords(maxTime))
		return 0
	}
	return d
}

// linkUnits are the units that a data rate may have.
var linkUnits = map[string]float64{"Mb/s": 1e6, "Gb/s": 1e9}

// link gives a data rate with its unit.
func (v value) link() units.BitsPerSecond {
	s, ok := v.as(kind{form: linkForm})
	if !ok {
		return 0
	}
	f, u, ok := splitNumber(s)
	unit, known := linkUnits[u]
	if !ok || !known {
		v.wrong("not-link", quoted(s))
		return 0
	}
	return units.BitsPerSecond(f * unit)
}

// rate gives an exact frame rate.
func (v value) rate() units.Rate {
	s, ok := v.as(kind{form: rateForm})
	if !ok {
		return units.Rate{}
	}
	r, err := units.ParseRate(s)
	if err != nil {
		v.wrong("not-rate", err)
	}
	return r
}

// cross gives the two numbers of "500 x 400", both from lo to hi.
func (v value) cross(lo, hi float64) (x, y float64) {
	s, ok := v.as(kind{form: crossForm})
	if !ok {
		return 0, 0
	}
	left, right, two := strings.Cut(s, "x")
	x, ux, ok1 := splitNumber(strings.TrimSpace(left))
	y, uy, ok2 := splitNumber(strings.TrimSpace(right))
	if !two || !ok1 || !ok2 || ux != "" || uy != "" {
		v.wrong("not-cross", quoted(s))
		return 0, 0
	}
	if min(x, y) < lo || max(x, y) > hi {
		v.wrong("cross-range", quoted(s), int(lo), int(hi))
		return 0, 0
	}
	return x, y
}

// pixels gives width and height, or a place, in whole pixels.
func (v value) pixels(lo float64) (x, y int) {
	a, b := v.cross(lo, maxPixels)
	if a != math.Trunc(a) || b != math.Trunc(b) {
		v.wrong("not-cross", quoted(v.node.Value))
		return 0, 0
	}
	return int(a), int(b)
}

// maxPixels keeps areas inside what 64 bits hold with room for rates and depths.
const maxPixels = 1 << 20

// span gives the first and last of "3-17", or of a single number, in 1 to n.
func (v value) span(n int) (first, last int) {
	v.shape.saw(kind{form: spanForm})
	if !v.here() {
		return 1, n
	}
	s, ok := v.raw()
	if !ok {
		return 0, 0
	}
	a, b, two := strings.Cut(s, "-")
	if !two {
		b = a
	}
	first, err1 := strconv.Atoi(strings.TrimSpace(a))
	last, err2 := strconv.Atoi(strings.TrimSpace(b))
	if err1 != nil || err2 != nil || first < 1 || last < first || last > n {
		v.wrong("span-bad", quoted(s), n)
		return 0, 0
	}
	return first, last
}

func quoted(s string) string {
	if len(s) > 80 {
		s = strings.ToValidUTF8(s[:80], "") + "..."
	}
	return strconv.Quote(s)
}
