package osc

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// TestMatchIsBounded: patterns on which a backtracking matcher would take longer
// than the age of the universe.
func TestMatchIsBounded(t *testing.T) {
	for _, row := range []struct{ name, pattern, address string }{
		{"stars", "/" + strings.Repeat("a*", 120) + "b", "/" + strings.Repeat("a", 250)},
		{"alternatives", "/" + strings.Repeat("{a,aa,aaa}", 24) + "b", "/" + strings.Repeat("a", 250)},
		{"stars and alternatives", "/" + strings.Repeat("*{a,aa}", 34) + "b", "/" + strings.Repeat("a", 250)},
	} {
		t.Run(row.name, func(t *testing.T) {
			done := make(chan bool, 1)
			go func() {
				matched, err := Match(row.pattern, row.address)
				done <- err == nil && !matched
			}()
			select {
			case ok := <-done:
				require.True(t, ok)
			case <-time.After(5 * time.Second):
				t.Fatal("not done within 5 s")
			}
		})
	}
}

func TestPatternLiteral(t *testing.T) {
	for pattern, literal := range map[string]bool{"/lookgate/go": true, "/lookgate/g?": false, "/*": false, "/{a,b}": false, "/[a]": false} {
		p, err := CompilePattern(pattern)
		require.NoError(t, err)
		require.Equal(t, literal, p.Literal(), pattern)
		require.Equal(t, pattern, p.String())
	}
}

func TestCheckAddress(t *testing.T) {
	for _, good := range []string{"/", "/a", "/lookgate/zone/bay-left/level", "/a.b_c~", "/a//b"} {
		require.NoError(t, CheckAddress(good), good)
	}
	for _, bad := range []string{"", "a", "/a b", "/a#", "/a*", "/a,b", "/a?", "/[", "/]", "/{", "/}", "/ä", "/a\x00", "/\x7f"} {
		require.Error(t, CheckAddress(bad), bad)
	}
}

// TestPatternErrorsNameThePlace: what a console's author reads.
func TestPatternErrorsNameThePlace(t *testing.T) {
	for pattern, text := range map[string]string{
		"/ab/f[o-": `osc pattern "/ab/f[o-", part at offset 4: a [ that is not closed`,
		"/{foo":    `osc pattern "/{foo", part at offset 1: a { that is not closed`,
		"/[]":      `osc pattern "/[]", part at offset 1: brackets with nothing in them`,
		"/{}":      `osc pattern "/{}", part at offset 1: braces with nothing in them`,
		"/{a{b}":   `osc pattern "/{a{b}", part at offset 1: a brace within braces`,
		"/[z-a]":   `osc pattern "/[z-a]", part at offset 1: range z-a runs backwards`,
		"/a]":      `osc pattern "/a]", part at offset 1: ']' without what it belongs to`,
		"a":        `osc pattern "a" does not begin with a slash`,
	} {
		_, err := CompilePattern(pattern)
		require.EqualError(t, err, text)
	}
}
