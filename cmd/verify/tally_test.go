package main

import (
	"bytes"
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

// TestSaysWhatItWaitsFor: after half a minute without a word it names the tests
// that are running, and it stays quiet while others print.
func TestSaysWhatItWaitsFor(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var out bytes.Buffer
		feed := make(chan []byte)
		done := make(chan struct{})
		tally := newTally(&out)
		go func() {
			defer close(done)
			tally.follow(feed, time.NewTicker(quiet))
		}()
		feed <- []byte(`{"Action":"run","Package":"lookgate/daemon","Test":"TestSlow"}`)
		<-time.After(quiet - time.Second)
		feed <- []byte(`{"Action":"pass","Package":"lookgate/web","Elapsed":1}`)
		<-time.After(quiet - time.Second)
		synctest.Wait()
		require.NotContains(t, out.String(), "...")
		<-time.After(2 * time.Second)
		synctest.Wait()
		require.Contains(t, out.String(), "...   daemon TestSlow\n")
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
