package sim

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"strings"

	"lookgate/presets/plant"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// The wire is the one that lookgate's OSC driver speaks, read and written here by a few lines of their own: what the driver means and what a device
// understands are then two opinions.

// message is one OSC message: its address, its type tags and its arguments' bytes.
type message struct {
	address string
	tags    string
	data    []byte
}

var errShort = errors.New("the packet ends too early")

// text takes an OSC string off the front: bytes to a null, padded to four.
func text(b []byte) (string, []byte, error) {
	end := strings.IndexByte(string(b), 0)
	if end < 0 {
		return "", nil, errShort
	}
	next := (end + 4) &^ 3
	if next > len(b) {
		return "", nil, errShort
	}
	if string(b[end:next]) != string(make([]byte, next-end)) {
		return "", nil, errors.New("a string is padded with something else than nulls")
	}
	return string(b[:end]), b[next:], nil
}

func parse(b []byte) (message, error) {
	address, rest, err := text(b)
	if err != nil {
		return message{}, err
	}
	tags, rest, err := text(rest)
	if err != nil || !strings.HasPrefix(tags, ",") {
		return message{}, fmt.Errorf("%s has no type tags", address)
	}
	return message{address, tags[1:], rest}, nil
}

// float, whole and flag take one argument of their type off the front.
func (m *message) float() (float64, error) {
	bits, err := m.word('f')
	return float64(math.Float32frombits(bits)), err
}

func (m *message) whole() (int, error) {
	bits, err := m.word('i')
	return int(int32(bits)), err
}

func (m *message) word(tag byte) (uint32, error) {
	if m.tags == "" || m.tags[0] != tag || len(m.data) < 4 {
		return 0, fmt.Errorf("%s wants an argument of type %c", m.address, tag)
	}
	v := binary.BigEndian.Uint32(m.data)
	m.tags, m.data = m.tags[1:], m.data[4:]
	return v, nil
}

func (m *message) flag() (bool, error) {
	if m.tags == "" || m.tags[0] != 'T' && m.tags[0] != 'F' {
		return false, fmt.Errorf("%s wants T or F", m.address)
	}
	on := m.tags[0] == 'T'
	m.tags = m.tags[1:]
	return on, nil
}

// number takes the command number that a numbered device is sent.
func (m *message) number() (uint64, error) {
	if m.tags == "" || m.tags[0] != 'h' || len(m.data) < 8 {
		return 0, fmt.Errorf("%s wants a command number", m.address)
	}
	n := binary.BigEndian.Uint64(m.data)
	m.tags, m.data = m.tags[1:], m.data[8:]
	return n, nil
}

// end says what is wrong with a message of which something is left.
func (m *message) end() error {
	if m.tags != "" || len(m.data) > 0 {
		return fmt.Errorf("%s has more arguments than the device knows", m.address)
	}
	return nil
}

// packetFor reads a datagram as the device reads it.
func packetFor(r *rig.Rig, device int, b []byte) (plant.Packet, error) {
	m, err := parse(b)
	if err != nil {
		return plant.Packet{}, err
	}
	p := plant.Packet{Device: device, Output: -1}
	parts := strings.Split(strings.TrimPrefix(m.address, "/"), "/")
	switch {
	case m.address == "/wall/ask":
		p.Kind = plant.Ask
	case m.address == "/wall/picture":
		p.Kind = plant.SetPicture
		p.Picture.Layout, err = m.whole()
		if err == nil {
			p.Picture.Mode, err = m.whole()
		}
	case len(parts) == 4 && parts[0] == "wall" && parts[1] == "output":
		err = setOf(&p, &m, r, parts[2], parts[3])
	default:
		err = fmt.Errorf("%s is nothing that a device knows", m.address)
	}
	if err == nil && r.Devices[device].Class == rig.Numbered {
		p.Number, err = m.number()
	}
	if err == nil {
		err = m.end()
	}
	return p, err
}

func setOf(p *plant.Packet, m *message, r *rig.Rig, address, what string) error {
	for o := range r.Outputs {
		if r.Outputs[o].Device == p.Device && r.Outputs[o].Address == address {
			p.Output = o
		}
	}
	if p.Output < 0 {
		return fmt.Errorf("the device has no output %s", address)
	}
	switch what {
	case "level":
		l, err := m.float()
		p.Kind, p.Level = plant.SetLevel, units.Level(l)
		if err == nil && !p.Level.Valid() {
			err = fmt.Errorf("%v is no level", l)
		}
		return err
	case "black":
		on, err := m.flag()
		p.Kind, p.Black = plant.SetBlack, on
		return err
	}
	return fmt.Errorf("%s is nothing that an output has", what)
}

// reportOf writes a report as the device sends it.
func reportOf(r *rig.Rig, p plant.Report) []byte {
	tags, data := ",", []byte(nil)
	if r.Devices[p.Device].Class == rig.Numbered {
		tags, data = tags+"h", binary.BigEndian.AppendUint64(data, p.Number)
	}
	tags += "ii"
	data = binary.BigEndian.AppendUint32(data, uint32(p.Picture.Layout))
	data = binary.BigEndian.AppendUint32(data, uint32(p.Picture.Mode))
	k := 0
	for o := range r.Outputs {
		if r.Outputs[o].Device != p.Device {
			continue
		}
		data = padded(data, r.Outputs[o].Address)
		data = binary.BigEndian.AppendUint32(data, math.Float32bits(float32(p.Levels[k])))
		tags += "sf" + map[bool]string{true: "T", false: "F"}[p.Black[k]]
		k++
	}
	return append(padded(padded(nil, "/wall/report"), tags), data...)
}

// padded appends an OSC string.
func padded(b []byte, s string) []byte {
	b = append(append(b, s...), 0)
	for len(b)%4 != 0 {
		b = append(b, 0)
	}
	return b
}
