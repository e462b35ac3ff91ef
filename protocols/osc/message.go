package osc

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"strings"
	"unicode/utf8"

	goosc "github.com/hypebeast/go-osc/osc"
)

// Message is one message as it came. Arguments holds, for each tag of Tags in
// order: i int32, h int64, f float32, d float64, s and S string, b []byte,
// t TimeTag, T true, F false, I true, N nil.
type Message struct {
	Address   string // the address pattern, printable ASCII
	Tags      string // the type tags without their comma
	Arguments []any
	// Discard is set where the message is well framed and must not be obeyed:
	// it has a tag that is not known here, or arguments without any tags. The
	// rest of its packet stands (OSC 1.0, OSC Type Tag String).
	Discard error
}

// readMessage proves the structure of the message in body, then has its values
// decoded. The length of body is a multiple of 4; base is its offset in the
// packet, for errors.
//
// A message without a type tag string is one without arguments. If octets
// follow its address nobody can say what they are (the 0 of a released key,
// perhaps), so such a message is discarded rather than obeyed without them.
func readMessage(body []byte, base int, limits Limits) (Message, error) {
	if len(body) > limits.Message {
		return Message{}, overLimit(base, "message of %d octets, at most %d are taken", len(body), limits.Message)
	}
	address, at, err := readString(body, 0, base)
	if err != nil {
		return Message{}, err
	}
	if err := checkAddress(address, base, limits); err != nil {
		return Message{}, err
	}
	m := Message{Address: address}
	if at == len(body) {
		return m, nil
	}
	if body[at] != ',' {
		m.Discard = fmt.Errorf("%d octets after the address and no type tags to read them by", len(body)-at)
		return m, nil
	}
	return m.readArguments(body, at, base, limits)
}

func checkAddress(address string, base int, limits Limits) error {
	if len(address) > limits.Address {
		return overLimit(base, "address pattern of %d octets, at most %d are taken", len(address), limits.Address)
	}
	for i := range len(address) {
		if address[i] < ' ' || address[i] > '~' {
			return malformed(base+i, "octet 0x%02x in an address pattern, which is printable ASCII", address[i])
		}
	}
	return nil
}

func (m Message) readArguments(body []byte, tagsAt, base int, limits Limits) (Message, error) {
	tags, at, err := readString(body, tagsAt, base)
	if err != nil {
		return Message{}, err
	}
	m.Tags = tags[1:]
	if len(m.Tags) > limits.Arguments {
		return Message{}, overLimit(base+tagsAt, "%d arguments, at most %d are taken", len(m.Tags), limits.Arguments)
	}
	for i := range len(m.Tags) {
		next, err := argumentEnd(m.Tags[i], body, at, base)
		if errors.Is(err, errUnknownTag) {
			m.Discard = fmt.Errorf("argument %d: type tag %q is not known here", i+1, m.Tags[i])
			return m, nil
		}
		if err != nil {
			return Message{}, err
		}
		at = next
	}
	if at != len(body) {
		return Message{}, malformed(base+at, "%d octets after the last argument", len(body)-at)
	}
	if m.Arguments, err = valuesOf(m.Tags, body, tagsAt); err != nil {
		return Message{}, malformed(base, "%s", err.Error())
	}
	return m, nil
}

// valuesOf gives the values of a message that was proved whole. Numbers and switches, which is what a console sends while somebody moves a fader, are
// read where they stand; the foreign decoder, which reads through a buffer and by reflection, takes longer for one number than the engine for its answer.
func valuesOf(tags string, body []byte, tagsAt int) ([]any, error) {
	if strings.ContainsAny(tags, "sSbt") {
		return decodeValues(tags, body, tagsAt)
	}
	values := make([]any, len(tags))
	at := tagsAt + (len(tags)+1)/4*4 + 4
	for i := range len(tags) {
		switch tags[i] {
		case 'i':
			values[i] = int32(binary.BigEndian.Uint32(body[at:]))
		case 'f':
			values[i] = math.Float32frombits(binary.BigEndian.Uint32(body[at:]))
		case 'h':
			values[i] = int64(binary.BigEndian.Uint64(body[at:]))
		case 'd':
			values[i] = math.Float64frombits(binary.BigEndian.Uint64(body[at:]))
		case 'T', 'I':
			values[i] = true
		case 'F':
			values[i] = false
		}
		at, _ = argumentEnd(tags[i], body, at, 0)
	}
	return values, nil
}

var errUnknownTag = errors.New("unknown type tag")

// argumentEnd proves that the argument at offset from of body is whole and
// returns where it ends.
func argumentEnd(tag byte, body []byte, from, base int) (int, error) {
	switch tag {
	case 'T', 'F', 'N', 'I':
		return from, nil
	case 'i', 'f':
		return fixedEnd(tag, body, from, 4, base)
	case 'h', 'd', 't':
		return fixedEnd(tag, body, from, 8, base)
	case 's', 'S':
		return textEnd(body, from, base)
	case 'b':
		return blobEnd(body, from, base)
	}
	return 0, errUnknownTag
}

func fixedEnd(tag byte, body []byte, from, size, base int) (int, error) {
	if len(body)-from < size {
		return 0, malformed(base+from, "argument %c needs %d octets, %d are left", tag, size, len(body)-from)
	}
	return from + size, nil
}

// textEnd takes UTF-8 where the specification says ASCII: names of presets are
// written in the language of the studio, and ASCII is UTF-8 as it stands.
func textEnd(body []byte, from, base int) (int, error) {
	s, next, err := readString(body, from, base)
	if err == nil && !utf8.ValidString(s) {
		err = malformed(base+from, "string is not UTF-8")
	}
	return next, err
}

func blobEnd(body []byte, from, base int) (int, error) {
	data, err := fixedEnd('b', body, from, sizeField, base)
	if err != nil {
		return 0, err
	}
	size := uint64(binary.BigEndian.Uint32(body[from:]))
	if size > uint64(len(body)-data) {
		return 0, malformed(base+from, "blob of %d octets where %d are left", size, len(body)-data)
	}
	end := data + int(size)
	return padded(body, end, (end+3)&^3, base)
}

// readString reads the OSC-string at offset from, a multiple of 4, and returns
// where the next field begins.
func readString(body []byte, from, base int) (string, int, error) {
	n := bytes.IndexByte(body[from:], 0)
	if n < 0 {
		return "", 0, malformed(base+from, "string without its closing null")
	}
	next, err := padded(body, from+n, from+(n/4+1)*4, base)
	return string(body[from : from+n]), next, err
}

// padded proves that body[from:to] is all null. It cannot reach past the end of
// body: both to and the length of body are multiples of 4.
func padded(body []byte, from, to, base int) (int, error) {
	for i := from; i < to; i++ {
		if body[i] != 0 {
			return 0, malformed(base+i, "octet 0x%02x in padding, which is null", body[i])
		}
	}
	return to, nil
}

// decodeValues has the foreign decoder read the values of a message that was
// proved whole. It reads some tags wrong or not at all; these are handed over
// under the tag of the same width that it reads right, and put right after.
func decodeValues(tags string, body []byte, tagsAt int) (values []any, err error) {
	defer func() { // the last fence: what was proved above leaves it nothing to trip over
		if r := recover(); r != nil {
			values, err = nil, fmt.Errorf("message could not be decoded: %v", r)
		}
	}()
	standIn := string(body)
	if strings.ContainsAny(tags, "tISb") {
		copied := []byte(standIn)
		copy(copied[tagsAt+len(","):], standInTags(tags, body, tagsAt))
		standIn = string(copied)
	}
	packet, err := goosc.ParsePacket(standIn)
	if err != nil {
		return nil, fmt.Errorf("message could not be decoded: %w", err)
	}
	decoded, ok := packet.(*goosc.Message)
	if !ok || len(decoded.Arguments) != len(tags) {
		return nil, errors.New("message could not be decoded: arguments and tags differ in number")
	}
	for i := range decoded.Arguments {
		decoded.Arguments[i] = restored(tags[i], decoded.Arguments[i])
	}
	return decoded.Arguments, nil
}

// standInTags: a time tag loses its low bits in the foreign decoder, I and S
// are not known to it, and it refuses an empty blob (whose four octets of size
// are the int32 0).
func standInTags(tags string, body []byte, tagsAt int) []byte {
	standIn := []byte(tags)
	for i, tag := range standIn {
		switch tag {
		case 't':
			standIn[i] = 'h'
		case 'I':
			standIn[i] = 'T'
		case 'S':
			standIn[i] = 's'
		}
	}
	at := tagsAt + (len(tags)+1)/4*4 + 4
	for i := range len(tags) {
		if tags[i] == 'b' && binary.BigEndian.Uint32(body[at:]) == 0 {
			standIn[i] = 'i'
		}
		at, _ = argumentEnd(tags[i], body, at, 0)
	}
	return standIn
}

func restored(tag byte, value any) any {
	switch v := value.(type) {
	case int64:
		if tag == 't' {
			return TimeTag(v)
		}
	case int32:
		if tag == 'b' {
			return []byte{}
		}
	}
	return value
}
