package osc

import (
	"errors"
	"fmt"
	"net/netip"
	"strings"
	"time"

	"lookgate/presets/engine"
	"lookgate/presets/finding"
	"lookgate/protocols"
)

const (
	// maxCommands is how many commands one bundle may come to. Beyond it only
	// blackouts are taken, as lowering is never refused.
	maxCommands = 1024
	// maxPatterns is how many messages of one packet may have wildcards: each is
	// held against every address there is.
	maxPatterns = 32
)

// sender is who a packet came from and where answers go.
type sender struct {
	station protocols.Station
	to      netip.AddrPort
}

// handle takes one packet to the desk.
func (s *Surface) handle(packet []byte, from netip.AddrPort) {
	station, known := s.station(from.Addr())
	who := sender{station, from}
	if station.ReplyPort != 0 {
		who.to = netip.AddrPortFrom(from.Addr(), uint16(station.ReplyPort))
	}
	groups, err := Decode(packet, s.config.Limits)
	if err == nil && !concernsUs(groups) {
		return
	}
	switch {
	case !known:
		s.refuse(who, "", finding.BadArguments, finding.Place{Kind: "station", Name: from.Addr().String()},
			"no station sends from this address", "name it in the stations file")
	case err != nil:
		s.refuse(who, "", finding.BadArguments, finding.Place{Kind: "packet"},
			"the packet was refused whole: "+err.Error(), "send whole OSC 1.0 packets")
	default:
		h := handler{surface: s, who: who, now: s.config.Now()}
		for _, g := range groups {
			h.group(g)
		}
	}
}

// concernsUs reports whether a packet has anything below our root. A pattern may
// be, whatever it begins with. Consoles send to everybody what is meant for
// one; the rest gets no answer.
func concernsUs(groups []Group) bool {
	for _, g := range groups {
		for _, m := range g.Messages {
			if forUs(m.Address) {
				return true
			}
		}
	}
	return false
}

func forUs(address string) bool {
	if isReply(address) {
		return false
	}
	first, _, _ := strings.Cut(strings.TrimPrefix(address, "/"), "/")
	return first == Root[1:] || strings.ContainsAny(first, "*?[]{},")
}

// handler takes the groups of one packet to the desk.
type handler struct {
	surface  *Surface
	who      sender
	now      time.Time
	patterns int
	batch    []engine.Command
	left     int // commands that were not taken
}

// group hands in the commands of one bundle together. Reload is no command of
// the engine's: where a bundle holds one, what is before it is handed in first.
func (h *handler) group(g Group) {
	if g.Tag.After(h.now) {
		h.refuse("", finding.NotSupportedYet, finding.Place{Kind: "bundle"},
			"a bundle for a later time, which this version does not keep", "send it when it is due, with the time tag for immediately")
		return
	}
	h.batch, h.left = nil, 0
	for _, m := range g.Messages {
		h.message(m)
	}
	h.order()
	if h.left > 0 {
		h.refuse("", finding.Busy, finding.Place{Kind: "bundle"},
			fmt.Sprintf("%d commands beyond the %d that one bundle may hold were not taken", h.left, maxCommands), "send fewer at once")
	}
}

func (h *handler) message(m Message) {
	if !forUs(m.Address) {
		return
	}
	place := finding.Place{Kind: "address", Name: m.Address}
	if m.Discard != nil {
		h.refuse("", finding.BadArguments, place, "the message was discarded: "+m.Discard.Error(), "send types i f s b h d T F I N")
		return
	}
	pattern, err := CompilePattern(m.Address)
	if err != nil {
		h.refuse("", finding.BadArguments, place, err.Error(), "close what is open, or send an address without wildcards")
		return
	}
	if !pattern.Literal() {
		if h.patterns++; h.patterns > maxPatterns {
			h.refuse("", finding.Busy, place, fmt.Sprintf("more than %d messages of one packet have wildcards", maxPatterns), "send fewer at once")
			return
		}
	}
	methods := resolve(pattern, h.surface.desk.View())
	if len(methods) == 0 {
		h.refuse("", finding.BadArguments, place, "there is nothing at this address", "send one of "+verbs())
	}
	for _, one := range methods {
		h.method(one, m, place)
	}
}

func (h *handler) method(one method, m Message, place finding.Place) {
	c, asks, err := one.command(m)
	var r *refusal
	switch {
	case errors.As(err, &r):
		h.refuse(one.route.verb, r.code, place, r.sentence, "send "+one.route.usage)
	case asks:
		h.take(c)
	}
}

// take puts a command into the batch, or hands a reload to the desk in its turn.
func (h *handler) take(c engine.Command) {
	c.Station, c.Engineer = h.who.station.Name, h.who.station.Engineer
	if len(h.batch) >= maxCommands && c.Verb != engine.Blackout {
		h.left++
		return
	}
	if c.Verb == engine.ReloadSite {
		h.order()
		h.surface.desk.Reload(c.Station, c.Engineer, h.surface.tell(h.who.to))
		return
	}
	h.batch = append(h.batch, c)
}

func (h *handler) order() {
	if len(h.batch) > 0 {
		h.surface.desk.Order(h.batch, h.surface.tell(h.who.to))
	}
	h.batch = nil
}

func (h *handler) refuse(verb engine.Verb, code finding.Code, place finding.Place, sentence, do string) {
	h.surface.refuse(h.who, verb, code, place, sentence, do)
}

// refuse answers a message that became no command; its id is 0.
func (s *Surface) refuse(who sender, verb engine.Verb, code finding.Code, place finding.Place, sentence, do string) {
	f := finding.New(code, place, sentence)
	f.Remedies = []finding.Remedy{{When: finding.Later, Words: do}}
	s.tell(who.to)(&engine.Answer{Station: who.station.Name, Verb: verb, Status: engine.Refused, Findings: []finding.Finding{f}}, nil)
}

// verbs lists the first parts of the address space, each once.
func verbs() string {
	var words []string
	last := ""
	for i := range routes {
		first, _, _ := strings.Cut(routes[i].path, "/")
		if first != last {
			words = append(words, Root+"/"+first)
		}
		last = first
	}
	return strings.Join(words, " ")
}
