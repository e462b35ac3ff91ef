package record_test

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/daemon/record"
)

// What the test binary does when it is started as a child: the role, and the folder.
const (
	childRole = "LOOKGATE_TEST_CHILD"
	childDir  = "LOOKGATE_TEST_DIR"
)

func TestMain(m *testing.M) {
	var err error
	switch os.Getenv(childRole) {
	case "":
		os.Exit(m.Run())
	case "commit":
		err = commitForEver(os.Getenv(childDir))
	case "fill":
		err = fillSmallDisk(os.Getenv(childDir))
	}
	if err != nil {
		fmt.Println(err)
		os.Exit(1)
	}
	os.Exit(0)
}

func child(role, dir string) *exec.Cmd {
	c := exec.Command(os.Args[0])
	c.Env = append(os.Environ(), childRole+"="+role, childDir+"="+dir)
	return c
}

// commitForEver commits batch after batch and says each one's number once it is told as kept.
func commitForEver(dir string) error {
	s, err := record.Open(dir, record.Options{})
	if err != nil {
		return err
	}
	epoch, err := s.NewEpoch()
	if err != nil {
		return err
	}
	k, err := s.Load()
	if err != nil {
		return err
	}
	fmt.Println("epoch", epoch)
	for n := k.Command + 1; ; n++ {
		if err := errors.Join(s.Commit(batch(epoch, n)), s.Checkpoint(100)); err != nil {
			return err
		}
		fmt.Println(n)
	}
}

// A process that commits is killed again and again, at whatever it is just doing. Each time everything that it said is there, whole, with at most one
// batch more, and the next process goes on from there with a higher epoch.
func TestKilledWhileCommitting(t *testing.T) {
	dir := t.TempDir()
	r := rand.New(rand.NewPCG(3, 5))
	told, epoch, more := uint64(0), uint64(0), 0
	for round := range 25 {
		next, last := killAfter(t, dir, r.IntN(80))
		require.Greater(t, next, epoch)
		epoch, told = next, max(told, last)
		if round%2 == 0 {
			continue // the next child finds it as the kill left it
		}
		s := open(t, dir, record.Options{})
		n := whole(t, s)
		require.GreaterOrEqual(t, n, told, "a batch that was told as kept is gone")
		may := told + 1
		if last == 0 { // it said nothing, and the one before it, after which nobody looked, may have had one more than it said too
			may++
		}
		require.LessOrEqual(t, n, may)
		if n > told {
			more++
		}
		told = n
		require.NoError(t, s.Close())
	}
	t.Logf("%d batches, killed 25 times; the batch under way was there %d times of 12", told, more)
	require.Greater(t, told, uint64(300))
}

// killAfter lets a child commit until it has said n numbers, kills it, and returns its epoch and the last number that it said.
func killAfter(t *testing.T, dir string, n int) (epoch, last uint64) {
	t.Helper()
	c := child("commit", dir)
	out, err := c.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, c.Start())
	lines := bufio.NewReader(out)
	first, err := lines.ReadString('\n')
	require.NoError(t, err, first)
	epoch, err = strconv.ParseUint(strings.TrimSpace(strings.TrimPrefix(first, "epoch ")), 10, 64)
	require.NoError(t, err, first)
	for range n {
		last = number(t, lines)
	}
	require.NoError(t, c.Process.Kill())
	rest, err := io.ReadAll(lines) // what it said before the kill took effect
	require.NoError(t, err)
	require.Error(t, c.Wait())
	said := strings.Split(string(rest), "\n")
	if len(said) > 1 { // the last piece has no end: it may be half a number
		last, err = strconv.ParseUint(said[len(said)-2], 10, 64)
		require.NoError(t, err)
	}
	return epoch, last
}

func number(t *testing.T, lines *bufio.Reader) uint64 {
	t.Helper()
	line, err := lines.ReadString('\n')
	require.NoError(t, err, line)
	n, err := strconv.ParseUint(strings.TrimSpace(line), 10, 64)
	require.NoError(t, err, line)
	return n
}
