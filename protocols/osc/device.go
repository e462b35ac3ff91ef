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
	"lookgate/presets/rig"
	"lookgate/protocols"
)

// The wire to a device. ADDRESS is the output's address in the rig; number is the
// command number, sent to a device of the class that keeps it and left out for
// all others.
//
//	to the device
//	/wall/output/ADDRESS/level   level(f, 0 to 1) [number(h)]
//	/wall/output/ADDRESS/black   black(T|F) [number(h)]
//	/wall/picture                layout(i) mode(i) [number(h)]
//	/wall/ask                    [number(h)]
//
//	from the device, to the port that it was last written to from
//	/wall/report                 [number(h)] layout(i) mode(i), then for each output address(s) level(f) black(T|F)
//
// A device that reports does so when it is asked and may do so unasked. Its
// number is the highest that it has acted on; it drops what has a lower one.
const (
	deviceRoot     = "/wall"
	pictureAddress = deviceRoot + "/picture"
	askAddress     = deviceRoot + "/ask"
	reportAddress  = deviceRoot + "/report"
)

// DeviceConfig says where a device is.
type DeviceConfig struct {
	Address string // host:port that it listens on
	Listen  string // host:port to send from and take reports at; empty for any free port
}

// Device drives one device of a rig by OSC over UDP.
type Device struct {
	name     string
	index    int
	numbered bool
	reports  bool
	config   DeviceConfig
	outputs  []int       // of the rig, in its order
	place    map[int]int // from the rig's outputs to a place in outputs
	rig      *rig.Rig
	conn     *net.UDPConn
	remote   netip.AddrPort
	deadline time.Time // of writes, as the socket has it
	reader   sync.WaitGroup
}

var _ protocols.Device = (*Device)(nil)

// NewDevice makes the wire to device index of the rig. It returns an error where
// an output's address cannot stand in an OSC address or occurs twice, or where a
// report on all outputs would not fit into a message of MaxMessage octets.
func NewDevice(r *rig.Rig, index int, config DeviceConfig) (*Device, error) {
	d := &Device{
		name:     r.Devices[index].Name,
		index:    index,
		numbered: r.Devices[index].Class == rig.Numbered,
		reports:  r.Devices[index].Class != rig.Silent,
		config:   config,
		place:    map[int]int{},
		rig:      r,
	}
	seen := map[string]bool{}
	for o := range r.Outputs {
		if r.Outputs[o].Device != index {
			continue
		}
		address := r.Outputs[o].Address
		if err := CheckAddress(outputAddress(address, "level")); err != nil || address == "" {
			return nil, fmt.Errorf("device %s: output %s: address %q cannot stand in an OSC address\nuse letters, digits and dashes", d.name, r.Outputs[o].Name, address)
		}
		if seen[address] {
			return nil, fmt.Errorf("device %s: output %s: address %q is taken by another output\ngive each output of a device its own", d.name, r.Outputs[o].Name, address)
		}
		seen[address] = true
		d.place[o] = len(d.outputs)
		d.outputs = append(d.outputs, o)
	}
	return d, d.checkReportSize()
}

// checkReportSize writes the report that the device would send.
func (d *Device) checkReportSize() error {
	if !d.reports {
		return nil
	}
	arguments := []any{int64(0), int32(0), int32(0)}
	for _, o := range d.outputs {
		arguments = append(arguments, d.rig.Outputs[o].Address, float32(0), false)
	}
	packet, err := Encode(reportAddress, arguments...)
	if err == nil && len(packet) > MaxMessage {
		err = fmt.Errorf("device %s: a report on its %d outputs takes %d octets, more than the %d of a message\nshorten the outputs' addresses, or split the device",
			d.name, len(d.outputs), len(packet), MaxMessage)
	}
	return err
}

// Name gives the device's name in the rig.
func (d *Device) Name() string { return d.name }

// Open binds the socket and reads reports from it until Close. Its errors leave it to the caller to name the device.
func (d *Device) Open(report func(engine.Report)) error {
	remote, err := net.ResolveUDPAddr("udp", d.config.Address)
	if err != nil || remote.IP == nil {
		return fmt.Errorf("%q is no address to send to: %w\nwrite host:port", d.config.Address, orMissing(err))
	}
	local, err := net.ResolveUDPAddr("udp", d.config.Listen)
	if err != nil {
		return fmt.Errorf("%q is no address to listen on: %w\nwrite host:port, or leave it out", d.config.Listen, err)
	}
	conn, err := net.ListenUDP("udp", local)
	if err != nil {
		return fmt.Errorf("%w\nfree the port, or name another", err)
	}
	_ = conn.SetReadBuffer(readBuffer) // a kernel that gives less loses only bursts
	at := remote.AddrPort()
	d.conn, d.deadline, d.remote = conn, time.Time{}, netip.AddrPortFrom(at.Addr().Unmap(), at.Port())
	d.reader.Go(func() { d.read(conn, report) })
	return nil
}

func orMissing(err error) error {
	if err == nil {
		return errors.New("the host is missing")
	}
	return err
}

// Close frees the socket. When it has returned, no report comes any more.
func (d *Device) Close() error {
	if d.conn == nil {
		return nil
	}
	err := d.conn.Close()
	d.reader.Wait()
	d.conn = nil
	return err
}

// Write sends one packet. The socket is not connected, so that a refusal which an
// earlier packet met is never told of this one: an error means that it was not
// sent.
func (d *Device) Write(ctx context.Context, a engine.Action) error {
	if d.conn == nil {
		return fmt.Errorf("device %s is not open", d.name)
	}
	address, arguments, err := d.compose(a)
	if err != nil {
		return err
	}
	packet, err := Encode(address, arguments...)
	if err != nil {
		return fmt.Errorf("device %s: %w", d.name, err)
	}
	if err := ctx.Err(); err != nil {
		return fmt.Errorf("device %s: %w", d.name, err)
	}
	deadline, _ := ctx.Deadline() // none is the zero time, which is no deadline
	if !deadline.Equal(d.deadline) {
		if err := d.conn.SetWriteDeadline(deadline); err != nil {
			return fmt.Errorf("device %s: %w", d.name, err)
		}
		d.deadline = deadline
	}
	if _, err := d.conn.WriteToUDPAddrPort(packet, d.remote); err != nil {
		return fmt.Errorf("device %s: %w", d.name, err)
	}
	return nil
}

// compose gives the message of an action. The level goes as the nearest 32-bit
// float: it stands on a step of the device, and the nearest is the one that the
// device finds the same step in.
func (d *Device) compose(a engine.Action) (address string, arguments []any, err error) {
	switch a.Kind {
	case engine.SendLevel, engine.SendBlack:
		if _, ours := d.place[a.Output]; !ours {
			return "", nil, fmt.Errorf("device %s has no output %d", d.name, a.Output)
		}
		address, arguments = outputMessage(d.rig.Outputs[a.Output].Address, a)
	case engine.SendPicture:
		address, arguments = pictureAddress, []any{int32(a.Picture.Layout), int32(a.Picture.Mode)}
	case engine.Ask:
		address = askAddress
	default:
		return "", nil, fmt.Errorf("device %s: %v is nothing to send to a device", d.name, a.Kind)
	}
	if d.numbered {
		arguments = append(arguments, int64(a.Number))
	}
	return address, arguments, nil
}

func outputMessage(at string, a engine.Action) (string, []any) {
	if a.Kind == engine.SendBlack {
		return outputAddress(at, "black"), []any{a.Black}
	}
	return outputAddress(at, "level"), []any{float32(a.Level)}
}

func outputAddress(at, what string) string { return deviceRoot + "/output/" + at + "/" + what }
