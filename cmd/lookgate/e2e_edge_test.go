package main

import (
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/gorilla/websocket"
	"github.com/stretchr/testify/require"

	"lookgate/presets/engine"
)

// The guard of the listener, as a browser meets it that another site's page or a rebound name drives.
func TestAnotherSitesPageCommandsNothing(t *testing.T) {
	s := newStage(t, "run", nil)
	before := orders(t, s.log)
	local := "localhost:" + strings.Split(s.panel, ":")[1]
	const opened, noPost = http.StatusSwitchingProtocols, http.StatusMethodNotAllowed
	const foreign, rebound = http.StatusForbidden, http.StatusMisdirectedRequest
	for _, row := range []struct {
		name       string
		header     http.Header
		open, post int // status of opening a WebSocket, and of a POST
	}{
		{"no origin: a program", http.Header{}, opened, noPost},
		{"the panel's own", http.Header{"Origin": {"http://" + s.panel}}, opened, noPost},
		{"a host that the site lists", http.Header{"Host": {local}, "Origin": {"http://" + local}}, opened, noPost},
		{"another site", http.Header{"Origin": {"http://evil.example"}}, foreign, foreign},
		{"this machine at another port", http.Header{"Origin": {"http://127.0.0.1:1"}}, foreign, foreign},
		{"a page without origin", http.Header{"Origin": {"null"}}, foreign, foreign},
		{"a rebound name", http.Header{"Host": {"evil.example"}}, rebound, rebound},
		{"a rebound name with its own origin", http.Header{"Host": {"evil.example"}, "Origin": {"http://evil.example"}}, rebound, rebound},
	} {
		t.Run(row.name, func(t *testing.T) {
			conn, resp, err := websocket.DefaultDialer.Dial("ws://"+s.panel+"/ws", row.header.Clone())
			require.NotNil(t, resp, "%v", err)
			require.Equal(t, row.open, resp.StatusCode)
			if err == nil {
				require.NoError(t, conn.Close())
			}
			for _, path := range []string{"/", "/state", "/ws"} {
				require.Equal(t, row.post, post(t, s.panel, path, row.header), path)
			}
		})
	}
	require.Equal(t, before, orders(t, s.log))
	require.Equal(t, "none", s.view(t).Look.State)
}

// post sends a command as a form of another site's page would.
func post(t *testing.T, panel, path string, header http.Header) int {
	t.Helper()
	r, err := http.NewRequest(http.MethodPost, "http://"+panel+path, strings.NewReader(`{"jsonrpc":"2.0","id":1,"method":"recall","params":{"preset":3}}`))
	require.NoError(t, err)
	r.Header = header.Clone()
	r.Header.Set("Content-Type", "text/plain")
	if host := header.Get("Host"); host != "" {
		r.Host = host
	}
	resp, err := http.DefaultClient.Do(r)
	require.NoError(t, err)
	defer resp.Body.Close()
	_, _ = io.Copy(io.Discard, resp.Body)
	return resp.StatusCode
}

// hangUp writes a file of the site anew and tells the daemon to read it.
func (s *stage) hangUp(name, text string) {
	s.t.Helper()
	require.NoError(s.t, os.WriteFile(filepath.Join(s.folder, name), []byte(text), 0o644))
	require.NoError(s.t, s.cmd.Process.Signal(syscall.SIGHUP))
}

func TestABrokenSiteLeavesTheWallAndTheBookAlone(t *testing.T) {
	s := newStage(t, "run", nil)
	oscsend(t, s.osc, "/lookgate/recall", "i", "3")
	lit := s.on(3)
	before := orders(t, s.log)
	book, err := os.ReadFile(filepath.Join(s.folder, "presets.yaml"))
	require.NoError(t, err)
	s.hangUp("presets.yaml", strings.Replace(string(book), "mode: film\n    zones: {bay: 45%", "mood: film\n    zones: {bay: 145%", 1))
	var v engine.View
	eventually(t, "the state tells of the problems", func() bool { v = s.view(t); return len(v.Reload) > 0 })
	told := strings.Join(v.Reload, "\n")
	require.Contains(t, told, "presets.yaml:7:5", "the key that is none")
	require.Contains(t, told, "presets.yaml:8:", "and the level that is none: all problems at once")
	eventually(t, "so does standard error", func() bool {
		return strings.Contains(s.said(), "reload: refused") && strings.Contains(s.said(), "presets.yaml:7:5")
	})
	require.Equal(t, lit.Presets, v.Presets)
	require.Equal(t, lit.Look, v.Look)
	require.Equal(t, lit.Outputs, v.Outputs)
	require.Equal(t, before, orders(t, s.log), "something was sent")

	s.hangUp("presets.yaml", strings.Replace(string(book), "Harbour by night", "Harbour at midnight", 1))
	eventually(t, "a site that is mended is taken", func() bool {
		v = s.view(t)
		return len(v.Reload) == 0 && strings.Contains(s.said(), "reload: accepted")
	})
	require.Equal(t, "Harbour at midnight", v.Presets[2].Name)
	require.Equal(t, before, orders(t, s.log), "to read a book is to send nothing")
}

func TestWatchPutsNothingOnTheWire(t *testing.T) {
	s := newStage(t, "watch", nil)
	conn := s.dial()
	for _, row := range []struct{ name, request, finding string }{
		{"a look that is admitted", `{"jsonrpc":"2.0","id":1,"method":"recall","params":{"preset":3}}`, ""},
		{"a level", `{"jsonrpc":"2.0","id":1,"method":"level","params":{"level":0.5}}`, ""},
		{"a look that would be refused", `{"jsonrpc":"2.0","id":1,"method":"recall","params":{"preset":6}}`, "leg-over"},
		{"blackout", `{"jsonrpc":"2.0","id":1,"method":"blackout"}`, ""},
	} {
		t.Run(row.name, func(t *testing.T) {
			a := ask(t, conn, row.request)
			require.Nil(t, a.Error)
			require.Equal(t, engine.Accepted, a.Result.Status)
			if row.finding != "" {
				require.NotEmpty(t, a.Result.Findings)
				require.Equal(t, row.finding, string(a.Result.Findings[0].Code))
			}
		})
	}
	oscsend(t, s.osc, "/lookgate/recall", "i", "1")
	eventually(t, "all of it is noted in the record", func() bool {
		return strings.Count(call(t, conn, `{"jsonrpc":"2.0","id":1,"method":"record","params":{"n":100}}`, 1), "noted") >= 5
	})
	require.True(t, s.view(t).Watch)
	sent := func() bool {
		for _, l := range lines(t, s.log) {
			if l.Bytes != "" {
				return true
			}
		}
		return false
	}
	require.False(t, within(time.Second, sent), "a device was sent something, if only a question") // two retries of every device
	require.NotEmpty(t, lines(t, s.log), "the wall writes a log")
}
