package main

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/daemon/record"
	"lookgate/protocols/sim"
)

// tail follows the log that a wall writes in a process of its own.
type tail struct {
	t     *testing.T
	name  string
	file  *os.File
	piece []byte // of a line that is not whole yet
	lines []sim.Line
}

// read takes what was written since.
func (f *tail) read() {
	f.t.Helper()
	if f.file == nil {
		file, err := os.Open(f.name)
		require.NoError(f.t, err)
		f.file = file
		f.t.Cleanup(func() { _ = file.Close() })
	}
	text, err := io.ReadAll(f.file)
	require.NoError(f.t, err)
	f.piece = append(f.piece, text...)
	for {
		line, rest, whole := bytes.Cut(f.piece, []byte("\n"))
		if !whole {
			return
		}
		var l sim.Line
		require.NoError(f.t, json.Unmarshal(line, &l))
		f.lines, f.piece = append(f.lines, l), rest
	}
}

// last gives the newest line.
func (f *tail) last() sim.Line {
	f.t.Helper()
	f.read()
	return f.lines[len(f.lines)-1]
}

// until waits for a line, not read before, of which a fact holds. It looks every quarter of a millisecond: the instants that the kills are drawn for are short.
func (f *tail) until(what string, fact func(sim.Line) bool) {
	f.t.Helper()
	tick := time.NewTicker(250 * time.Microsecond)
	defer tick.Stop()
	limit := time.NewTimer(patience)
	defer limit.Stop()
	for next := len(f.lines); ; {
		f.read()
		for ; next < len(f.lines); next++ {
			if fact(f.lines[next]) {
				return
			}
		}
		select {
		case <-tick.C:
		case <-limit.C:
			require.Fail(f.t, "never seen in the wall's log", what)
		}
	}
}

// asks reports whether a line is of a datagram that asks, and changes nothing.
func asks(l sim.Line) bool {
	datagram, err := hex.DecodeString(l.Bytes)
	return err == nil && bytes.HasPrefix(datagram, []byte("/wall/ask\x00"))
}

// look opens a copy of the record of a daemon that was killed, so that the next one finds it as the kill left it. Its chain is whole, and it gives the commands
// that were put down since it last looked.
func (k *killed) look() []record.RecordRow {
	k.t.Helper()
	folder := filepath.Join(k.t.TempDir(), "copy")
	require.NoError(k.t, os.CopyFS(folder, os.DirFS(stateOf(k.folder))))
	store, err := record.Open(folder, record.Options{})
	require.NoError(k.t, err)
	defer func() {
		require.NoError(k.t, store.Close())
		require.NoError(k.t, os.RemoveAll(folder))
	}()
	require.NoError(k.t, store.VerifyChain())
	head, _ := store.Head()
	require.GreaterOrEqual(k.t, head, k.rows, "rows of the record are gone")
	rows, err := store.Tail(int(head - k.rows))
	require.NoError(k.t, err)
	k.rows = head
	var commands []record.RecordRow
	for _, r := range rows {
		if r.Kind == record.Command {
			commands = append(commands, r)
		}
	}
	return commands
}

// knows reports whether a command stands among rows of the record; preset 0 asks for any.
func knows(rows []record.RecordRow, verb string, preset int) bool {
	for _, r := range rows {
		var p struct{ Command struct{ Preset int } }
		if r.Verb == verb && json.Unmarshal(r.Payload, &p) == nil && (preset == 0 || p.Command.Preset == preset) {
			return true
		}
	}
	return false
}
