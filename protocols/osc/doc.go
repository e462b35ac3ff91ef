// Package osc speaks Open Sound Control 1.0 over UDP: what a lighting console
// or a button panel sends is decoded, matched and handed on, and answers go
// back.
//
// The wire is treated as hostile. A packet is walked and its structure proved
// here, within [Limits], before the one foreign decoder in use sees a single
// message of it: that decoder accepts cut time tags, misreads blobs and padding
// past its buffer of 4096 octets and refuses an empty blob, so it is given only
// what it is known to read right. Address patterns are matched by [Pattern] in
// time that grows with pattern length times address length and no faster.
//
// Source of the rules: Open Sound Control Specification 1.0 (M. Wright, March
// 26 2002), sections Atomic Data Types, OSC Packets, OSC Messages, OSC Bundles,
// Message Dispatching and Temporal Semantics. Where it is silent, the choice is
// written at the function that makes it.
package osc
