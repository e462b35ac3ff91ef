package osc

import (
	"errors"
	"fmt"
)

// MaxMessage is the most octets that one message may have. The foreign decoder
// reads through a buffer of this size and misreads padding and blobs that lie
// across its end, so no [Limits] may ask for more.
const MaxMessage = 4096

// Default limits: generous for a console, small enough that the worst packet
// costs milliseconds.
const (
	defaultPacket    = 65507 // the largest payload of a UDP datagram over IPv4
	defaultAddress   = 255
	defaultDepth     = 8
	defaultElements  = 256
	defaultArguments = 64
)

// ErrLimit is wrapped by every error of [Decode] that stands for a packet which
// may be well formed and is larger than this receiver takes.
var ErrLimit = errors.New("over the limit")

// Limits says how much of a packet is taken. A field of zero or less is an
// error, never "unlimited".
type Limits struct {
	Packet    int // octets of a packet
	Message   int // octets of a message, at most MaxMessage
	Address   int // octets of an address pattern
	Depth     int // bundles inside one another; 1 allows a bundle and none within it
	Elements  int // messages and bundles of a packet, counted together
	Arguments int // arguments of a message
}

// DefaultLimits returns the limits for a network of consoles and panels.
func DefaultLimits() Limits {
	return Limits{
		Packet:    defaultPacket,
		Message:   MaxMessage,
		Address:   defaultAddress,
		Depth:     defaultDepth,
		Elements:  defaultElements,
		Arguments: defaultArguments,
	}
}

// Check returns an error that names the first field that cannot serve.
func (l Limits) Check() error {
	for _, field := range []struct {
		name  string
		value int
	}{
		{"packet", l.Packet}, {"message", l.Message}, {"address", l.Address},
		{"depth", l.Depth}, {"elements", l.Elements}, {"arguments", l.Arguments},
	} {
		if field.value <= 0 {
			return fmt.Errorf("osc limit %s is %d: no limit is an error, not \"unlimited\"", field.name, field.value)
		}
	}
	if l.Message > MaxMessage {
		return fmt.Errorf("osc limit message is %d octets, more than the %d that can be decoded", l.Message, MaxMessage)
	}
	return nil
}

// WireError is a packet that cannot be taken: where, and what is wrong there.
type WireError struct {
	Offset int    // octets from the start of the packet
	What   string // one clause, lower case
	cause  error  // ErrLimit, or nil for a malformed packet
}

// Error names the offset first, since that is where a sender's author looks.
func (e *WireError) Error() string { return fmt.Sprintf("offset %d: %s", e.Offset, e.What) }

// Unwrap returns [ErrLimit] for a packet that is too large, else nil.
func (e *WireError) Unwrap() error { return e.cause }

func malformed(offset int, format string, args ...any) error {
	return &WireError{Offset: offset, What: fmt.Sprintf(format, args...)}
}

func overLimit(offset int, format string, args ...any) error {
	return &WireError{Offset: offset, What: fmt.Sprintf(format, args...), cause: ErrLimit}
}
