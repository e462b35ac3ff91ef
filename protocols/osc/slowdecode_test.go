package osc

import (
	"encoding/binary"
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"
)

// slowDecode is a second decoder, written from the specification in another way
// (it eats words off a shared cursor and writes text), with one fault that can
// be planted in it. Without a fault it must agree with every published row and
// with Decode, so a row that it fails with a fault is a row that excludes it.
func slowDecode(packet []byte, fault string) (text string) {
	s := &slowReader{rest: packet, fault: fault}
	defer func() {
		if r := recover(); r != nil {
			text = "refused"
			if s.has("what precedes a fault is obeyed") {
				text = s.text()
			}
		}
	}()
	s.packet()
	return s.text()
}

type slowReader struct {
	rest   []byte
	fault  string
	groups []slowGroup
}

type slowGroup struct {
	tag      uint64
	messages []string
}

func (s *slowReader) has(fault string) bool { return s.fault == fault }

func (s *slowReader) need(ok bool) {
	if !ok {
		panic("refused")
	}
}

func (s *slowReader) text() string {
	var groups []string
	for _, g := range s.groups {
		if len(g.messages) > 0 {
			groups = append(groups, showTag(TimeTag(g.tag))+"{"+strings.Join(g.messages, "; ")+"}")
		}
	}
	return strings.Join(groups, " | ")
}

func (s *slowReader) take(n int) []byte {
	if n > len(s.rest) && s.has("a missing argument reads as zero") {
		s.rest = append(s.rest[:len(s.rest):len(s.rest)], make([]byte, n-len(s.rest))...)
	}
	s.need(n >= 0 && n <= len(s.rest))
	taken := s.rest[:n]
	s.rest = s.rest[n:]
	return taken
}

func (s *slowReader) packet() {
	for len(s.rest)%4 != 0 && s.has("size need not be a multiple of four") {
		s.rest = append(s.rest[:len(s.rest):len(s.rest)], 0)
	}
	if len(s.rest) == 0 && s.has("an empty datagram is a packet") {
		return
	}
	s.need(len(s.rest) > 0 && len(s.rest)%4 == 0)
	s.element(-1, 0)
}

// element reads what is left; group is that of the bundle around it, or -1.
func (s *slowReader) element(group int, enclosing uint64) {
	switch s.rest[0] {
	case '#':
		s.bundle(group, enclosing)
	case '/':
		if group < 0 {
			s.groups = append(s.groups, slowGroup{tag: 1})
			group = 0
		}
		m := s.message()
		s.groups[group].messages = append(s.groups[group].messages, m)
	default:
		s.need(s.has("what is neither message nor bundle is passed over"))
	}
}

func (s *slowReader) bundle(outer int, enclosing uint64) {
	s.need(string(s.take(8)) == "#bundle\x00")
	if len(s.rest) == 0 && s.has("a bundle without time tag is immediate") {
		return
	}
	tag := s.roundTag(binary.BigEndian.Uint64(s.take(8)))
	s.need(tag >= enclosing || s.has("a nested tag may be earlier"))
	if outer >= 0 && s.has("a nested tag equals the one around it") {
		s.need(tag == enclosing)
	}
	s.need(len(s.rest) > 0 || !s.has("an empty bundle is refused"))
	group := len(s.groups)
	if outer >= 0 && s.has("nested messages join the outer group") {
		group = outer
	} else {
		s.groups = append(s.groups, slowGroup{tag: tag})
	}
	for len(s.rest) > 0 {
		s.sized(group, tag)
	}
}

func (s *slowReader) sized(group int, tag uint64) {
	size := int(int32(binary.BigEndian.Uint32(s.take(4))))
	if s.has("element sizes are not checked") {
		s.element(group, tag)
		return
	}
	if s.has("a bundle's size field is part of its element") {
		size -= 4
	}
	s.need(size > 0 && size%4 == 0)
	inner := s.take(size)
	after := s.rest
	s.rest = inner
	s.element(group, tag)
	s.rest = after
}

func (s *slowReader) roundTag(tag uint64) uint64 {
	if !s.has("time tags pass through nanoseconds") || tag == 1 {
		return tag
	}
	nanoseconds := uint64(float64(uint32(tag)) * 1e9 / (1 << 32))
	return tag&^0xffffffff | uint64(float64(nanoseconds)*(1<<32)/1e9)
}

func (s *slowReader) message() string {
	address := s.str()
	for _, c := range []byte(address) {
		s.need(c >= 0x20 && c < 0x7f || s.has("addresses may have any octet"))
	}
	if len(s.rest) == 0 {
		s.need(!s.has("a missing tag string is refused"))
		return address + " ,"
	}
	if s.rest[0] != ',' {
		if s.has("untyped octets are passed over") {
			return address + " ,"
		}
		return address + " , discarded"
	}
	tags := s.str()
	s.need(tags != "," || !s.has("a lone comma is no tag string"))
	out := address + " " + tags
	for i := 1; i < len(tags); i++ {
		value, known := s.value(tags[i])
		if !known {
			s.need(!s.has("an unknown tag refuses the packet"))
			return address + " " + tags + " discarded"
		}
		out += value
	}
	s.need(len(s.rest) == 0 || s.has("octets after the last argument are passed over") || s.has("element sizes are not checked"))
	return out
}

func (s *slowReader) value(tag byte) (string, bool) {
	switch tag {
	case 'T', 'F', 'N', 'I':
		if s.has("T F N I carry four octets") {
			s.take(4)
		}
		return " " + string(tag), true
	case 'i':
		return fmt.Sprintf(" %d", int32(s.unsigned(4))), true
	case 'f':
		return " " + strconv.FormatFloat(float64(math.Float32frombits(uint32(s.unsigned(4)))), 'g', -1, 32), true
	case 'h':
		return fmt.Sprintf(" %d", int64(s.wide())), true
	case 'd':
		return fmt.Sprintf(" %v", math.Float64frombits(s.wide())), true
	case 't':
		if len(s.rest) < 8 && s.has("a cut time tag is no error") {
			s.rest = nil
			return "", true
		}
		return " " + showTag(TimeTag(s.roundTag(s.unsigned(8)))), true
	case 's':
		return " " + strconv.Quote(s.utf8()), true
	case 'S':
		if s.has("alternate strings unknown") {
			return "", false
		}
		return " " + strconv.Quote(s.utf8()), true
	case 'b':
		return fmt.Sprintf(" 0x%x", s.blob()), true
	}
	return "", s.has("an unknown tag is passed over")
}

func (s *slowReader) wide() uint64 {
	if s.has("64-bit numbers read as 32-bit") {
		return s.unsigned(4)
	}
	return s.unsigned(8)
}

func (s *slowReader) unsigned(size int) uint64 {
	octets, n := s.take(size), uint64(0)
	for i := range octets {
		if s.has("numbers little-endian") {
			n = n<<8 | uint64(octets[size-1-i])
		} else {
			n = n<<8 | uint64(octets[i])
		}
	}
	return n
}

// str eats words of four octets until one has a null in it.
func (s *slowReader) str() string {
	var content []byte
	for {
		if len(s.rest) == 0 && s.has("a string may end with its packet") {
			return string(content)
		}
		if len(content) > 0 && len(s.rest) > 0 && s.rest[0] == 0 && s.has("a string that fills its words has no null") {
			return string(content)
		}
		word := s.take(4)
		head, tail, ended := strings.Cut(string(word), "\x00")
		content = append(content, head...)
		if !ended {
			continue
		}
		s.need(strings.Trim(tail, "\x00") == "" || s.has("padding is not looked at"))
		switch s.fault {
		case "four nulls after every string":
			s.take(4)
		case "string padding is not skipped":
			s.rest = append([]byte(tail), s.rest...)
		}
		return string(content)
	}
}

func (s *slowReader) utf8() string {
	text := s.str()
	s.need(utf8.ValidString(text) || s.has("text may have any octet"))
	if s.has("text is cut at the first octet above 127") {
		for i := range len(text) {
			if text[i] > 127 {
				return text[:i]
			}
		}
	}
	return text
}

func (s *slowReader) blob() []byte {
	size := int(s.unsigned(4))
	if size > len(s.rest) && s.has("a blob's size is believed") {
		size = len(s.rest)
	}
	s.need(size > 0 || !s.has("an empty blob is refused"))
	data := s.take(size)
	padding := (4 - size%4) % 4
	switch s.fault {
	case "blob padding is not skipped":
		return data
	case "a blob's size counts its padding":
		return append(data[:size:size], s.take(padding)...)
	}
	for _, c := range s.take(padding) {
		s.need(c == 0 || s.has("padding is not looked at"))
	}
	return data
}
