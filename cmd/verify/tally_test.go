package main

import (
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
)

func TestLinesAreWholeHoweverLong(t *testing.T) {
	long := strings.Repeat("x", 1<<20)
	var got []string
	for line := range lines(strings.NewReader("a\n" + long + "\nlast")) {
		got = append(got, string(line))
	}
	require.Equal(t, []string{"a\n", long + "\n", "last"}, got)
}

// said is a writer that hands each text over to the test.
type said chan string

func (s said) Write(text []byte) (int, error) {
	s <- string(text)
	return len(text), nil
}

// TestSaysWhatItWaitsFor: after half a minute without a word it names the tests
// that are running, and not before.
func TestSaysWhatItWaitsFor(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		out, feed := make(said, 8), make(chan []byte)
		done := make(chan struct{})
		go func() {
			defer close(done)
			newTally(out).follow(feed, time.NewTicker(quiet))
		}()
		feed <- []byte(`{"Action":"run","Package":"lookgate/daemon","Test":"TestSlow"}`)
		<-time.After(quiet - time.Second)
		feed <- []byte(`{"Action":"pass","Package":"lookgate/web","Elapsed":1}`)
		spoke := time.Now()
		require.Contains(t, <-out, "ok    web")
		require.Equal(t, "...   daemon TestSlow\n", <-out)
		require.Equal(t, quiet, time.Since(spoke), "a line that was printed starts the wait again")
		close(feed)
		<-done
	})
}

func TestOnlyOutOfTime(t *testing.T) {
	require.True(t, onlyOutOfTime([]byte("--- FAIL: FuzzX (5.02s)\n    context deadline exceeded\nFAIL\n")))
	require.False(t, onlyOutOfTime([]byte("context deadline exceeded\nFailing input written to testdata/fuzz/FuzzX/1\n")))
	require.False(t, onlyOutOfTime([]byte("--- FAIL: FuzzX\n    wrong\n")))
}

func TestTargetsIn(t *testing.T) {
	require.Equal(t, []target{{"lookgate/a", "FuzzA"}, {"lookgate/a", "FuzzB"}, {"lookgate/c", "FuzzC"}},
		targetsIn("FuzzA\nFuzzB\nok  \tlookgate/a\t0.01s\nok  \tlookgate/b\t0.01s\n?   \tlookgate/d\t[no test files]\nFuzzC\nok  \tlookgate/c\t0.01s\n"))
}
