package osc

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/netip"
	"sync"
	"time"

	"lookgate/presets/engine"
	"lookgate/protocols"
)

const (
	// readBuffer is asked of the kernel for arriving packets, in octets: with its
	// default, bursts that a console can send are lost in front of the reader.
	readBuffer = 4 << 20
	// waitingReplies is how many answers and outcomes may wait for the one that
	// sends them; more are lost, since nobody may be kept waiting for a station.
	waitingReplies = 1024
	// brokenReads in a row end Serve: the socket is gone, not a packet bad.
	brokenReads = 100
	// sendWithin bounds the write of one reply.
	sendWithin = time.Second
)

// Config says where a surface listens and who may command it.
type Config struct {
	Listen   string              // host:port of the UDP socket; port 0 takes a free one
	Stations []protocols.Station // at least one; of two that fit, the one that names its address is taken
	Limits   Limits              // of every packet; see DefaultLimits
	Now      func() time.Time    // wall clock for time tags; nil for time.Now
}

// Surface takes OSC over UDP from stations to a desk, and answers them. Packets
// are handled in the order of their arrival, by one reader.
type Surface struct {
	desk     protocols.Desk
	config   Config
	stations []source
	conn     *net.UDPConn
	replies  chan reply
	closing  sync.Once
	closed   error
}

var _ protocols.Surface = (*Surface)(nil)

// source is a station and the address that its packets come from; the zero
// address is any.
type source struct {
	station protocols.Station
	from    netip.Addr
}

// reply is what goes to one station: one of the pointers is set, or packets is.
type reply struct {
	to      netip.AddrPort
	answer  *engine.Answer
	outcome *engine.Outcome
}

// NewSurface makes a surface of a configuration, or says what is wrong with it.
func NewSurface(desk protocols.Desk, config Config) (*Surface, error) {
	if err := config.Limits.Check(); err != nil {
		return nil, err
	}
	if len(config.Stations) == 0 {
		return nil, errors.New("osc: no station may command\nname at least one in the stations file")
	}
	if config.Now == nil {
		config.Now = time.Now
	}
	s := &Surface{desk: desk, config: config, replies: make(chan reply, waitingReplies)}
	for _, st := range config.Stations {
		from := source{station: st}
		if st.From != "" {
			addr, err := netip.ParseAddr(st.From)
			if err != nil {
				return nil, fmt.Errorf("osc: station %s: %q is no IP address\nwrite the address that its packets come from, or leave it out", st.Name, st.From)
			}
			from.from = addr.Unmap()
		}
		if st.ReplyPort < 0 || st.ReplyPort > 65535 {
			return nil, fmt.Errorf("osc: station %s: reply port %d is none\nwrite a port from 1 to 65535, or leave it out", st.Name, st.ReplyPort)
		}
		s.stations = append(s.stations, from)
	}
	return s, nil
}

// Name gives the name of the protocol.
func (s *Surface) Name() string { return "osc" }

// Open binds the socket.
func (s *Surface) Open() error {
	addr, err := net.ResolveUDPAddr("udp", s.config.Listen)
	if err != nil {
		return fmt.Errorf("osc cannot listen on %s: %w\nwrite an address of this machine and a port", s.config.Listen, err)
	}
	conn, err := net.ListenUDP("udp", addr)
	if err != nil {
		return fmt.Errorf("osc cannot listen on %s: %w\nfree the port, or name another", s.config.Listen, err)
	}
	_ = conn.SetReadBuffer(readBuffer) // a kernel that gives less loses only bursts
	s.conn = conn
	return nil
}

// Addr gives the address that Open bound.
func (s *Surface) Addr() string {
	if s.conn == nil {
		return ""
	}
	return s.conn.LocalAddr().String()
}

// Serve reads packets until the context ends or the surface is closed, which is
// no error. No packet ends it.
func (s *Surface) Serve(ctx context.Context) error {
	if s.conn == nil {
		return errors.New("osc: Serve before Open")
	}
	stop := context.AfterFunc(ctx, func() { _ = s.conn.SetReadDeadline(time.Now()) })
	defer stop()
	done := make(chan struct{})
	var sender sync.WaitGroup
	sender.Go(func() { s.send(done) })
	defer sender.Wait()
	defer close(done)
	return s.read(ctx)
}

// Close frees the socket, and ends Serve if it still runs.
func (s *Surface) Close() error {
	s.closing.Do(func() {
		if s.conn != nil {
			s.closed = s.conn.Close()
		}
	})
	return s.closed
}

func (s *Surface) read(ctx context.Context) error {
	buffer := make([]byte, 1<<16) // larger than any datagram, so that none is cut
	for broken := 0; ; {
		n, from, err := s.conn.ReadFromUDPAddrPort(buffer)
		switch {
		case ctx.Err() != nil || errors.Is(err, net.ErrClosed):
			return nil
		case err != nil:
			if broken++; broken >= brokenReads {
				return fmt.Errorf("osc on %s: %w", s.Addr(), err)
			}
		default:
			broken = 0
			s.handle(buffer[:n], netip.AddrPortFrom(from.Addr().Unmap(), from.Port()))
		}
	}
}

// station finds who sends from an address. A station that names the address is
// taken before one that is open to any.
func (s *Surface) station(from netip.Addr) (protocols.Station, bool) {
	var open *protocols.Station
	for i := range s.stations {
		switch s.stations[i].from {
		case from.WithZone(""), from:
			return s.stations[i].station, true
		case netip.Addr{}:
			if open == nil {
				open = &s.stations[i].station
			}
		}
	}
	if open == nil {
		return protocols.Station{}, false
	}
	return *open, true
}

// tell hands what the desk says to the sender of replies. The desk's goroutine
// calls it, so it does not wait: what finds no room is lost, as a datagram may be.
func (s *Surface) tell(to netip.AddrPort) protocols.Tell {
	return func(a *engine.Answer, o *engine.Outcome) {
		select {
		case s.replies <- reply{to, a, o}:
		default:
		}
	}
}

// send writes replies until done is closed, then those that still wait.
func (s *Surface) send(done <-chan struct{}) {
	for {
		select {
		case r := <-s.replies:
			s.write(r)
		case <-done:
			for {
				select {
				case r := <-s.replies:
					s.write(r)
				default:
					return
				}
			}
		}
	}
}

// write sends the datagrams of a reply. A station that cannot be reached misses
// them; the record has what they say.
func (s *Surface) write(r reply) {
	_ = s.conn.SetWriteDeadline(time.Now().Add(sendWithin))
	for _, packet := range s.packets(r) {
		if _, err := s.conn.WriteToUDPAddrPort(packet, r.to); errors.Is(err, net.ErrClosed) {
			return
		}
	}
}

func (s *Surface) packets(r reply) [][]byte {
	switch {
	case r.outcome != nil:
		return outcomePackets(r.outcome)
	case r.answer == nil:
		return nil
	case r.answer.Verb == engine.Query && r.answer.Status == engine.Accepted:
		return append(answerPackets(r.answer), viewPackets(s.desk.View())...)
	}
	return answerPackets(r.answer)
}
