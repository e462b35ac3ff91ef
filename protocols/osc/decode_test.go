package osc

import (
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// message encodes, for tests that need a packet.
func message(t testing.TB, address string, arguments ...any) []byte {
	t.Helper()
	packet, err := Encode(address, arguments...)
	require.NoError(t, err)
	return packet
}

// bundle frames elements under a tag.
func bundle(tag TimeTag, elements ...[]byte) []byte {
	out := binary.BigEndian.AppendUint64([]byte(bundleMark), uint64(tag))
	for _, e := range elements {
		out = binary.BigEndian.AppendUint32(out, uint32(len(e)))
		out = append(out, e...)
	}
	return out
}

// texts is a bundle of messages with one string of each length.
func texts(t testing.TB, lengths ...int) []byte {
	var elements [][]byte
	for _, n := range lengths {
		elements = append(elements, message(t, "/a", strings.Repeat("x", n)))
	}
	return bundle(Immediately, elements...)
}

func nested(depth int, inner []byte) []byte {
	for range depth {
		inner = bundle(Immediately, inner)
	}
	return inner
}

// TestDecodeLimits: every limit lets through what is just within it and refuses
// what is just beyond, and says that it is a limit.
func TestDecodeLimits(t *testing.T) {
	go1 := message(t, "/a")
	tight := Limits{Packet: 200, Message: 64, Address: 8, Depth: 3, Elements: 4, Arguments: 5}
	for _, row := range []struct {
		name           string
		within, beyond []byte
		text           string
	}{
		{"packet", texts(t, 51, 47, 47), texts(t, 51, 51, 47), "offset 200: packet of 204 octets, at most 200 are taken"},
		{"message", message(t, "/a", strings.Repeat("x", 55)), message(t, "/a", strings.Repeat("x", 56)), "offset 0: message of 68 octets, at most 64 are taken"},
		{"address", message(t, "/2345678"), message(t, "/23456789"), "offset 0: address pattern of 9 octets, at most 8 are taken"},
		{"depth", nested(3, go1), nested(4, go1), "offset 60: bundles nested more than 3 deep"},
		{"elements", bundle(Immediately, go1, go1, go1), bundle(Immediately, go1, go1, go1, go1), "offset 56: more than 4 messages and bundles in one packet"},
		{"elements, empty bundles", bundle(Immediately, nested(1, nil)[:16], go1), bundle(Immediately, go1, bundle(Immediately), bundle(Immediately), bundle(Immediately)), "offset 72: more than 4 messages and bundles in one packet"},
		{"arguments", message(t, "/a", true, true, true, true, true), message(t, "/a", true, true, true, true, true, true), "offset 4: 6 arguments, at most 5 are taken"},
	} {
		t.Run(row.name, func(t *testing.T) {
			_, err := Decode(row.within, tight)
			require.NoError(t, err)
			_, err = Decode(row.beyond, tight)
			require.EqualError(t, err, row.text)
			require.ErrorIs(t, err, ErrLimit)
		})
	}
}

func TestLimitsWithoutAFigureAreAnError(t *testing.T) {
	require.NoError(t, DefaultLimits().Check())
	for name, cut := range map[string]func(*Limits){
		"packet": func(l *Limits) { l.Packet = 0 }, "message": func(l *Limits) { l.Message = 0 },
		"address": func(l *Limits) { l.Address = -1 }, "depth": func(l *Limits) { l.Depth = 0 },
		"elements": func(l *Limits) { l.Elements = 0 }, "arguments": func(l *Limits) { l.Arguments = 0 },
	} {
		l := DefaultLimits()
		cut(&l)
		_, err := Decode(message(t, "/a"), l)
		require.ErrorContains(t, err, "osc limit "+name)
	}
	l := DefaultLimits()
	l.Message = MaxMessage + 4
	require.ErrorContains(t, l.Check(), "more than the 4096 that can be decoded")
}

// TestDecodeLargestMessage: padding and blobs up to the last octet of the
// foreign decoder's buffer are read right.
func TestDecodeLargestMessage(t *testing.T) {
	for _, tail := range []int{0, 1, 2, 3} {
		text := strings.Repeat("x", MaxMessage-16-tail)
		packet := message(t, "/a", []byte{1}, text[:len(text)-len(text)%4-5])
		require.LessOrEqual(t, len(packet), MaxMessage)
		groups, err := Decode(packet, DefaultLimits())
		require.NoError(t, err)
		require.Equal(t, text[:len(text)-len(text)%4-5], groups[0].Messages[0].Arguments[1])
	}
	blob := make([]byte, MaxMessage-12)
	blob[len(blob)-1] = 7
	packet := message(t, "/a", blob)
	require.Len(t, packet, MaxMessage)
	groups, err := Decode(packet, DefaultLimits())
	require.NoError(t, err)
	require.Equal(t, blob, groups[0].Messages[0].Arguments[0])
}

// TestDecodeAllocates: the largest hostile packets cost no more memory than a
// small multiple of themselves.
func TestDecodeAllocates(t *testing.T) {
	huge := append(message(t, "/b")[:4], ",b\x00\x00\x7f\xff\xff\xff"...)
	many := []byte(bundleMark + "\x00\x00\x00\x00\x00\x00\x00\x01")
	for len(many)+8 <= defaultPacket {
		many = append(many, "\x00\x00\x00\x04/a\x00\x00"...)
	}
	for name, packet := range map[string][]byte{"a blob of 2 GiB": huge, "very many messages": many, "a deep nest": nested(3000, nil)} {
		const runs = 10
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		for range runs {
			_, _ = Decode(packet, DefaultLimits())
		}
		runtime.ReadMemStats(&after)
		require.Less(t, (after.TotalAlloc-before.TotalAlloc)/runs, uint64(1<<20), name)
	}
}

func TestTimeTagAfter(t *testing.T) {
	now := time.Date(2026, 3, 1, 12, 0, 0, 500_000_000, time.UTC)
	for _, row := range []struct {
		name string
		tag  TimeTag
		want bool
	}{
		{"immediately", Immediately, false},
		{"now", TimeTagOf(now), false},
		{"the smallest step later", TimeTagOf(now) + 1, true},
		{"a second ago", TimeTagOf(now.Add(-time.Second)), false},
		{"in two seconds", TimeTagOf(now.Add(2 * time.Second)), true},
		{"zero", 0, true}, // 1900 and 2036 have one tag; from 2026 the nearer is 2036
	} {
		t.Run(row.name, func(t *testing.T) { require.Equal(t, row.want, row.tag.After(now)) })
	}
	before := time.Date(2036, 2, 7, 6, 28, 15, 0, time.UTC) // the last second of the era, RFC 5905 section 6
	require.Equal(t, uint64(math.MaxUint32), uint64(TimeTagOf(before)>>32))
	require.True(t, TimeTagOf(before.Add(2*time.Second)).After(before))
	require.False(t, TimeTagOf(before).After(before.Add(2*time.Second)))
}

func TestEncodeRefuses(t *testing.T) {
	for name, row := range map[string]struct {
		address string
		args    []any
	}{
		"an address without slash":  {"lookgate", nil},
		"a pattern":                 {"/lookgate/*", nil},
		"a null in a string":        {"/a", []any{"a\x00b"}},
		"a null first in a string":  {"/a", []any{"\x00b"}},
		"a type that has no tag":    {"/a", []any{42}},
		"a structure of some kinds": {"/a", []any{struct{}{}}},
	} {
		_, err := Encode(row.address, row.args...)
		require.Error(t, err, name)
	}
}

// TestNumbersAreReadAsTheForeignDecoderReadsThem: what is read where it stands is what go-osc gives for the same octets.
func TestNumbersAreReadAsTheForeignDecoderReadsThem(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 8))
	for range 2000 {
		tags := make([]byte, rng.IntN(6))
		body := []byte("/a\x00\x00,")
		for i := range tags {
			tags[i] = "ifhdTFIN"[rng.IntN(8)]
		}
		body = append(append(body, tags...), make([]byte, 4-(len(tags)+1)%4)...)
		for _, tag := range tags {
			for range map[byte]int{'i': 4, 'f': 4, 'h': 8, 'd': 8}[tag] {
				body = append(body, byte(rng.IntN(256)))
			}
		}
		ours, err := valuesOf(string(tags), body, 4)
		require.NoError(t, err)
		theirs, err := decodeValues(string(tags), body, 4)
		require.NoError(t, err)
		require.Equal(t, fmt.Sprintf("%#v", append([]any{}, theirs...)), fmt.Sprintf("%#v", append([]any{}, ours...)), string(tags))
	}
}
