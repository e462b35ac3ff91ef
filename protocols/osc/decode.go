package osc

import (
	"encoding/binary"
	"slices"
)

// Group is what has to be carried out together: the messages of one bundle in
// their order, or one message that came alone (with the tag [Immediately]).
// The messages of a bundle inside a bundle are a group of their own, since
// atomicity does not extend into it (OSC 1.0, Temporal Semantics).
type Group struct {
	Tag      TimeTag
	Messages []Message
}

const (
	bundleMark   = "#bundle\x00"
	bundleHeader = len(bundleMark) + 8 // the mark and the time tag
	sizeField    = 4                   // the int32 before each element
)

// Decode reads one packet into groups, in order of arrival; a bundle's own
// messages come before those of bundles nested in it. A malformed packet is
// refused whole with a [WireError], so that half of a command is never obeyed;
// one that is over the limits likewise, wrapping [ErrLimit]. A message with a
// type tag that is not known here is no malformation: it stays in its group
// with Discard set. Decode keeps nothing of packet.
func Decode(packet []byte, limits Limits) ([]Group, error) {
	if err := limits.Check(); err != nil {
		return nil, err
	}
	if len(packet) > limits.Packet {
		return nil, overLimit(limits.Packet, "packet of %d octets, at most %d are taken", len(packet), limits.Packet)
	}
	w := walker{packet: packet, limits: limits}
	if err := w.packetContents(); err != nil {
		return nil, err
	}
	return slices.DeleteFunc(w.groups, func(g Group) bool { return len(g.Messages) == 0 }), nil
}

// walker goes once through a packet; from and end are offsets in it.
type walker struct {
	packet   []byte
	limits   Limits
	elements int
	groups   []Group
}

func (w *walker) packetContents() error {
	if err := w.admit(0, len(w.packet)); err != nil {
		return err
	}
	if w.packet[0] == '#' {
		return w.bundle(0, len(w.packet), 1, 0)
	}
	w.groups = []Group{{Tag: Immediately}}
	return w.message(0, len(w.packet), 0)
}

// admit counts an element and proves what holds for both kinds of it.
func (w *walker) admit(from, end int) error {
	w.elements++
	switch {
	case w.elements > w.limits.Elements:
		return overLimit(from, "more than %d messages and bundles in one packet", w.limits.Elements)
	case end == from:
		return malformed(from, "no contents, neither message nor bundle")
	case (end-from)%4 != 0:
		return malformed(from, "%d octets, not a multiple of 4", end-from)
	case w.packet[from] != '/' && w.packet[from] != '#':
		return malformed(from, "first octet 0x%02x begins neither a message (/) nor a bundle (#)", w.packet[from])
	}
	return nil
}

func (w *walker) bundle(from, end, depth int, enclosing TimeTag) error {
	if depth > w.limits.Depth {
		return overLimit(from, "bundles nested more than %d deep", w.limits.Depth)
	}
	if end-from < bundleHeader || string(w.packet[from:from+len(bundleMark)]) != bundleMark {
		return malformed(from, "bundle without its mark and time tag")
	}
	tag := TimeTag(binary.BigEndian.Uint64(w.packet[from+len(bundleMark):]))
	if tag < enclosing {
		return malformed(from+len(bundleMark), "time tag %#016x of a nested bundle is before that of the bundle around it, %#016x", uint64(tag), uint64(enclosing))
	}
	group := len(w.groups)
	w.groups = append(w.groups, Group{Tag: tag})
	for at := from + bundleHeader; at < end; {
		next, err := w.element(at, end, depth, group)
		if err != nil {
			return err
		}
		at = next
	}
	return nil
}

// element reads the element whose size field is at the given offset of a bundle
// that ends at end, and returns where the next one begins.
func (w *walker) element(at, end, depth, group int) (int, error) {
	if end-at < sizeField {
		return 0, malformed(at, "%d octets where an element's size should be", end-at)
	}
	size := binary.BigEndian.Uint32(w.packet[at:])
	from := at + sizeField
	if uint64(size) > uint64(end-from) {
		return 0, malformed(at, "element of %d octets where %d are left", size, end-from)
	}
	next := from + int(size)
	if err := w.admit(from, next); err != nil {
		return 0, err
	}
	if w.packet[from] == '#' {
		return next, w.bundle(from, next, depth+1, w.groups[group].Tag)
	}
	return next, w.message(from, next, group)
}

func (w *walker) message(from, end, group int) error {
	m, err := readMessage(w.packet[from:end], from, w.limits)
	if err != nil {
		return err
	}
	w.groups[group].Messages = append(w.groups[group].Messages, m)
	return nil
}
