package httpd_test

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"net"
	"net/http"
	"strings"
	"sync/atomic"
	"testing"
	"testing/fstest"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets/engine"
	"lookgate/protocols/desktest"
	"lookgate/protocols/httpd"
)

// open starts a surface on loopback over a fake desk and ends it with the test.
func open(t *testing.T, o httpd.Options, mounts ...httpd.Mount) (*httpd.Server, *desktest.Desk) {
	t.Helper()
	desk := desktest.New(desktest.View(), desktest.Rig(), desktest.Accept)
	t.Cleanup(desk.Close)
	o.Listen = "127.0.0.1:0"
	s := httpd.New(desk, o, mounts...)
	require.NoError(t, s.Open())
	serve(t, s)
	return s, desk
}

func serve(t *testing.T, s *httpd.Server) {
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- s.Serve(ctx) }()
	t.Cleanup(func() {
		cancel()
		select {
		case err := <-ended:
			require.NoError(t, err)
		case <-time.After(5 * time.Second):
			t.Error("the surface did not stop within five seconds")
		}
	})
}

type ask struct {
	method, path, host, origin, body string
}

// client opens a new connection for each request, so that no test hangs on another's.
var client = &http.Client{Transport: &http.Transport{DisableKeepAlives: true}, Timeout: 5 * time.Second}

func send(t *testing.T, s *httpd.Server, a ask) (*http.Response, string) {
	t.Helper()
	var body io.Reader
	if a.body != "" {
		body = strings.NewReader(a.body)
	}
	if a.method == "" {
		a.method = http.MethodGet
	}
	r, err := http.NewRequest(a.method, "http://"+s.Addr()+a.path, body)
	require.NoError(t, err)
	if a.host != "" {
		r.Host = a.host
	}
	if a.origin != "" {
		r.Header.Set("Origin", a.origin)
	}
	answer, err := client.Do(r)
	require.NoError(t, err)
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	require.NoError(t, err)
	return answer, string(text)
}

// The guard stands before every path, known or not, and before what the program mounts.
func TestGuardStandsBeforeEveryPath(t *testing.T) {
	reached := make(chan string, 1000)
	s, _ := open(t, httpd.Options{Hosts: []string{"booth.example"}}, httpd.Mount{Path: "/", Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		reached <- r.URL.Path
	})})
	_, port, _ := net.SplitHostPort(s.Addr())
	for _, path := range []string{"/", "/state", "/plant", "/healthz", "/ws", "/nothing/there", "//state", "/x/../state"} {
		for _, row := range []struct {
			name   string
			ask    ask
			status int
		}{
			{"rebound name", ask{host: "evil.example:" + port}, 421},
			{"rebound name with its own origin", ask{host: "evil.example:" + port, origin: "http://evil.example:" + port}, 421},
			{"foreign origin", ask{origin: "http://evil.example"}, 403},
			{"opaque origin", ask{origin: "null"}, 403},
			{"another service of this machine", ask{origin: "http://localhost:1"}, 403},
			{"a method that changes", ask{method: http.MethodPost}, 405},
			{"a preflight", ask{method: http.MethodOptions, origin: "http://localhost:" + port}, 405},
			{"a body", ask{body: "{}"}, 413},
		} {
			t.Run(row.name+" "+path, func(t *testing.T) {
				row.ask.path = path
				answer, text := send(t, s, row.ask)
				require.Equal(t, row.status, answer.StatusCode)
				require.Len(t, strings.Split(strings.TrimSpace(text), "\n"), 2, "what is wrong, and what to do")
				requireSecurityHeaders(t, answer)
			})
		}
	}
	require.Empty(t, reached, "nothing that is refused reaches a handler")

	for _, row := range []ask{
		{}, {host: "localhost:" + port}, {host: "LOCALHOST:" + port}, {host: "127.0.0.1:" + port, origin: "http://localhost:" + port},
		{host: "[::1]:" + port}, {host: "booth.example:" + port, origin: "http://booth.example:" + port}, {method: http.MethodHead},
	} {
		row.path = "/state"
		answer, _ := send(t, s, row)
		require.Equal(t, 200, answer.StatusCode, "%+v", row)
		requireSecurityHeaders(t, answer)
	}
}

func requireSecurityHeaders(t *testing.T, answer *http.Response) {
	t.Helper()
	csp := answer.Header.Get("Content-Security-Policy")
	require.Contains(t, csp, "default-src 'none'")
	require.Contains(t, csp, "frame-ancestors 'none'")
	require.NotContains(t, csp, "unsafe")
	require.Equal(t, "nosniff", answer.Header.Get("X-Content-Type-Options"))
	require.Empty(t, answer.Header.Get("Access-Control-Allow-Origin"))
}

func TestHosts(t *testing.T) {
	listed := []string{"booth.example", "proxy.example:443", "192.0.2.7"}
	for host, want := range map[string]bool{
		"localhost:8480": true, "127.0.0.1:8480": true, "127.9.9.9:8480": true, "[::1]:8480": true, "[::ffff:127.0.0.1]:8480": true,
		"localhost": false, "localhost:80": false, "localhost.:8480": false, "sub.localhost:8480": false, "localhost.evil.example:8480": false,
		"booth.example:8480": true, "Booth.Example:8480": true, "booth.example:9": false, "xbooth.example:8480": false,
		"proxy.example:443": true, "proxy.example:8480": false, "192.0.2.7:8480": true, "192.0.2.8:8480": false,
		"": false, ":8480": false, "[::1:8480": false, "0.0.0.0:8480": false, "127.0.0.1.evil.example:8480": false, "2130706433:8480": false, "[fe80::1%25lo]:8480": false,
	} {
		got, err := httpd.AllowsHost(listed, "8480", host)
		require.NoError(t, err)
		require.Equal(t, want, got, "host %q", host)
	}
	for origin, want := range map[string]bool{
		"http://localhost:8480": true, "http://[::1]:8480": true, "http://booth.example:8480": true, "https://proxy.example": true,
		"http://proxy.example": false, "http://localhost": false, "http://localhost:8480/": false, "http://user@localhost:8480": false,
		"ftp://localhost:8480": false, "file://": false, "null": false, "": false, "http://localhost:8480?x": false, "localhost:8480": false, "http://evil.example:8480": false,
	} {
		got, err := httpd.AllowsOrigin(listed, "8480", origin)
		require.NoError(t, err)
		require.Equal(t, want, got, "origin %q", origin)
	}
	for _, bad := range []string{"", "*", "*.example", "http://booth.example", "booth.example:http", "booth.example:0", "a:b:c", "x y"} {
		_, err := httpd.AllowsHost([]string{bad}, "8480", "localhost:8480")
		require.ErrorContains(t, err, "is no host", "%q", bad)
	}
}

func TestTwoOriginsAreRefused(t *testing.T) {
	s, _ := open(t, httpd.Options{})
	r, err := http.NewRequest(http.MethodGet, "http://"+s.Addr()+"/state", nil)
	require.NoError(t, err)
	r.Header["Origin"] = []string{"http://" + s.Addr(), "http://evil.example"}
	answer, err := client.Do(r)
	require.NoError(t, err)
	answer.Body.Close()
	require.Equal(t, 403, answer.StatusCode)
}

func TestStateAndPlant(t *testing.T) {
	s, desk := open(t, httpd.Options{})
	_, text := send(t, s, ask{path: "/state"})
	var v engine.View
	require.NoError(t, json.Unmarshal([]byte(text), &v))
	require.Equal(t, *desk.View(), v)

	_, text = send(t, s, ask{path: "/plant"})
	var p httpd.Plant
	require.NoError(t, json.Unmarshal([]byte(text), &p))
	require.Equal(t, httpd.PlantWall{Name: "bay", Columns: 40, Rows: 9, PanelWidth: 500, PanelHeight: 500}, p.Walls[0])
	require.Len(t, p.Panels, (40+10+12)*9)
	require.Equal(t, httpd.PlantPanel{Wall: 0, Column: 3, Row: 1, Type: "s30", Circuit: 1, Output: 0, DataRun: 2}, p.Panels[2*9])
	require.Equal(t, httpd.PlantPole{Pole: 4, Leg: 2, Circuit: 1}, p.Boards[0].Poles[3], "poles 3 and 4 share the second row")
	require.Equal(t, -1, p.Boards[0].Poles[41].Circuit, "a place that nothing stands on")
	require.Equal(t, []int{1, 2}, p.Circuits[1].Legs)
	require.NotContains(t, text, "null", "lists are lists, also empty ones")
}

func TestHealth(t *testing.T) {
	var age atomic.Int64
	s, desk := open(t, httpd.Options{Age: func() time.Duration { return time.Duration(age.Load()) }})
	health := func() (int, httpd.Health) {
		answer, text := send(t, s, ask{path: "/healthz"})
		var h httpd.Health
		require.NoError(t, json.Unmarshal([]byte(text), &h))
		return answer.StatusCode, h
	}
	status, h := health()
	require.Equal(t, 200, status)
	require.Equal(t, httpd.Health{Status: "ok"}, h)

	desk.Change(func(v *engine.View) { v.DiskSick = "no space left on device" })
	status, h = health()
	require.Equal(t, 200, status, "a restart does not mend a disk")
	require.Equal(t, httpd.Health{Status: "sick", Reasons: []string{"raising has stopped: no space left on device"}}, h)

	age.Store(int64(2100 * time.Millisecond))
	status, h = health()
	require.Equal(t, 503, status)
	require.Equal(t, "the daemon has done nothing for 2.1 s", h.Reasons[0])
}

func TestAssets(t *testing.T) {
	tree := fstest.MapFS{"index.html": {Data: []byte("<p>panel")}, "parts/wall.js": {Data: []byte("export {}")}, "parts/secret.key": {Data: []byte("x")}}
	handler, err := httpd.Assets(tree)
	require.NoError(t, err)
	s, _ := open(t, httpd.Options{}, httpd.Mount{Path: "/", Handler: handler})
	answer, text := send(t, s, ask{path: "/"})
	require.Equal(t, "<p>panel", text)
	require.Equal(t, "text/html; charset=utf-8", answer.Header.Get("Content-Type"))
	answer, _ = send(t, s, ask{path: "/parts/wall.js"})
	require.Equal(t, "text/javascript; charset=utf-8", answer.Header.Get("Content-Type"))
	for _, path := range []string{"/parts/", "/parts", "/parts/secret.key", "/parts/../../go.mod", "/%2e%2e/go.mod", "/index.html/"} {
		answer, _ = send(t, s, ask{path: path})
		require.Equal(t, 404, answer.StatusCode, path)
	}
}

func TestOpenFailsWhereThePortIsTaken(t *testing.T) {
	s, desk := open(t, httpd.Options{})
	err := httpd.New(desk, httpd.Options{Listen: s.Addr()}).Open()
	require.ErrorContains(t, err, "cannot listen for browsers at "+s.Addr())
	require.ErrorContains(t, err, "\nend the program")
	require.ErrorContains(t, httpd.New(desk, httpd.Options{Listen: "127.0.0.1:0", Hosts: []string{"*"}}).Open(), "is no host")
}

func TestMoreConnectionsThanMayBeAreClosed(t *testing.T) {
	s, _ := open(t, httpd.Options{Connections: 2})
	var idle []net.Conn
	for range 2 {
		c, err := net.Dial("tcp", s.Addr())
		require.NoError(t, err)
		defer c.Close()
		_, err = c.Write([]byte("GET /healthz HTTP/1.1\r\nHost: " + s.Addr() + "\r\n\r\n"))
		require.NoError(t, err)
		_, err = c.Read(make([]byte, 16)) // it has its slot
		require.NoError(t, err)
		idle = append(idle, c)
	}
	c, err := net.Dial("tcp", s.Addr())
	require.NoError(t, err)
	defer c.Close()
	require.NoError(t, c.SetDeadline(time.Now().Add(3*time.Second)))
	_, err = c.Read(make([]byte, 1))
	require.Error(t, err)
	var timeout net.Error
	require.False(t, errors.As(err, &timeout) && timeout.Timeout(), "it was closed, not left waiting")

	require.NoError(t, idle[0].Close())
	require.Eventually(t, func() bool {
		r, err := client.Get("http://" + s.Addr() + "/healthz")
		if err == nil {
			r.Body.Close()
		}
		return err == nil
	}, 3*time.Second, 10*time.Millisecond, "a slot comes free")
}

func TestHeadersAreLimitedInSizeAndTime(t *testing.T) {
	desk := desktest.New(desktest.View(), desktest.Rig(), desktest.Accept)
	t.Cleanup(desk.Close)
	s := httpd.New(desk, httpd.Options{Listen: "127.0.0.1:0"})
	s.HeaderTime(100 * time.Millisecond)
	require.NoError(t, s.Open())
	serve(t, s)

	r, err := http.NewRequest(http.MethodGet, "http://"+s.Addr()+"/state", nil)
	require.NoError(t, err)
	r.Header.Set("X-Long", strings.Repeat("x", 64<<10))
	answer, err := client.Do(r)
	require.NoError(t, err)
	answer.Body.Close()
	require.Equal(t, 431, answer.StatusCode)

	c, err := net.Dial("tcp", s.Addr())
	require.NoError(t, err)
	defer c.Close()
	_, err = c.Write([]byte("GET /state HTTP/1.1\r\nHost: "))
	require.NoError(t, err)
	require.NoError(t, c.SetDeadline(time.Now().Add(3*time.Second)))
	_, err = io.ReadAll(c)
	require.NoError(t, err, "a request that never ends is closed before the deadline of this test")
}

// A handler that took its connection over and never ends must not hold the stop up.
func TestStopIsBounded(t *testing.T) {
	for _, row := range []struct {
		name     string
		listens  bool
		quickest time.Duration
	}{{"a handler that hears the end", true, time.Second}, {"a handler that does not", false, 4500 * time.Millisecond}} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			taken, release := make(chan struct{}), make(chan struct{})
			t.Cleanup(func() { close(release) })
			desk := desktest.New(desktest.View(), desktest.Rig(), desktest.Accept)
			t.Cleanup(desk.Close)
			s := httpd.New(desk, httpd.Options{Listen: "127.0.0.1:0"}, httpd.Mount{Path: "/hold", Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
				c, _, _ := w.(http.Hijacker).Hijack()
				defer c.Close()
				close(taken)
				if row.listens {
					<-r.Context().Done()
					return
				}
				<-release
			})})
			require.NoError(t, s.Open())
			ctx, cancel := context.WithCancel(context.Background())
			ended := make(chan error, 1)
			go func() { ended <- s.Serve(ctx) }()
			go func() {
				if r, err := client.Get("http://" + s.Addr() + "/hold"); err == nil {
					r.Body.Close()
				}
			}()
			<-taken
			begun := time.Now()
			cancel()
			require.NoError(t, <-ended)
			require.Less(t, time.Since(begun), row.quickest)
			require.NoError(t, s.Close(), "closing twice is closing once")
		})
	}
}
