package main

import (
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math"
	"net"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets"
	"lookgate/presets/finding"
	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/units"
	"lookgate/protocols"
	"lookgate/protocols/sim"
)

// quietBoards takes the loads off that come and go on the demo's boards, so that the true current of every conductor can be computed from levels alone.
var quietBoards = map[string]func(string) string{"rig.yaml": func(text string) string {
	return regexp.MustCompile(`(?m)^loads:\n(  - .*\n)+`).ReplaceAllString(text, "")
}}

func TestAConsolesLookIsTrueAtTheWall(t *testing.T) {
	s := newStage(t, "run", quietBoards)
	answers := heardAt(t, s.reply)
	oscsend(t, s.osc, "/lookgate/recall", "i", "3")
	s.on(3)
	eventually(t, "the console is told how it ended", func() bool {
		return regexp.MustCompile(`/lookgate/outcome hssfii \d+ "recall" "on"`).MatchString(answers())
	})
	s.never()

	st, _, err := readSite(s.folder)
	require.NoError(t, err)
	plan := presets.NewPlan(st.Rig, st.Book)
	want := presets.Check(plan, plan.Book.ByNumber(3), presets.Conditions{}).Levels
	all := lines(t, s.log)
	last := all[len(all)-1]
	require.Equal(t, want, last.Levels)
	var flow power.Flow
	plan.Power.Flow(power.State{Levels: want}, &flow)
	for i, amps := range flow.Amps {
		c := plan.Power.Conductors()[i]
		require.InDelta(t, float64(amps), float64(last.Amps[i]), 1e-3*float64(amps)+1e-9, "%v %s", c.Kind, c.Name)
		require.LessOrEqual(t, last.Amps[i], c.Limit)
	}
	for o := range want {
		requireWritten(t, st.Rig, o, want[o], all)
	}
}

// requireWritten holds the last level that was sent to an output against the octets of OSC 1.0, put together here by hand: address, type tags, a big-endian
// float, and for a device with numbers a 64-bit number.
func requireWritten(t *testing.T, r *rig.Rig, o int, level units.Level, all []sim.Line) {
	t.Helper()
	out, device := r.Outputs[o], r.Devices[r.Outputs[o].Device]
	address := "/wall/output/" + out.Address + "/level"
	tags, numbered := ",f\x00\x00", device.Class == rig.Numbered
	if numbered {
		tags = ",fh\x00"
	}
	head := address + strings.Repeat("\x00", 4-len(address)%4) + tags
	var found []byte
	for _, l := range all {
		if b, err := hex.DecodeString(l.Bytes); err == nil && l.Device == device.Name && strings.HasPrefix(string(b), head) {
			found = b
		}
	}
	require.NotEmpty(t, found, "nothing was sent to %s", out.Name)
	want := binary.BigEndian.AppendUint32([]byte(head), math.Float32bits(float32(level)))
	if numbered {
		require.Len(t, found, len(want)+8, out.Name)
		require.NotZero(t, binary.BigEndian.Uint64(found[len(want):]), "the command number for %s", out.Name)
		found = found[:len(want)]
	}
	require.Equal(t, want, found, out.Name)
}

func TestARefusalIsToldEverywhereAndSentNowhere(t *testing.T) {
	s := newStage(t, "run", nil)
	before := orders(t, s.log)
	answers := heardAt(t, s.reply)
	oscsend(t, s.osc, "/lookgate/recall", "i", "6")

	var shown []finding.Finding
	for _, p := range s.view(t).Presets {
		if p.Number == 6 {
			shown = p.Findings
			require.False(t, p.Admitted)
		}
	}
	require.Equal(t, "leg-over", string(shown[0].Code))
	require.Equal(t, "DA L1", shown[0].Place.Name)
	requireHeard(t, answers, shown)

	conn := s.dial()
	told := ask(t, conn, `{"jsonrpc":"2.0","id":1,"method":"recall","params":{"preset":6}}`).Result
	require.Equal(t, "refused", string(told.Status))
	require.Equal(t, shown, told.Findings, "the browser is told what the console is told")
	var record struct {
		Result []protocols.Line `json:"result"`
	}
	eventually(t, "both refusals are in the record, with their reasons", func() bool {
		require.NoError(t, json.Unmarshal([]byte(call(t, conn, `{"jsonrpc":"2.0","id":1,"method":"record","params":{"n":100}}`, 1)), &record))
		n := 0
		for _, l := range record.Result {
			if l.Kind == "answer" && strings.Contains(l.Text, "refused") && strings.Contains(l.Text, "leg-over") {
				n++
			}
		}
		return n == 2
	})
	s.fence(answers)
	require.Equal(t, before, orders(t, s.log), "something reached a device")
}

// requireHeard waits until oscdump has printed every finding with its code, place, numbers, sentence and remedies.
func requireHeard(t *testing.T, answers func() string, shown []finding.Finding) {
	t.Helper()
	for _, f := range shown {
		require.NotEmpty(t, f.Remedies, "%s has no way out", f.Place)
		words := []string{fmt.Sprintf(" %q %q ", f.Code, f.Place), fmt.Sprintf("%f", float32(f.Computed.Value)), fmt.Sprintf("%f", float32(f.Limit.Value)),
			fmt.Sprintf("%q", string(f.Limit.Unit)), f.Sentence}
		for _, r := range f.Remedies {
			words = append(words, string(r.When)+": "+r.Words)
		}
		var missing string
		if !within(patience, func() bool { missing = missingIn(answers(), words); return missing == "" }) {
			t.Fatalf("%s: oscdump never printed %s in one line:\n%s", f.Place, missing, answers())
		}
	}
}

// missingIn gives what the best line of a text lacks.
func missingIn(text string, words []string) string {
	least, lacks := len(words)+1, strings.Join(words, ", ")
	for line := range strings.Lines(text) {
		var no []string
		for _, w := range words {
			if !strings.Contains(line, w) {
				no = append(no, w)
			}
		}
		if len(no) < least {
			least, lacks = len(no), strings.Join(no, ", ")
		}
	}
	return lacks
}

func TestBadPacketsAreAnsweredOrDropped(t *testing.T) {
	s := newStage(t, "run", nil)
	oscsend(t, s.osc, "/lookgate/recall", "i", "3")
	s.on(3)
	answers := heardAt(t, s.reply)
	before, look := orders(t, s.log), s.view(t).Look
	for _, row := range []struct {
		name  string
		words []string
		code  string // of the finding that answers it
	}{
		{"a preset that nobody stored", []string{"/lookgate/recall", "i", "999"}, "unknown-preset"},
		{"a level of 7", []string{"/lookgate/level", "f", "7"}, "bad-level"},
		{"a level that is no number", []string{"/lookgate/level", "f", "nan"}, "bad-level"},
		{"a level below nothing", []string{"/lookgate/zone/bay/level", "f", "-1"}, "bad-level"},
		{"a level in words", []string{"/lookgate/level", "s", "loud"}, "bad-arguments"},
		{"a verb that is none", []string{"/lookgate/explode", "i", "1"}, "bad-arguments"},
	} {
		t.Run(row.name, func(t *testing.T) {
			heard := len(answers())
			oscsend(t, s.osc, row.words...)
			eventually(t, "it is answered", func() bool { return strings.Contains(answers()[heard:], `"`+row.code+`"`) })
			require.NotContains(t, answers()[heard:], `"accepted"`)
		})
	}
	conn, err := net.Dial("udp", s.osc)
	require.NoError(t, err)
	defer conn.Close()
	blackout := "/lookgate/blackout\x00\x00,T\x00\x00"
	for _, bad := range []string{
		"#bundle\x00\x00\x00\x00\x00\x00\x00\x00\x01\x00\x00\x00\x18" + blackout + "\x00\x00\x00\x40/lookgate", // the second element ends too early
		"#bundle\x00\x00\x00", blackout[:22], "/[", "garb", "",
	} {
		_, err := conn.Write([]byte(bad))
		require.NoError(t, err)
	}
	eventually(t, "what ends too early is answered", func() bool { return strings.Count(answers(), "the packet was refused whole") >= 3 })
	s.fence(answers)
	require.Equal(t, look, s.view(t).Look)
	require.Equal(t, before, orders(t, s.log))
}
