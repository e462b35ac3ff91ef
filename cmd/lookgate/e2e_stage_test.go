package main

import (
	"encoding/hex"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/gorilla/websocket"
	"github.com/stretchr/testify/require"

	"lookgate/presets/engine"
	"lookgate/presets/site"
	"lookgate/protocols/sim"
)

// stage is the demo's site in a folder and at ports of its own, with its wall in one process and the daemon in another, as a real wall stands beside it.
type stage struct {
	demoRun
	t      *testing.T
	folder string
	reply  int // port at which the console hears answers
	rough  bool
	verb   string
}

// newStage writes the site, lets each edit change the text of one of its files, and starts the wall with the given options and then the daemon.
func newStage(t *testing.T, verb string, edits map[string]func(string) string, wall ...string) *stage {
	t.Helper()
	s := &stage{t: t, folder: t.TempDir(), rough: len(wall) > 0, verb: verb}
	s.osc, s.panel, s.log = freePort(t, "udp"), freePort(t, "tcp"), filepath.Join(t.TempDir(), "wall.log")
	s.reply = portOf(t, freePort(t, "udp"))
	for _, name := range site.Files {
		text, err := os.ReadFile(filepath.Join(sites, "demo", name))
		require.NoError(t, err)
		edited := s.elsewhere(string(text))
		if edit := edits[name]; edit != nil {
			before := edited
			edited = edit(edited)
			require.NotEqual(t, before, edited, "the edit of %s found nothing", name)
		}
		require.NoError(t, os.WriteFile(filepath.Join(s.folder, name), []byte(edited), 0o644))
	}
	plant := start(t, nil, append([]string{"plant", s.folder, "-log", s.log}, wall...)...)
	eventually(t, "the wall stands", func() bool { return strings.Contains(plant.said(), "ready") })
	s.rise()
	return s
}

func portOf(t *testing.T, address string) (port int) {
	t.Helper()
	_, digits, err := net.SplitHostPort(address)
	require.NoError(t, err)
	_, err = fmt.Sscan(digits, &port)
	require.NoError(t, err)
	return port
}

var (
	wireAt  = regexp.MustCompile(`address: 127\.0\.0\.1:\d+`)
	heardOn = regexp.MustCompile(`reply_port: 92\d\d`)
)

// elsewhere puts every port that a text of the site names at a free one.
func (s *stage) elsewhere(text string) string {
	text = wireAt.ReplaceAllStringFunc(text, func(string) string { return "address: " + freePort(s.t, "udp") })
	text = heardOn.ReplaceAllStringFunc(text, func(string) string { return fmt.Sprint("reply_port: ", portOf(s.t, freePort(s.t, "udp"))) })
	return strings.NewReplacer("osc: 127.0.0.1:9000", "osc: "+s.osc, "http: 127.0.0.1:8080", "http: "+s.panel, "reply_port: 9001", fmt.Sprint("reply_port: ", s.reply)).Replace(text)
}

// rise starts the daemon, and waits until it serves and has heard from every device that it can hear from.
func (s *stage) rise() {
	s.t.Helper()
	s.process = start(s.t, nil, s.verb, s.folder)
	eventually(s.t, "the daemon serves", func() bool {
		resp, err := http.Get("http://" + s.panel + "/healthz")
		if err != nil {
			return false
		}
		_ = resp.Body.Close()
		if s.rough || s.verb == "watch" {
			return true
		}
		v := s.view(s.t)
		return v.Outputs[0].Confirmed && v.Outputs[1].Confirmed && v.Outputs[2].Confirmed // the lid tells nothing, ever
	})
}

// dial opens a WebSocket as a program does that is no browser.
func (s *stage) dial() *websocket.Conn {
	s.t.Helper()
	conn, _, err := websocket.DefaultDialer.Dial("ws://"+s.panel+"/ws", nil)
	require.NoError(s.t, err)
	s.t.Cleanup(func() { _ = conn.Close() })
	return conn
}

// on waits until a preset is on as the daemon tells it.
func (s *stage) on(preset int) engine.View {
	s.t.Helper()
	var v engine.View
	eventually(s.t, fmt.Sprintf("preset %d is on", preset), func() bool {
		v = s.view(s.t)
		return v.Look.Preset == preset && v.Look.State == "on"
	})
	return v
}

// answerOf is a reply to a call.
type answerOf struct {
	Result engine.Answer `json:"result"`
	Error  *struct {
		Code    int    `json:"code"`
		Message string `json:"message"`
	} `json:"error"`
}

func ask(t *testing.T, conn *websocket.Conn, request string) answerOf {
	t.Helper()
	var a answerOf
	require.NoError(t, json.Unmarshal([]byte(call(t, conn, request, 1)), &a))
	return a
}

// orders gives the datagrams that came to devices, but for those that only ask: everything that could change a wall, understood or not.
func orders(t *testing.T, name string) []sim.Line {
	t.Helper()
	var found []sim.Line
	for _, l := range lines(t, name) {
		b, err := hex.DecodeString(l.Bytes)
		require.NoError(t, err)
		if len(b) > 0 && !strings.HasPrefix(string(b), "/wall/ask\x00") {
			found = append(found, l)
		}
	}
	return found
}

// never fails where the wall was over at any line of its log, or a device did not understand what it was sent.
func (s *stage) never() {
	s.t.Helper()
	for _, l := range lines(s.t, s.log) {
		require.Empty(s.t, l.Over, "over at %v", l.At)
		require.Empty(s.t, l.Refused, "not understood: %s", l.Bytes)
	}
}

// fence sends a command that changes nothing by OSC and waits for its answer, so that all that was sent to that port before has been handled by then.
func (s *stage) fence(answers func() string) {
	s.t.Helper()
	before := strings.Count(answers(), "/lookgate/look ")
	oscsend(s.t, s.osc, "/lookgate/query")
	eventually(s.t, "the query is answered", func() bool { return strings.Count(answers(), "/lookgate/look ") > before })
}
