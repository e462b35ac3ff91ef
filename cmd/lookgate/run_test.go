package main

import (
	"encoding/json"
	"net"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/gorilla/websocket"
	"github.com/stretchr/testify/require"

	"lookgate/daemon"
	"lookgate/protocols"
)

// recorded gives the lines of the record of one kind, oldest first.
func recorded(t *testing.T, conn *websocket.Conn, kind string) []protocols.Line {
	t.Helper()
	var reply struct {
		Result []protocols.Line `json:"result"`
	}
	require.NoError(t, json.Unmarshal([]byte(call(t, conn, `{"jsonrpc":"2.0","id":1,"method":"record","params":{"n":200}}`, 1)), &reply))
	var found []protocols.Line
	for _, l := range reply.Result {
		if l.Kind == kind {
			found = append(found, l)
		}
	}
	return found
}

// TestEveryLineThatTheDemoPrintsDoesWhatItSays runs each line as a person would type it, one after another.
func TestEveryLineThatTheDemoPrintsDoesWhatItSays(t *testing.T) {
	d := startDemo(t)
	conn, _, err := websocket.DefaultDialer.Dial("ws://"+d.panel+"/ws", nil)
	require.NoError(t, err)
	defer conn.Close()
	printed := regexp.MustCompile(`(?m)^ +oscsend (\S+) (\d+) (.*?) +# (.*)$`).FindAllStringSubmatch(d.said(), -1)
	require.GreaterOrEqual(t, len(printed), 5)
	refused := 0
	for i, line := range printed {
		require.Equal(t, d.osc, line[1]+":"+line[2])
		oscsend(t, d.osc, strings.Fields(line[3])...)
		var answers []protocols.Line
		eventually(t, "it is answered: "+line[0], func() bool {
			answers = recorded(t, conn, "answer")
			return len(answers) == i+1
		})
		want := "accepted"
		if strings.HasPrefix(line[4], "REFUSED") {
			want, refused = "refused", refused+1
		}
		require.Contains(t, answers[i].Text, want, line[0])
		require.Equal(t, "console", answers[i].Station)
	}
	require.Equal(t, 1, refused, "one line shows a refusal")
	for _, l := range lines(t, d.log) {
		require.Empty(t, l.Over)
	}
}

func TestTheDemoTakesOtherPortsWhereItsOwnAreTaken(t *testing.T) {
	tcp, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer tcp.Close()
	udp, err := net.ListenPacket("udp", "127.0.0.1:0")
	require.NoError(t, err)
	defer udp.Close()
	d := start(t, []string{"TMPDIR=" + t.TempDir()}, "demo", "-http", tcp.Addr().String(), "-osc", udp.LocalAddr().String())
	eventually(t, "the demo says where it is", func() bool { return strings.Contains(d.said(), "Ctrl-C") })
	require.Contains(t, d.said(), tcp.Addr().String()+" is taken; any free port is used\n")
	require.Contains(t, d.said(), udp.LocalAddr().String()+" is taken; any free port is used\n")
	panel := regexp.MustCompile(`http://(127\.0\.0\.1:\d+)/`).FindStringSubmatch(d.said())[1]
	require.NotEqual(t, tcp.Addr().String(), panel)
	require.NotEmpty(t, (&demoRun{process: d, panel: panel}).view(t).Outputs)
}

// TestASignalStopsWithinFiveSeconds stops in the middle of a fade, while a browser that reads nothing is connected, and starts again: nothing rises unasked.
func TestASignalStopsWithinFiveSeconds(t *testing.T) {
	for _, signal := range []syscall.Signal{syscall.SIGTERM, syscall.SIGINT} {
		t.Run(signal.String(), func(t *testing.T) {
			s := newStage(t, "run", nil)
			s.dial()
			oscsend(t, s.osc, "/lookgate/recall", "i", "1") // 4 s up
			eventually(t, "the fade is on its way", func() bool { all := lines(t, s.log); return all[len(all)-1].Levels[0] > 0.15 })
			began := time.Now()
			s.stop(t, signal)
			require.Less(t, time.Since(began), 5*time.Second)
			require.Equal(t, exitOK, s.cmd.ProcessState.ExitCode(), s.said())
			settled := 250*time.Millisecond + 150*time.Millisecond // of the demo's devices: a packet's life and what they take to act on it
			within(settled, func() bool { return false })
			at := len(lines(t, s.log))
			s.rise()
			within(time.Second, func() bool { return false }) // two retries of every device
			all := lines(t, s.log)
			require.Greater(t, len(all), at, "the devices were asked")
			for n := at; n < len(all); n++ {
				for o := range all[n].Levels {
					require.LessOrEqual(t, all[n].Levels[o], all[n-1].Levels[o], "an output rose unasked")
				}
			}
			s.never()
		})
	}
}

// twoLines holds an error to the house's form: what is wrong, then what to do.
func twoLines(t *testing.T, text string) {
	t.Helper()
	require.Regexp(t, `\A[^\n]+\n[^\n]+\n\z`, text)
}

func TestRunSaysWhyItCannot(t *testing.T) {
	s := newStage(t, "run", nil)
	other := filepath.Join(t.TempDir(), "copy")
	require.NoError(t, os.CopyFS(other, os.DirFS(s.folder)))
	require.NoError(t, os.RemoveAll(stateOf(other)))
	devices, err := os.ReadFile(filepath.Join(other, "devices.yaml"))
	require.NoError(t, err)
	unbound := regexp.MustCompile(`(?m)^ +reply_port: \d+\n`).ReplaceAll(devices, nil)
	r := runWith("run", other, "-osc", "127.0.0.1:0", "-http", "127.0.0.1:0")
	require.Equal(t, exitBroken, r.status)
	require.Regexp(t, `\Adevice heron: listen udp :\d+: bind: address already in use\nfree the port`, r.err)
	require.NoError(t, os.WriteFile(filepath.Join(other, "devices.yaml"), unbound, 0o644))
	for _, row := range []struct {
		name string
		args []string
		want string
	}{
		{"no folder", []string{"run", filepath.Join(other, "nowhere")}, "is no folder that can be read"},
		{"a state folder that another daemon has", []string{"run", s.folder, "-osc", "127.0.0.1:0", "-http", "127.0.0.1:0"}, "process"},
		{"an OSC port that is taken", []string{"run", other, "-http", "127.0.0.1:0"}, s.osc},
		{"an HTTP port that is taken", []string{"run", other, "-osc", "127.0.0.1:0"}, s.panel},
		{"watch beside a daemon on the same state", []string{"watch", s.folder, "-osc", "127.0.0.1:0", "-http", "127.0.0.1:0"}, "process"},
	} {
		t.Run(row.name, func(t *testing.T) {
			r := runWith(row.args...)
			require.Equal(t, exitBroken, r.status)
			require.Contains(t, r.err, row.want)
			twoLines(t, r.err)
			require.Empty(t, r.out)
		})
	}
	require.NoError(t, os.WriteFile(filepath.Join(other, "stations.yaml"), []byte("listen: {osc: 127.0.0.1}\nstations: []\n"), 0o644))
	r = runWith("run", other)
	require.Equal(t, exitBroken, r.status)
	require.Regexp(t, `(?m)^stations\.yaml:1:15: listen\.osc: `, r.err)
}

// TestAReloadThatAsksForOtherSocketsIsRefused: sockets are opened at the start, so an edit of them would be taken in part, and the files tell of what does not run.
func TestAReloadThatAsksForOtherSocketsIsRefused(t *testing.T) {
	s := newStage(t, "run", nil)
	oscsend(t, s.osc, "/lookgate/recall", "i", "3") // a reload judges what is on the wall, and the lid cannot tell what it shows
	s.on(3)
	for _, row := range []struct{ file, old, new, want string }{
		{"stations.yaml", "hosts: [localhost]", "hosts: [booth.example]", "stations.yaml: listen stands otherwise"},
		{"stations.yaml", "{name: booth, engineer: true}", "{name: booth, engineer: false}", "stations.yaml: stations stand otherwise"},
		{"devices.yaml", "address: 127.0.0.1", "address: 127.0.0.2", "devices.yaml: heron is reached otherwise"},
	} {
		t.Run(row.want, func(t *testing.T) {
			text, err := os.ReadFile(filepath.Join(s.folder, row.file))
			require.NoError(t, err)
			edited := strings.Replace(string(text), row.old, row.new, 1)
			require.NotEqual(t, string(text), edited)
			s.hangUp(row.file, edited)
			eventually(t, "it is refused", func() bool { return strings.Contains(strings.Join(s.view(t).Reload, "\n"), row.want) })
			s.hangUp(row.file, string(text))
			eventually(t, "put back, it is taken", func() bool { return len(s.view(t).Reload) == 0 })
		})
	}
}

func TestAReplayMakesTheSameDecisions(t *testing.T) {
	s := newStage(t, "run", nil)
	oscsend(t, s.osc, "/lookgate/recall", "i", "3")
	s.on(3)
	oscsend(t, s.osc, "/lookgate/recall", "i", "6")
	r := runWith("replay", s.folder)
	require.Equal(t, exitBroken, r.status, "a daemon has the record")
	twoLines(t, r.err)
	s.stop(t, syscall.SIGTERM)
	r = runWith("replay", s.folder)
	require.Equal(t, exitOK, r.status, r.err)
	require.Regexp(t, `\Aincarnation 1: \d+ inputs replayed, digest [0-9a-f]{16,}\nthe same decisions, and the record's chain is whole\n\z`, r.out)
	require.Equal(t, r.out, runWith("replay", s.folder).out)
	r = runWith("replay", s.folder, "-epoch", "7")
	require.Equal(t, exitRefused, r.status)
	twoLines(t, r.err)
}

func TestAReplayOfNothingMakesNothing(t *testing.T) {
	folder := t.TempDir()
	r := runWith("replay", folder)
	require.Equal(t, exitBroken, r.status)
	require.Contains(t, r.err, "holds no record")
	twoLines(t, r.err)
	left, err := os.ReadDir(folder)
	require.NoError(t, err)
	require.Empty(t, left)
}

func TestAReplayThatDiffersIsToldByItsStatus(t *testing.T) {
	for _, row := range []struct {
		name string
		is   daemon.Replayed
		want string
	}{
		{"another decision", daemon.Replayed{Differs: 17}, "after row 17 of the journal the engine does otherwise"},
		{"a hole", daemon.Replayed{Missing: 9}, "row 9 of the journal is missing"},
	} {
		t.Run(row.name, func(t *testing.T) {
			var out, err strings.Builder
			require.Equal(t, exitRefused, toldReplay(row.is, streams{out: &out, err: &err}))
			require.Contains(t, err.String(), row.want)
			twoLines(t, err.String())
		})
	}
}

func TestPlantTakesNoHabitOfADeviceThatIsNotThere(t *testing.T) {
	demo := filepath.Join(sites, "demo")
	for _, row := range []struct {
		name string
		args []string
		want string
	}{
		{"late", []string{"-late", "hern=2s"}, `the site has no device "hern"` + "\nit has: heron, teal, wren"},
		{"mute", []string{"-mute", "rook"}, `the site has no device "rook"`},
		{"loss above 1", []string{"-loss", "7"}, "-loss 7 is no part of the packets"},
		{"loss that is no number", []string{"-loss", "NaN"}, "-loss NaN is no part of the packets"},
	} {
		t.Run(row.name, func(t *testing.T) {
			r := runWith(append([]string{"plant", demo}, row.args...)...)
			require.Equal(t, exitUsage, r.status)
			require.Contains(t, r.err, row.want)
			twoLines(t, r.err)
		})
	}
}

// TestALookReachesAWallOverALossyNetwork: what is lost is sent again, and no moment overruns for it.
func TestALookReachesAWallOverALossyNetwork(t *testing.T) {
	s := newStage(t, "run", nil, "-loss", "0.3")
	eventually(t, "a look is put on", func() bool {
		oscsend(t, s.osc, "/lookgate/recall", "i", "3")
		return within(5*time.Second, func() bool { v := s.view(t); return v.Look.Preset == 3 && v.Look.State == "on" })
	})
	lost := false
	for _, l := range lines(t, s.log) {
		lost = lost || strings.Contains(strings.Join(l.Happened, "\n"), "lost")
	}
	require.True(t, lost, "the network lost something")
	s.never()
}
