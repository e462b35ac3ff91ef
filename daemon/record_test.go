package daemon_test

import (
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/daemon/daemontest"
	"lookgate/presets/engine"
	"lookgate/presets/units"
	"lookgate/protocols"
)

func lineWith(kind, text string) func(protocols.Line) bool {
	return func(l protocols.Line) bool { return l.Kind == kind && strings.Contains(l.Text, text) }
}

// texts gives the record's newest lines of some commands as kind and words.
func texts(s *daemontest.Stage, ids ...uint64) []string {
	var out []string
	for _, l := range s.Record(500) {
		for _, id := range ids {
			if l.ID == id {
				out = append(out, l.Kind+" "+l.Text)
			}
		}
	}
	return out
}

func TestTheRecordReadsAsAPersonWouldSayIt(t *testing.T) {
	bubble(t, nil, func(t *testing.T, s *daemontest.Stage) {
		rows := []struct {
			name    string
			command engine.Command
			lines   []string
		}{
			{"recall at a level", engine.Command{Verb: engine.Recall, Preset: 1, Level: 0.62, HasLevel: true},
				[]string{`command recall 1 "low" at 62 %; decided, and waits for this line to be on disk`, "answer accepted", "outcome on after 0."}},
			{"recall by name", engine.Command{Verb: engine.Recall, Target: "low"},
				[]string{`command recall "low"; decided`, "answer accepted", "outcome on after"}},
			{"refused with its numbers", recall(9),
				[]string{`command recall 9 "glare"`, "answer refused: circuit-over circuit A1 14.4 A of 12.0 A; circuit-over circuit A"}},
			{"unknown preset", recall(44), []string{"command recall 44", "answer refused: unknown-preset preset 44, the book has no preset 44"}},
			{"blackout", dark, []string{"command blackout", "answer accepted", "outcome on after 0."}},
			{"blackout of a zone", engine.Command{Verb: engine.Blackout, Target: "zone1"}, []string{"command blackout zone1", "answer accepted", "outcome on"}},
			{"light again", engine.Command{Verb: engine.Blackout, Off: true}, []string{"command blackout off", "answer accepted", "outcome on"}},
			{"a level", engine.Command{Verb: engine.Level, Level: 0.5}, []string{"command level 50 %", "answer accepted", "outcome on"}},
			{"a step", engine.Command{Verb: engine.StepBy, Stops: -1}, []string{"command step -1.0 stops", "answer accepted", "outcome on"}},
			{"a zone's level", engine.Command{Verb: engine.ZoneLevel, Target: "zone2", Level: 0.05}, []string{"command zone-level zone2 5 %", "answer accepted", "outcome on"}},
			{"circuit", engine.Command{Verb: engine.CircuitOut, Target: "A1"}, []string{"command circuit-out A1; decided", "answer accepted", "outcome on"}},
		}
		for _, row := range rows {
			row.command.Station = "desk"
			k := daemontest.Order(s, row.command)
			if k.Answer(t).Status == engine.Accepted {
				k.Outcome(t)
			}
			<-time.After(2 * time.Second) // in the bubble: until the disk has it all
			got := texts(s, k.IDs[0])
			require.Len(t, got, len(row.lines), "%s: %q", row.name, got)
			for i, want := range row.lines {
				require.True(t, strings.HasPrefix(got[i], want), "%s: %q, not %q", row.name, got[i], want)
			}
		}
		lines := s.Record(500)
		for i, l := range lines {
			require.Equal(t, lines[0].Seq+uint64(i), l.Seq)
		}
		require.Len(t, s.Record(2), 2)
		require.Empty(t, s.Record(-1))
		require.Equal(t, lines[len(lines)-1], s.Record(1)[0])
	})
}

func TestAFaderIsListedAtItsStartAndWhereItRests(t *testing.T) {
	bubble(t, nil, func(t *testing.T, s *daemontest.Stage) {
		on(t, s, 1)
		var ids []uint64
		for i := range 100 {
			k := daemontest.Order(s, engine.Command{Station: "desk", Verb: engine.Level, Level: 1 - units.Level(i)/200})
			require.Equal(t, engine.Accepted, k.Answer(t).Status)
			ids = append(ids, k.IDs[0])
			<-time.After(20 * time.Millisecond)
		}
		<-time.After(3 * time.Second)
		require.Equal(t, []string{"command level 100 %", "answer accepted"}, texts(s, ids[0])[:2])
		got := texts(s, ids[99])
		require.Len(t, got, 3, "%q", got)
		require.Equal(t, "command level 50.5 % (at rest; 98 before it are not listed)", got[0])
		require.Contains(t, got[2], "outcome on after")
		require.Empty(t, texts(s, ids[1:99]...))

		// A change of verdict is listed at once.
		k := daemontest.Order(s, engine.Command{Station: "desk", Verb: engine.Level, Level: 0.4}, engine.Command{Station: "desk", Verb: engine.Level, Level: 7})
		<-time.After(300 * time.Millisecond)
		require.Equal(t, []string{"command level 700 %", "answer refused: bad-level command level, a level is a number from 0 to 1, not 7"}, texts(s, k.IDs[1]))
	})
}

func TestNobodyFillsTheRecord(t *testing.T) {
	bubble(t, nil, func(t *testing.T, s *daemontest.Stage) {
		before := len(s.Store.Rows())
		for range 5000 {
			daemontest.Order(s, recall(44))
			synctest.Wait()
		}
		<-time.After(3 * time.Second)
		require.Less(t, len(s.Store.Rows())-before, 2100)
		require.True(t, lineWith("gap", "4000 commands are not listed")(s.Record(1)[0]), "%v", s.Record(1))
		require.Equal(t, engine.On, daemontest.Order(s, dark).Outcome(t).End)
	})
}

func TestAlarmsAndTheirEndsAreRecorded(t *testing.T) {
	bubble(t, nil, func(t *testing.T, s *daemontest.Stage) {
		s.Devices[1].Set(func(d *daemontest.Device) { d.Mute = true })
		<-time.After(time.Minute)
		s.Devices[1].Set(func(d *daemontest.Device) { d.Mute = false })
		<-time.After(time.Minute)
		lines := s.Record(500)
		var got []string
		for _, l := range lines {
			if l.Kind == "alarm" || l.Kind == "clear" {
				got = append(got, l.Kind+" "+l.Text)
			}
		}
		require.Contains(t, got, "alarm device proc2 does not answer; its outputs count at their highest; look at its power and network")
		require.Contains(t, got, "clear over: device proc2 does not answer; its outputs count at their highest")
	})
}

func commandLine(t *testing.T, s *daemontest.Stage) protocols.Line {
	t.Helper()
	lines := s.Record(100)
	for i := len(lines) - 1; i >= 0; i-- {
		if lines[i].Kind == "command" {
			return lines[i]
		}
	}
	require.FailNow(t, "no command is in the record")
	return protocols.Line{}
}
