package osc

import "time"

// TimeTag is an OSC time tag: 32 bits of seconds since 1900-01-01 00:00 UTC and
// 32 bits of fraction. Source: OSC 1.0, Temporal Semantics and OSC Time Tags.
type TimeTag uint64

// Immediately is the one tag that is no time: carry out on arrival.
const Immediately TimeTag = 1

// secondsTo1970 is the time from the tag's epoch to Unix time, in seconds.
// Source: RFC 868, The server.
const secondsTo1970 = 2208988800

// TimeTagOf returns the tag of t, cut to the tag's resolution of about 0.23 ns.
func TimeTagOf(t time.Time) TimeTag {
	seconds := uint64(t.Unix()+secondsTo1970) << 32
	fraction := (uint64(t.Nanosecond()) << 32) / uint64(time.Second)
	return TimeTag(seconds | fraction)
}

// After reports whether the tag names an instant later than now. The difference
// is taken modulo the tag's 136 years, so a tag just past the wrap of 2036 is
// still later than a clock just before it.
func (t TimeTag) After(now time.Time) bool {
	return t != Immediately && int64(t-TimeTagOf(now)) > 0
}
