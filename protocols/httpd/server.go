// Package httpd is the one HTTP listener: it binds, guards every path against other sites' pages and renamed hosts, keeps every request within limits,
// tells the state, the plant and the daemon's health, and mounts the handlers that the program gives it.
package httpd

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log"
	"net"
	"net/http"
	"sync"
	"time"

	"lookgate/protocols"
)

// Name is the surface's name in logs and in addresses.
const Name = "http"

const (
	headerTime  = 5 * time.Second
	requestTime = 10 * time.Second
	idleTime    = 30 * time.Second
	headerBytes = 16 << 10
	// stopTime is below the five seconds that the whole daemon has for stopping.
	stopTime    = 3 * time.Second
	connections = 128
)

// Options are what the program decides about the listener.
type Options struct {
	Listen      string               // address and port; port 0 takes any that is free
	Hosts       []string             // hosts besides loopback under which browsers may come: "booth.example" at the listener's own port, "booth.example:443" at that one
	Connections int                  // most that are open at once; 0 takes 128
	Age         func() time.Duration // how long ago the daemon last did anything; nil where nobody can tell
	Log         *log.Logger          // refusals and broken connections; nil for none
}

// Mount is a handler that the program gives, at a path of [http.ServeMux]. It stands behind the same guard as everything else. When the surface stops,
// its requests' contexts end first, so a handler that holds a connection of its own can say goodbye.
type Mount struct {
	Path    string
	Handler http.Handler
}

// Server is the HTTP surface.
type Server struct {
	options  Options
	server   *http.Server
	guard    *guard
	listener net.Listener
	stop     context.CancelFunc
	running  sync.WaitGroup // handlers, those included that took their connection over
	closing  sync.Once
	closed   error
}

var _ protocols.Surface = (*Server)(nil)

// New makes the surface; nothing is bound before [Server.Open].
func New(desk protocols.Desk, o Options, mounts ...Mount) *Server {
	if o.Connections <= 0 {
		o.Connections = connections
	}
	if o.Log == nil {
		o.Log = log.New(io.Discard, "", 0)
	}
	mux := http.NewServeMux()
	pages{desk: desk, age: o.Age}.mount(mux)
	for _, m := range mounts {
		mux.Handle(m.Path, m.Handler)
	}
	s := &Server{options: o, guard: &guard{next: mux, log: o.Log}}
	base, stop := context.WithCancel(context.Background())
	s.stop = stop
	s.server = &http.Server{
		Handler:           http.HandlerFunc(s.serve),
		ReadHeaderTimeout: headerTime,
		ReadTimeout:       requestTime,
		WriteTimeout:      requestTime,
		IdleTimeout:       idleTime,
		MaxHeaderBytes:    headerBytes,
		ErrorLog:          o.Log,
		BaseContext:       func(net.Listener) context.Context { return base },
	}
	return s
}

// Name gives the surface's name.
func (s *Server) Name() string { return Name }

// Open binds the listener, and fails where another program has the port.
func (s *Server) Open() error {
	hosts, err := parseHosts(s.options.Hosts)
	if err != nil {
		return err
	}
	l, err := net.Listen("tcp", s.options.Listen)
	if err != nil {
		return fmt.Errorf("cannot listen for browsers at %s: %w\nend the program that has the port, or name another one", s.options.Listen, err)
	}
	s.guard.hosts = hosts.with(l.Addr())
	s.listener = limit(l, s.options.Connections)
	return nil
}

// Addr gives the address that was bound, after [Server.Open].
func (s *Server) Addr() string {
	if s.listener == nil {
		return s.options.Listen
	}
	return s.listener.Addr().String()
}

// Serve answers until the context ends, and then stops within three seconds.
func (s *Server) Serve(ctx context.Context) error {
	if s.listener == nil {
		return errors.New("the HTTP surface serves before it is open\nopen it first")
	}
	release := context.AfterFunc(ctx, func() { _ = s.Close() })
	defer release()
	err := s.server.Serve(s.listener)
	if errors.Is(err, http.ErrServerClosed) {
		return s.Close() // returns when the stop that has begun is over
	}
	return err
}

// Close stops within three seconds: handlers are told, open requests may end, and what is left is cut.
func (s *Server) Close() error {
	s.closing.Do(func() { s.closed = s.shut() })
	return s.closed
}

func (s *Server) shut() error {
	s.stop()
	ctx, cancel := context.WithTimeout(context.Background(), stopTime)
	defer cancel()
	err := s.server.Shutdown(ctx)
	if errors.Is(err, context.DeadlineExceeded) {
		err = s.server.Close()
	}
	if s.listener != nil {
		_ = s.listener.Close() // Shutdown knows it only after Serve
	}
	s.wait(ctx)
	return err
}

// wait gives handlers that took their connection over the rest of the time; Shutdown does not know of them.
func (s *Server) wait(ctx context.Context) {
	done := make(chan struct{})
	go func() { s.running.Wait(); close(done) }()
	select {
	case <-done:
	case <-ctx.Done():
	}
}

func (s *Server) serve(w http.ResponseWriter, r *http.Request) {
	s.running.Add(1)
	defer s.running.Done()
	s.guard.ServeHTTP(w, r)
}
