package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
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

	"lookgate/presets/engine"
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
