package main

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/daemon/record"
	"lookgate/protocols/osc"
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

// sent gives the address of the message in a line's datagram, empty where the line tells of none.
func sent(l sim.Line) string {
	datagram, _ := hex.DecodeString(l.Bytes) // our own wall wrote it
	address, _, _ := bytes.Cut(datagram, []byte{0})
	return string(address)
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
	k.looks++
	for _, r := range rows {
		switch r.Kind {
		case record.Command:
			commands = append(commands, r)
			k.seen[r.ID] = k.looks
		case record.Outcome:
			k.outcomes[r.ID]++
		}
	}
	for id, seen := range k.seen {
		n := k.outcomes[id]
		require.LessOrEqual(k.t, n, 1, "command %d has %d outcomes", id, n)
		// The life after the one in which it ran may have been killed before its outcome was on disk; then it is open there still, and the next one gives it first of all.
		require.True(k.t, n == 1 || k.looks < seen+2, "command %d has no outcome, and no later daemon gave it one", id)
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

// forgotten tells of a recall that the station was told is accepted and the record does not have: who is told may rely on it, whatever happens after. It is
// asked of those that raise; what lowers is done and answered at once and waits for no disk. The daemon is dead: all that will come is there.
func (k *killed) forgotten(rows []record.RecordRow, told uint64) (wrong []string) {
	k.t.Helper()
	if told == 0 {
		told = k.accepted(5 * time.Millisecond)
	}
	for ; told != 0; told = k.accepted(5 * time.Millisecond) {
		k.told++
		if !slices.ContainsFunc(rows, func(r record.RecordRow) bool { return r.ID == told }) {
			wrong = append(wrong, fmt.Sprintf("recall %d was told as accepted and is not in the record", told))
		}
	}
	return wrong
}

// accepted gives the next recall that the station is told is accepted, 0 for none within a time.
func (k *killed) accepted(within time.Duration) uint64 {
	k.t.Helper()
	require.NoError(k.t, k.client.SetReadDeadline(time.Now().Add(within)))
	buffer := make([]byte, osc.MaxReply)
	for {
		n, err := k.client.Read(buffer)
		if errors.Is(err, os.ErrDeadlineExceeded) {
			return 0
		}
		if err != nil {
			continue // the kernel tells here that nobody listens
		}
		if id, ok := acceptedRecall(buffer[:n]); ok {
			return id
		}
	}
}

// acceptedRecall reads the id out of an answer that accepts a recall.
func acceptedRecall(packet []byte) (id uint64, ok bool) {
	groups, err := osc.Decode(packet, osc.DefaultLimits())
	if err != nil || len(groups) != 1 || groups[0].Messages[0].Address != "/lookgate/answer" {
		return 0, false
	}
	arguments := groups[0].Messages[0].Arguments
	number, ok := arguments[0].(int64)
	return uint64(number), ok && arguments[1] == "recall" && arguments[2] == "accepted"
}

// mark sends every device something that it makes nothing of, and waits until it has: whatever the killed daemon sent it before is in the log then.
func (k *killed) mark() {
	k.t.Helper()
	packet, err := osc.Encode("/mark")
	require.NoError(k.t, err)
	for _, at := range k.devices {
		c, err := net.Dial("udp", at)
		require.NoError(k.t, err)
		_, err = c.Write(packet)
		require.NoError(k.t, err)
		require.NoError(k.t, c.Close())
	}
	met := 0
	k.tail.until("the devices have met the mark", func(l sim.Line) bool {
		if l.Refused != "" {
			met++
		}
		return met == len(k.devices)
	})
}

// unasked tells what a daemon that was given no command did to the wall since a line of its log: it may ask, and nothing else, and nothing may rise.
func (k *killed) unasked(since int) (wrong []string) {
	for n := since; n < len(k.tail.lines); n++ {
		l, earlier := k.tail.lines[n], k.tail.lines[n-1]
		if at := sent(l); at != "" && at != "/wall/ask" {
			wrong = append(wrong, "sent unasked: "+at)
		}
		for o := range l.Levels {
			if l.Levels[o] > earlier.Levels[o] {
				wrong = append(wrong, fmt.Sprintf("output %d rose unasked from %v to %v", o, earlier.Levels[o], l.Levels[o]))
			}
		}
	}
	return wrong
}

// overs tells of every conductor that was over its limit since it last looked.
func (k *killed) overs() (wrong []string) {
	for ; k.judged < len(k.tail.lines); k.judged++ {
		if l := k.tail.lines[k.judged]; len(l.Over) > 0 {
			wrong = append(wrong, fmt.Sprintf("%v over at %v", l.Over, l.At))
		}
	}
	return wrong
}
