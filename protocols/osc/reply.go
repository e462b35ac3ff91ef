package osc

import (
	"math"
	"strings"
	"unicode/utf8"

	"lookgate/presets/engine"
	"lookgate/presets/finding"
)

// The addresses of what we send to stations. None of them is a method, and a
// message to one is passed over, so that two daemons which know each other as
// stations cannot keep one another busy.
//
//	/lookgate/answer    id(h) verb(s) status(s) findings(i)
//	/lookgate/finding   id(h) code(s) place(s) computed(f) limit(f) unit(s) sentence(s) remedy(s)
//	/lookgate/outcome   id(h) verb(s) end(s) seconds(f) short(i) assumed(i)
//	/lookgate/short     id(h) output(s) wanted(f) low(f) high(f)
//	/lookgate/assumed   id(h) output(s)
//	/lookgate/look      preset(i) name(s) scale(f) state(s) blackout(T|F)
//	/lookgate/armed     preset(i)
//	/lookgate/headroom  conductor(s) amps(f) stops(f)
//	/lookgate/above     left(f) seconds(f) runs(T|F)
//	/lookgate/alarm     place(s) sentence(s) do(s)
//
// An id of 0 is that of a message which became no command. The counts in answer
// and outcome are those of the lists whole; at most maxListed of each follow.
// The last five answer a query; above comes where the look goes above the
// continuous limits of circuits, with the seconds left until it is brought down
// and those that its preset states. Strings are UTF-8.
const (
	answerAddress   = Root + "/answer"
	findingAddress  = Root + "/finding"
	outcomeAddress  = Root + "/outcome"
	shortAddress    = Root + "/short"
	assumedAddress  = Root + "/assumed"
	lookAddress     = Root + "/look"
	armedAddress    = Root + "/armed"
	headroomAddress = Root + "/headroom"
	aboveAddress    = Root + "/above"
	alarmAddress    = Root + "/alarm"
)

// isReply reports whether an address is one of those that we send from.
func isReply(address string) bool {
	switch address {
	case answerAddress, findingAddress, outcomeAddress, shortAddress, assumedAddress, lookAddress, armedAddress, headroomAddress, aboveAddress, alarmAddress:
		return true
	}
	return false
}

const (
	// MaxReply is the most octets of a datagram that we send to a station: it
	// passes every path that carries IPv6 unbroken, whose least is 1280 octets
	// with 48 of headers (RFC 8200, section 5).
	MaxReply = 1200
	// maxListed bounds the messages of one kind that follow an answer.
	maxListed = 64

	longText  = 420 // octets of a sentence or remedy
	shortText = 120 // octets of a name or place
)

// answerPackets writes an answer and its findings, a datagram each.
func answerPackets(a *engine.Answer) [][]byte {
	id := int64(a.ID)
	packets := pack(nil, answerAddress, id, string(a.Verb), string(a.Status), int32(len(a.Findings)))
	for _, f := range a.Findings[:min(len(a.Findings), maxListed)] {
		packets = pack(packets, findingAddress, id, string(f.Code), cut(f.Place.String(), shortText),
			float32(f.Computed.Value), float32(f.Limit.Value), string(f.Limit.Unit), cut(f.Sentence, longText), cut(remedies(f), longText))
	}
	return packets
}

// remedies puts the remedies of a finding into one text, those for now first as
// the finding has them.
func remedies(f finding.Finding) string {
	var words []string
	for _, r := range f.Remedies {
		words = append(words, string(r.When)+": "+r.Words)
	}
	return strings.Join(words, "; ")
}

// outcomePackets writes an outcome and what it did not reach.
func outcomePackets(o *engine.Outcome) [][]byte {
	id := int64(o.ID)
	packets := pack(nil, outcomeAddress, id, string(o.Verb), string(o.End), float32(o.Took.Seconds()), int32(len(o.Short)), int32(len(o.Assumed)))
	for _, r := range o.Short[:min(len(o.Short), maxListed)] {
		packets = pack(packets, shortAddress, id, cut(r.Output, shortText), float32(r.Wanted), float32(r.Low), float32(r.High))
	}
	for _, name := range o.Assumed[:min(len(o.Assumed), maxListed)] {
		packets = pack(packets, assumedAddress, id, cut(name, shortText))
	}
	return packets
}

// viewPackets writes what an operator asks for with a query.
func viewPackets(v *engine.View) [][]byte {
	name := v.Look.Name
	if v.Look.Identify != "" {
		name = "identify " + v.Look.Identify
	}
	packets := pack(nil, lookAddress, int32(v.Look.Preset), cut(name, shortText), float32(v.Look.Scale), v.Look.State, v.Look.Blackout)
	packets = pack(packets, armedAddress, int32(v.Armed))
	if c := tightest(v); c != nil {
		packets = pack(packets, headroomAddress, cut(c.Kind+" "+c.Name, shortText), float32(c.Headroom), float32(c.Stops))
	}
	if a := v.Look.Above; a != nil {
		packets = pack(packets, aboveAddress, float32(a.Left.Seconds()), float32(a.For.Seconds()), a.Runs)
	}
	for _, a := range v.Alarms[:min(len(v.Alarms), maxListed)] {
		packets = pack(packets, alarmAddress, cut(a.Place.String(), shortText), cut(a.Sentence, longText), cut(a.Do, longText))
	}
	return packets
}

// tightest gives the conductor with the fewest stops left, or nil.
func tightest(v *engine.View) *engine.ConductorView {
	var found *engine.ConductorView
	least := math.Inf(1)
	for i := range v.Conductors {
		if s := float64(v.Conductors[i].Stops); s < least {
			found, least = &v.Conductors[i], s
		}
	}
	return found
}

// pack appends one encoded message. What cannot be encoded has no place among the
// texts and numbers above, so that an error leaves the list as it is.
func pack(packets [][]byte, address string, arguments ...any) [][]byte {
	packet, err := Encode(address, arguments...)
	if err != nil {
		return packets
	}
	return append(packets, packet)
}

// cut shortens a text to so many octets of UTF-8 and takes nulls out of it.
func cut(text string, most int) string {
	text = strings.ReplaceAll(text, "\x00", "")
	if len(text) <= most {
		return text
	}
	text = text[:most-len("…")]
	for len(text) > 0 && !utf8.ValidString(text) {
		text = text[:len(text)-1]
	}
	return text + "…"
}
