package osc

import (
	"bufio"
	"context"
	"net"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets/engine"
	"lookgate/presets/rig"
	"lookgate/protocols"
)

// peer finds a program that is not ours. Where it is missing the test is skipped,
// but never in CI.
func peer(t *testing.T, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil && os.Getenv("CI") == "true" {
		t.Fatalf("%s is missing: %v", name, err)
	}
	if err != nil {
		t.Skipf("%s is missing: install liblo-tools", name)
	}
	return path
}

// oscsend has liblo send one message.
func oscsend(t *testing.T, address string, arguments ...string) {
	t.Helper()
	host, port, err := net.SplitHostPort(address)
	require.NoError(t, err)
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	out, err := exec.CommandContext(ctx, peer(t, "oscsend"), append([]string{host, port}, arguments...)...).CombinedOutput()
	require.NoError(t, err, string(out))
}

// oscdump runs liblo's listener on a free port and gives its lines without their
// time stamps. It says nothing when it is ready, so whoever uses it repeats what
// he sends until a line comes.
func oscdump(t *testing.T) (port int, lines <-chan string) {
	t.Helper()
	path := peer(t, "oscdump")
	free, err := net.ListenUDP("udp", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
	require.NoError(t, err)
	port = free.LocalAddr().(*net.UDPAddr).Port
	require.NoError(t, free.Close())
	ctx, cancel := context.WithCancel(context.Background())
	cmd := exec.CommandContext(ctx, path, "-L", strconv.Itoa(port))
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	heard := make(chan string, 1024)
	done := make(chan struct{})
	go func() {
		defer close(done)
		scan := bufio.NewScanner(out)
		for scan.Scan() {
			_, rest, _ := strings.Cut(scan.Text(), " ")
			heard <- rest
		}
	}()
	t.Cleanup(func() { cancel(); <-done; _ = cmd.Wait() })
	return port, heard
}

// until repeats an action until a line comes.
func until(t *testing.T, lines <-chan string, act func()) string {
	t.Helper()
	again := time.NewTicker(100 * time.Millisecond)
	defer again.Stop()
	end := time.After(patience)
	for {
		act()
		select {
		case line := <-lines:
			return line
		case <-again.C:
		case <-end:
			t.Fatal("oscdump heard nothing")
		}
	}
}

// TestPeerSends: what liblo puts on the wire asks for what it should.
func TestPeerSends(t *testing.T) {
	desk := newFakeDesk()
	s := serve(t, desk)
	for _, row := range []struct {
		name string
		line []string
		want engine.Command
	}{
		{"by address", []string{"/lookgate/recall/12"}, engine.Command{Verb: engine.Recall, Preset: 12}},
		{"by number", []string{"/lookgate/recall", "i", "12"}, engine.Command{Verb: engine.Recall, Preset: 12}},
		{"by long number", []string{"/lookgate/recall", "h", "12"}, engine.Command{Verb: engine.Recall, Preset: 12}},
		{"by name", []string{"/lookgate/recall", "s", "warm dusk"}, engine.Command{Verb: engine.Recall, Target: "warm dusk"}},
		{"by symbol", []string{"/lookgate/recall", "S", "dusk"}, engine.Command{Verb: engine.Recall, Target: "dusk"}},
		{"level, float", []string{"/lookgate/level", "f", "0.8"}, engine.Command{Verb: engine.Level, Level: 0.8, HasLevel: true}},
		{"level, double", []string{"/lookgate/zone/bay/level", "d", "0.8"}, engine.Command{Verb: engine.ZoneLevel, Target: "bay", Level: 0.8, HasLevel: true}},
		{"go, impulse", []string{"/lookgate/go", "I"}, engine.Command{Verb: engine.Go}},
		{"blackout, true", []string{"/lookgate/blackout", "T"}, engine.Command{Verb: engine.Blackout}},
		{"blackout, false", []string{"/lookgate/blackout", "F"}, engine.Command{Verb: engine.Blackout, Off: true}},
		{"a pattern", []string{"/lookgate/zone/[!lw]*/level", "f", "0.5"}, engine.Command{Verb: engine.ZoneLevel, Target: "bay", Level: 0.5, HasLevel: true}},
	} {
		oscsend(t, s.Addr(), row.line...)
		row.want.Station = "booth"
		require.Equal(t, []engine.Command{row.want}, desk.take(t), row.name)
	}
}

// TestPeerHearsAnswers: liblo reads our answers at the station's reply port.
func TestPeerHearsAnswers(t *testing.T) {
	port, lines := oscdump(t)
	desk := newFakeDesk()
	desk.say = func(c engine.Command, tell protocols.Tell) {
		tell(&engine.Answer{ID: 5, Verb: c.Verb, Status: engine.Accepted}, nil)
	}
	s := serve(t, desk, protocols.Station{Name: "booth", ReplyPort: port})
	line := until(t, lines, func() { oscsend(t, s.Addr(), "/lookgate/recall/12") })
	require.Equal(t, `/lookgate/answer hssi 5 "recall" "accepted" 0`, line)
}

// TestPeerIsADevice: liblo reads what a device is sent.
func TestPeerIsADevice(t *testing.T) {
	for _, row := range []struct {
		name   string
		class  rig.Class
		action engine.Action
		want   string
	}{
		{"level with number", rig.Numbered, engine.Action{Kind: engine.SendLevel, Output: 2, Level: 0.5, Number: 17}, "/wall/output/2/level fh 0.500000 17"},
		{"black with number", rig.Numbered, engine.Action{Kind: engine.SendBlack, Output: 1, Black: true, Number: 18}, "/wall/output/1/black Th #T 18"},
		{"level without number", rig.Reporting, engine.Action{Kind: engine.SendLevel, Output: 1, Level: 0.25, Number: 17}, "/wall/output/1/level f 0.250000"},
		{"black let go, silent", rig.Silent, engine.Action{Kind: engine.SendBlack, Output: 1}, "/wall/output/1/black F #F"},
		{"picture", rig.Reporting, engine.Action{Kind: engine.SendPicture, Picture: engine.Picture{Layout: 12, Mode: 2}}, "/wall/picture ii 12 2"},
		{"ask", rig.Numbered, engine.Action{Kind: engine.Ask}, "/wall/ask h 0"},
	} {
		t.Run(row.name, func(t *testing.T) {
			port, lines := oscdump(t)
			d := openDevice(t, row.class, net.JoinHostPort("127.0.0.1", strconv.Itoa(port)), "", func(engine.Report) {})
			line := until(t, lines, func() { require.NoError(t, d.Write(context.Background(), row.action)) })
			require.Equal(t, row.want, strings.TrimSpace(line))
		})
	}
}

// TestPeerReports: a report that liblo wrote is taken.
func TestPeerReports(t *testing.T) {
	reports := make(chan engine.Report, 16)
	d := openDevice(t, rig.Numbered, "127.0.0.1:9", "127.0.0.1:0", func(r engine.Report) { reports <- r })
	oscsend(t, d.conn.LocalAddr().String(), "/wall/report", "hiisfTsfF", "17", "12", "2", "2", "0.8", "1", "0.5")
	require.Equal(t, engine.Report{Device: 1, Number: 17, Picture: engine.Picture{Layout: 12, Mode: 2}, Levels: levels(0.5, 0.8), Black: []bool{false, true}}, next(t, reports))
}
