package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/gorilla/websocket"
	"github.com/stretchr/testify/require"

	"lookgate/presets"
	"lookgate/presets/engine"
	"lookgate/presets/power"
	"lookgate/presets/units"
	"lookgate/protocols/sim"
)

// patience is how long a process may take to do what a test waits for.
const patience = 20 * time.Second

// TestMain lets the test binary be the program itself, so that tests run it as a process of its own.
func TestMain(m *testing.M) {
	if os.Getenv("LOOKGATE_BE") != "" {
		for _, f := range engine.Faults {
			if f.String() == os.Getenv("LOOKGATE_FAULT") {
				plantedFault = f
			}
		}
		os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
	}
	os.Exit(m.Run())
}

// process is the program running.
type process struct {
	cmd  *exec.Cmd
	mu   sync.Mutex
	text bytes.Buffer
	done chan struct{}
}

// start runs the program with its output kept.
func start(t *testing.T, env []string, args ...string) *process {
	t.Helper()
	self, err := os.Executable()
	require.NoError(t, err)
	p := &process{cmd: exec.Command(self, args...), done: make(chan struct{})}
	p.cmd.Env = append(append(os.Environ(), "LOOKGATE_BE=1"), env...)
	out, err := p.cmd.StdoutPipe()
	require.NoError(t, err)
	p.cmd.Stderr = p.cmd.Stdout
	require.NoError(t, p.cmd.Start())
	go func() {
		defer close(p.done)
		lines := bufio.NewReader(out)
		for {
			line, err := lines.ReadString('\n')
			p.mu.Lock()
			p.text.WriteString(line)
			p.mu.Unlock()
			if err != nil {
				_ = p.cmd.Wait()
				return
			}
		}
	}()
	t.Cleanup(func() { p.stop(t, syscall.SIGKILL) })
	return p
}

func (p *process) said() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.text.String()
}

// stop ends the process by a signal and waits for it.
func (p *process) stop(t *testing.T, s os.Signal) {
	t.Helper()
	_ = p.cmd.Process.Signal(s)
	select {
	case <-p.done:
	case <-time.After(patience):
		t.Errorf("the process did not end by %v:\n%s", s, p.said())
	}
}

// eventually polls a fact until it holds.
func eventually(t *testing.T, what string, fact func() bool) {
	t.Helper()
	require.Eventually(t, fact, patience, 5*time.Millisecond, what)
}

// demoRun is a demo process with its addresses and the log of its wall.
type demoRun struct {
	*process
	panel, osc string
	log        string
}

func startDemo(t *testing.T) *demoRun {
	t.Helper()
	d := &demoRun{log: filepath.Join(t.TempDir(), "plant.log")}
	d.process = start(t, []string{"TMPDIR=" + t.TempDir()}, "demo", "-http", "127.0.0.1:0", "-osc", "127.0.0.1:0", "-log", d.log)
	eventually(t, "the demo says where it is", func() bool { return strings.Contains(d.said(), "Ctrl-C") })
	d.panel = regexp.MustCompile(`http://(127\.0\.0\.1:\d+)/`).FindStringSubmatch(d.said())[1]
	d.osc = regexp.MustCompile(`OSC +(127\.0\.0\.1:\d+)`).FindStringSubmatch(d.said())[1]
	eventually(t, "all devices that can tell have told", func() bool {
		v := d.view(t)
		return v.Outputs[0].Confirmed && v.Outputs[1].Confirmed
	})
	return d
}

func (d *demoRun) view(t *testing.T) engine.View {
	t.Helper()
	resp, err := http.Get("http://" + d.panel + "/state")
	require.NoError(t, err)
	defer resp.Body.Close()
	var v engine.View
	require.NoError(t, json.NewDecoder(resp.Body).Decode(&v))
	return v
}

// lines reads the wall's log.
func lines(t *testing.T, name string) []sim.Line {
	t.Helper()
	text, err := os.ReadFile(name)
	require.NoError(t, err)
	var all []sim.Line
	for _, l := range bytes.Split(text, []byte("\n")) {
		var line sim.Line
		if json.Unmarshal(l, &line) == nil { // the last one may be half written
			all = append(all, line)
		}
	}
	return all
}

// sets counts what devices took over.
func sets(all []sim.Line) int {
	n := 0
	for _, l := range all {
		n += l.Sets
	}
	return n
}

// oscsend runs liblo's program, which nobody here wrote.
func oscsend(t *testing.T, at string, words ...string) {
	t.Helper()
	name, err := exec.LookPath("oscsend")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("oscsend is missing in CI")
		}
		t.Skip("oscsend is missing: it is in Debian's liblo-tools")
	}
	host, port, _ := strings.Cut(at, ":")
	out, err := exec.Command(name, append([]string{host, port}, words...)...).CombinedOutput()
	require.NoError(t, err, "%s", out)
}

func TestADemoLookReachesTheWall(t *testing.T) {
	d := startDemo(t)
	oscsend(t, d.osc, "/lookgate/recall", "i", "3")
	eventually(t, "the look is on", func() bool { v := d.view(t); return v.Look.Preset == 3 && v.Look.State == "on" })
	st, _, err := readSite(filepath.Join(sites, "demo"))
	require.NoError(t, err)
	plan := presets.NewPlan(st.Rig, st.Book)
	verdict := presets.Check(plan, plan.Book.ByNumber(3), presets.Conditions{})
	all := lines(t, d.log)
	last := all[len(all)-1]
	require.Equal(t, verdict.Levels, last.Levels, "the true levels are the preset's")
	for _, l := range all {
		require.Empty(t, l.Over)
		require.Empty(t, l.Refused, "a device understood everything: %s", l.Bytes)
	}
	var found bool
	for _, l := range all {
		found = found || strings.HasPrefix(l.Bytes, "2f77616c6c2f6f75747075742f312f6c6576656c") // "/wall/output/1/level"
	}
	require.True(t, found, "the bytes on the wire")
	for i, c := range plan.Power.Conductors() {
		if c.Circuit >= 0 { // other loads are at their maximum in one and anywhere in the other
			want := plan.Power.At(power.State{Levels: last.Levels}, nil)[i]
			require.InEpsilon(t, float64(want), float64(last.Amps[i]), 1e-3, "%v %s", c.Kind, c.Name)
		}
	}
	d.stop(t, syscall.SIGTERM)
	require.Equal(t, 0, d.cmd.ProcessState.ExitCode())
}

func TestARefusedDemoLookSendsNothing(t *testing.T) {
	d := startDemo(t)
	before := sets(lines(t, d.log))
	answers := heardAt(t, 9001)
	oscsend(t, d.osc, "/lookgate/recall", "i", "6")
	eventually(t, "the refusal is heard by oscdump", func() bool {
		s := answers()
		return strings.Contains(s, "refused") && strings.Contains(s, "leg-over") && strings.Contains(s, "53 %")
	})
	for _, p := range d.view(t).Presets {
		require.Equal(t, p.Number == 6, !p.Admitted, "preset %d", p.Number)
	}
	conn, _, err := websocket.DefaultDialer.Dial("ws://"+d.panel+"/ws", nil)
	require.NoError(t, err)
	defer conn.Close()
	require.Contains(t, call(t, conn, `{"jsonrpc":"2.0","id":1,"method":"recall","params":{"preset":6}}`, 1), "leg-over")
	eventually(t, "the record has the refusal", func() bool {
		return strings.Contains(call(t, conn, `{"jsonrpc":"2.0","id":2,"method":"record","params":{"n":50}}`, 2), "leg-over")
	})
	require.Equal(t, before, sets(lines(t, d.log)), "nothing reached a device")
}

// heardAt runs liblo's oscdump at a port and gives what it has heard so far.
func heardAt(t *testing.T, port int) func() string {
	t.Helper()
	name, err := exec.LookPath("oscdump")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("oscdump is missing in CI")
		}
		t.Skip("oscdump is missing: it is in Debian's liblo-tools")
	}
	ctx, cancel := context.WithCancel(context.Background())
	cmd := exec.CommandContext(ctx, name, "-L", fmt.Sprint(port))
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	var mu sync.Mutex
	var text bytes.Buffer
	done := make(chan struct{})
	go func() {
		defer close(done)
		buffer := make([]byte, 4096)
		for {
			n, err := out.Read(buffer)
			mu.Lock()
			text.Write(buffer[:n])
			mu.Unlock()
			if err != nil {
				return
			}
		}
	}()
	t.Cleanup(func() { cancel(); <-done; _ = cmd.Wait() })
	eventually(t, "oscdump listens", func() bool {
		c, err := net.ListenPacket("udp", fmt.Sprintf("127.0.0.1:%d", port))
		if err == nil {
			_ = c.Close()
		}
		return err != nil
	})
	return func() string { mu.Lock(); defer mu.Unlock(); return text.String() }
}

// call makes a JSON-RPC call and gives its reply, passing over notifications.
func call(t *testing.T, conn *websocket.Conn, request string, id int) string {
	t.Helper()
	require.NoError(t, conn.WriteMessage(websocket.TextMessage, []byte(request)))
	require.NoError(t, conn.SetReadDeadline(time.Now().Add(patience)))
	for {
		_, reply, err := conn.ReadMessage()
		require.NoError(t, err)
		var head struct {
			ID *int `json:"id"`
		}
		if json.Unmarshal(reply, &head) == nil && head.ID != nil && *head.ID == id {
			return string(reply)
		}
	}
}

func TestABadPacketChangesNothing(t *testing.T) {
	d := startDemo(t)
	before := sets(lines(t, d.log))
	for _, words := range [][]string{
		{"/lookgate/recall", "i", "999"}, {"/lookgate/level", "f", "7"}, {"/lookgate/level", "f", "nan"}, {"/lookgate/level", "s", "loud"}, {"/lookgate/zone/bay/level", "f", "-1"},
	} {
		oscsend(t, d.osc, words...)
	}
	conn, err := net.Dial("udp", d.osc)
	require.NoError(t, err)
	defer conn.Close()
	for _, bad := range []string{"#bundle\x00\x00\x00\x00\x00\x00\x00\x00\x01\x00\x00\x00\x40/lookgate", "/[", "garb", ""} {
		_, err := conn.Write([]byte(bad))
		require.NoError(t, err)
	}
	oscsend(t, d.osc, "/lookgate/query")
	eventually(t, "the daemon goes on", func() bool { return d.view(t).Look.State == "none" })
	require.Equal(t, before, sets(lines(t, d.log)))
}

func TestAnotherOriginIsRefused(t *testing.T) {
	d := startDemo(t)
	for name, change := range map[string]func(*http.Request){
		"foreign origin": func(r *http.Request) { r.Header.Set("Origin", "http://evil.example") },
		"rebound name":   func(r *http.Request) { r.Host = "evil.example" },
		"null origin":    func(r *http.Request) { r.Header.Set("Origin", "null") },
	} {
		for _, path := range []string{"/", "/state", "/ws", "/healthz", "/plant"} {
			r, err := http.NewRequest(http.MethodGet, "http://"+d.panel+path, nil)
			require.NoError(t, err)
			change(r)
			resp, err := http.DefaultClient.Do(r)
			require.NoError(t, err)
			_, _ = io.Copy(io.Discard, resp.Body)
			_ = resp.Body.Close()
			require.GreaterOrEqual(t, resp.StatusCode, 400, "%s at %s", name, path)
		}
	}
}

func TestABrokenSiteChangesNothing(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "site")
	d := start(t, []string{"TMPDIR=" + t.TempDir()}, "demo", "-http", "127.0.0.1:0", "-osc", "127.0.0.1:0", "-keep", folder)
	eventually(t, "the demo says where it is", func() bool { return strings.Contains(d.said(), "Ctrl-C") })
	panel := &demoRun{process: d, panel: regexp.MustCompile(`http://(127\.0\.0\.1:\d+)/`).FindStringSubmatch(d.said())[1]}
	before := panel.view(t).Presets
	book := filepath.Join(folder, "presets.yaml")
	text, err := os.ReadFile(book)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(book, bytes.Replace(text, []byte("mode: film"), []byte("mood: film"), 1), 0o644))
	require.NoError(t, d.cmd.Process.Signal(syscall.SIGHUP))
	eventually(t, "the problems are told", func() bool {
		return strings.Contains(d.said(), "reload: refused") && strings.Contains(strings.Join(panel.view(t).Reload, " "), "presets.yaml")
	})
	require.Equal(t, len(before), len(panel.view(t).Presets))
}

func TestWatchSendsNothing(t *testing.T) {
	folder, gone, err := demoFolder(t.TempDir())
	require.NoError(t, err)
	defer gone()
	var socks []net.PacketConn
	for range 3 {
		sock, err := net.ListenPacket("udp", "127.0.0.1:0")
		require.NoError(t, err)
		defer sock.Close()
		socks = append(socks, sock)
	}
	devices := filepath.Join(folder, "devices.yaml")
	text, err := os.ReadFile(devices)
	require.NoError(t, err)
	next := -1
	text = regexp.MustCompile(`address: \S+`).ReplaceAllFunc(text, func([]byte) []byte { next++; return []byte("address: " + socks[next].LocalAddr().String()) })
	text = regexp.MustCompile(`(?m)^\s+reply_port: \d+\n`).ReplaceAll(text, nil)
	require.NoError(t, os.WriteFile(devices, text, 0o644))
	d := start(t, nil, "watch", folder, "-http", "127.0.0.1:0", "-osc", "127.0.0.1:0")
	eventually(t, "it says where it is", func() bool { return strings.Contains(d.said(), "OSC ") })
	run := &demoRun{process: d, panel: regexp.MustCompile(`http://(127\.0\.0\.1:\d+)/`).FindStringSubmatch(d.said())[1]}
	conn, _, err := websocket.DefaultDialer.Dial("ws://"+run.panel+"/ws", nil)
	require.NoError(t, err)
	defer conn.Close()
	reply := call(t, conn, `{"jsonrpc":"2.0","id":1,"method":"recall","params":{"preset":6}}`, 1)
	require.Contains(t, reply, `"accepted"`, "watch refuses nothing")
	require.Contains(t, reply, "leg-over", "and tells")
	eventually(t, "the look is taken as on", func() bool { return run.view(t).Outputs[0].Wanted == units.Level(1) })
	for _, sock := range socks {
		require.NoError(t, sock.SetReadDeadline(time.Now().Add(200*time.Millisecond)))
		_, _, err = sock.ReadFrom(make([]byte, 64))
		require.Error(t, err, "something was sent to a device")
	}
}
