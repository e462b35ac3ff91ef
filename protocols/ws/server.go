// Package ws lets stations in over WebSocket (RFC 6455): JSON-RPC 2.0 calls are the desk's commands, a call's result is the command's answer, and
// outcomes and whole states come as notifications. It is a handler; who mounts it sees to the Host and Origin checks that every path needs.
package ws

import (
	"io"
	"log"
	"net/http"
	"sync/atomic"
	"time"

	"github.com/gorilla/websocket"

	"lookgate/presets/rig"
	"lookgate/protocols"
)

// Panel is the station that a client is which does not say who it is.
const Panel = "panel"

// Options are what the program decides about WebSocket clients.
type Options struct {
	Stations []protocols.Station  // who may come, by ?station=NAME; a client without a name is the station "panel", an engineer only where listed as one
	Plant    func(*rig.Rig) any   // what the method plant and the notification plant tell of a rig; nil for neither
	Age      func() time.Duration // how long ago the daemon last did anything; nil where nobody can tell
	Clients  int                  // most that are connected at once; 0 takes 32
	Log      *log.Logger          // nil for none
}

// limits keep one client from slowing anything but itself.
type limits struct {
	clients int64
	message int64         // octets of one message
	batch   int           // requests in one batch
	flight  int64         // commands of one client without an answer
	queue   int           // replies and notices that wait for one client
	send    time.Duration // for one message to leave
	goodbye time.Duration // for the close frame
	ping    time.Duration // between pings
	silence time.Duration // without anything from the client, pongs included
	alive   time.Duration // between signs of life
	pace    time.Duration // least time between two states
}

func standard(clients int) limits {
	if clients <= 0 {
		clients = 32
	}
	return limits{
		clients: int64(clients), message: 64 << 10, batch: 64, flight: 64, queue: 256,
		send: 2 * time.Second, goodbye: time.Second, ping: 3 * time.Second, silence: 10 * time.Second,
		alive: 500 * time.Millisecond, pace: 100 * time.Millisecond,
	}
}

// Server takes WebSocket clients.
type Server struct {
	desk      protocols.Desk
	options   Options
	limits    limits
	log       *log.Logger
	methods   methods
	upgrader  websocket.Upgrader
	clients   atomic.Int64
	snapshots snapshots
}

var _ http.Handler = (*Server)(nil)

// New makes the handler. It serves until each request's context ends; a client is then told that lookgate stops.
func New(desk protocols.Desk, o Options) *Server {
	if o.Log == nil {
		o.Log = log.New(io.Discard, "", 0)
	}
	s := &Server{desk: desk, options: o, limits: standard(o.Clients), log: o.Log}
	var plant func() any
	if o.Plant != nil {
		plant = func() any { return o.Plant(desk.Rig()) }
	}
	s.methods = newMethods(desk, plant)
	s.upgrader = websocket.Upgrader{
		ReadBufferSize: 4 << 10, WriteBufferSize: 16 << 10, HandshakeTimeout: 5 * time.Second,
		Error: func(w http.ResponseWriter, r *http.Request, status int, reason error) {
			s.log.Printf("refused %d WebSocket from %s: %v", status, r.RemoteAddr, reason)
			if status == http.StatusBadRequest && r.Header.Get("Sec-WebSocket-Version") != "13" {
				status = http.StatusUpgradeRequired // RFC 6455, 4.2.2
				w.Header().Set("Upgrade", "websocket")
			}
			w.Header().Set("Sec-WebSocket-Version", "13")
			http.Error(w, reason.Error()+"\nthis address takes WebSocket clients only", status)
		},
	}
	return s
}

// ServeHTTP makes a WebSocket of the request and serves it until it ends.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	station, ok := s.station(r)
	if !ok {
		http.Error(w, "no station has that name\nname one that stations.yaml lists, or none", http.StatusForbidden)
		return
	}
	if s.clients.Add(1) > s.limits.clients {
		s.clients.Add(-1)
		http.Error(w, "as many clients are connected as may be\nclose another panel", http.StatusServiceUnavailable)
		return
	}
	defer s.clients.Add(-1)
	socket, err := s.upgrader.Upgrade(w, r, nil)
	if err != nil {
		return // the upgrader has answered
	}
	c := &client{server: s, socket: socket, station: station, out: make(chan any, s.limits.queue), gone: make(chan struct{})}
	done := make(chan struct{})
	go func() { defer close(done); c.write() }()
	c.read(r.Context())
	<-done
}

// station says who a client is.
func (s *Server) station(r *http.Request) (protocols.Station, bool) {
	name := r.URL.Query().Get("station")
	for _, st := range s.options.Stations {
		if st.Name == name || name == "" && st.Name == Panel {
			return st, true
		}
	}
	return protocols.Station{Name: Panel}, name == "" || name == Panel
}
