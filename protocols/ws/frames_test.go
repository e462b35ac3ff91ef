package ws_test

import (
	"bufio"
	"crypto/sha1"
	"encoding/base64"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/protocols/ws"
)

func TestPublishedWebSocket(t *testing.T) {
	b := newBooth(t, nil, ws.Options{}, ws.Limits{})
	for _, r := range published(t, "websocket.csv") {
		t.Run(r.id+" "+r.name, func(t *testing.T) {
			t.Parallel()
			require.Equal(t, r.expected, play(t, strings.TrimPrefix(b.url, "ws://"), r))
			naive := httptest.NewServer(naiveServer(r.fault()))
			t.Cleanup(naive.Close)
			require.NotEqual(t, r.expected, play(t, strings.TrimPrefix(naive.URL, "http://"), r), "the row passes under the wrong reading that it should exclude")
		})
	}
	t.Run("the naive server is right where nothing is planted", func(t *testing.T) {
		naive := httptest.NewServer(naiveServer(""))
		t.Cleanup(naive.Close)
		for _, r := range published(t, "websocket.csv") {
			require.Equal(t, r.expected, play(t, strings.TrimPrefix(naive.URL, "http://"), r), r.id)
		}
	})
}

// sampleKey is the key of the RFC's own handshake; any would do for the frames.
const sampleKey = "dGhlIHNhbXBsZSBub25jZQ=="

// play puts one row to a server, by octets and without the library under test, and writes what came in the table's words.
func play(t *testing.T, address string, r row) string {
	t.Helper()
	c, err := net.Dial("tcp", address)
	require.NoError(t, err)
	defer c.Close()
	require.NoError(t, c.SetDeadline(time.Now().Add(patience)))
	kind, value, _ := strings.Cut(r.request, ":")
	key, version := sampleKey, "13"
	switch kind {
	case "key":
		key = value
	case "version":
		version = value
	}
	_, err = fmt.Fprintf(c, "GET /ws HTTP/1.1\r\nHost: %s\r\nUpgrade: WebSocket\r\nConnection: keep-alive, Upgrade\r\nSec-WebSocket-Key: %s\r\nSec-WebSocket-Version: %s\r\n\r\n", address, key, version)
	require.NoError(t, err)
	in := bufio.NewReader(c)
	answer, err := http.ReadResponse(in, nil)
	require.NoError(t, err)
	if answer.StatusCode != http.StatusSwitchingProtocols {
		got := fmt.Sprintf("status:%d", answer.StatusCode)
		if kind == "version" {
			got += " version:" + answer.Header.Get("Sec-WebSocket-Version")
		}
		return got
	}
	if kind != "frames" {
		return "accept:" + answer.Header.Get("Sec-WebSocket-Accept")
	}
	frames, err := hex.DecodeString(value)
	require.NoError(t, err)
	_, err = c.Write(frames)
	require.NoError(t, err)
	return hear(c, in, r.expected)
}

// goodbye is a masked close frame with code 1000. It goes once a row's words have come, so that the test sees that nothing more comes.
var goodbye = []byte{0x88, 0x82, 0, 0, 0, 0, 0x03, 0xe8}

// hear reads frames until the server closes. What the server says unasked is left out, and so is the close frame where the row does not look at it.
func hear(c net.Conn, in *bufio.Reader, expected string) string {
	var heard []string
	closes := strings.Contains(expected, "close:")
	for {
		op, payload, err := readFrame(in)
		if err != nil {
			return strings.Join(append(heard, "end:"+err.Error()), " ")
		}
		if word := word(op, payload); word != "" && (closes || word != "close:1000") {
			heard = append(heard, word)
		}
		if op == 8 {
			return strings.Join(heard, " ")
		}
		if !closes && len(heard) == len(strings.Fields(expected)) {
			_, _ = c.Write(goodbye)
		}
	}
}

func word(op byte, payload []byte) string {
	switch op {
	case 1:
		if strings.Contains(string(payload), `"method"`) {
			return ""
		}
		_, code, _ := strings.Cut(string(payload), `"code":`)
		code, _, _ = strings.Cut(code, ",")
		return "text:" + code
	case 8:
		if len(payload) < 2 {
			return "close:"
		}
		return fmt.Sprintf("close:%d", binary.BigEndian.Uint16(payload))
	case 10:
		return "pong:" + hex.EncodeToString(payload)
	}
	return ""
}

var errMasked = errors.New("a frame of a server is masked")

// readFrame reads one frame of a server.
func readFrame(in *bufio.Reader) (op byte, payload []byte, err error) {
	var head [2]byte
	if _, err := io.ReadFull(in, head[:]); err != nil {
		return 0, nil, err
	}
	if head[1]&0x80 != 0 {
		return 0, nil, errMasked
	}
	n := uint64(head[1] & 0x7f)
	if n >= 126 {
		long := make([]byte, 2+6*(n-126))
		if _, err := io.ReadFull(in, long); err != nil {
			return 0, nil, err
		}
		n = binary.BigEndian.Uint64(append(make([]byte, 8-len(long)), long...))
	}
	payload = make([]byte, n)
	_, err = io.ReadFull(in, payload)
	return head[0] & 0x0f, payload, err
}

// naiveServer is a small WebSocket server of this test with one wrong reading planted in it. Without one it passes every row, which shows that a row
// fails for what is planted.
func naiveServer(fault string) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		key := r.Header.Get("Sec-WebSocket-Key")
		if raw, err := base64.StdEncoding.DecodeString(key); (err != nil || len(raw) != 16) && fault != "key-not-looked-at" {
			w.WriteHeader(400)
			return
		}
		if r.Header.Get("Sec-WebSocket-Version") != "13" && fault != "version-not-looked-at" {
			w.Header().Set("Sec-WebSocket-Version", "13")
			w.WriteHeader(426)
			return
		}
		guid := "258EAFA5-E914-47DA-95CA-C5AB0DC85B11"
		if fault == "no-guid" {
			guid = ""
		}
		sum := sha1.Sum([]byte(key + guid))
		c, io, err := w.(http.Hijacker).Hijack()
		if err != nil {
			return
		}
		defer c.Close()
		fmt.Fprintf(c, "HTTP/1.1 101 Switching Protocols\r\nUpgrade: websocket\r\nConnection: Upgrade\r\nSec-WebSocket-Accept: %s\r\n\r\n", base64.StdEncoding.EncodeToString(sum[:]))
		(&naive{fault: fault, in: io.Reader, out: c}).serve()
	})
}

type naive struct {
	fault   string
	in      *bufio.Reader
	out     net.Conn
	message []byte
	within  bool // a fragmented message
}

func (n *naive) serve() {
	for {
		_ = n.out.SetReadDeadline(time.Now().Add(200 * time.Millisecond))
		head := make([]byte, 2)
		if _, err := io.ReadFull(n.in, head); err != nil {
			return
		}
		payload, code := n.payload(head)
		if code != 0 {
			n.close(code)
			return
		}
		if !n.frame(head[0]&0x80 != 0, head[0]&0x0f, payload) {
			return
		}
	}
}

func (n *naive) close(code uint16) { n.write(8, binary.BigEndian.AppendUint16(nil, code)) }

func (n *naive) write(op byte, payload []byte) {
	_, _ = n.out.Write(append([]byte{0x80 | op, byte(len(payload))}, payload...))
}

// payload reads the rest of a frame and judges its head; a code other than 0 closes.
func (n *naive) payload(head []byte) ([]byte, uint16) {
	size, masked, control := uint64(head[1]&0x7f), head[1]&0x80 != 0, head[0]&0x08 != 0
	switch {
	case !masked && n.fault != "unmasked-taken", head[0]&0x70 != 0 && n.fault != "reserved-bits-pass",
		control && head[0]&0x80 == 0 && n.fault != "control-fragmented", control && size > 125 && n.fault != "control-any-length":
		return nil, 1002
	}
	if size >= 126 {
		long := make([]byte, 2+6*(size-126))
		_, _ = io.ReadFull(n.in, long)
		if n.fault != "length-16-misread" {
			size = binary.BigEndian.Uint64(append(make([]byte, 8-len(long)), long...))
		}
	}
	if size > 64<<10 && n.fault != "no-limit" {
		return nil, 1009
	}
	mask := make([]byte, 4)
	if masked {
		_, _ = io.ReadFull(n.in, mask)
	}
	payload := make([]byte, size)
	if _, err := io.ReadFull(n.in, payload); err != nil {
		return nil, 1002
	}
	for i := range payload {
		if n.fault != "mask-kept" {
			payload[i] ^= mask[i%4]
		}
	}
	return payload, 0
}

// frame acts on one frame and reports whether to go on.
func (n *naive) frame(final bool, op byte, payload []byte) bool {
	switch op {
	case 8:
		if n.fault != "close-not-answered" {
			n.write(8, payload)
		}
		return false
	case 9:
		if n.fault == "pong-empty" {
			payload = nil
		}
		n.write(10, payload[:min(len(payload), 125)])
		if n.fault == "control-ends-message" && n.within {
			n.close(1002)
			return false
		}
		return true
	}
	n.message = append(n.message, payload...)
	if n.within = !final; n.within && n.fault != "fragments-apart" {
		return true
	}
	return n.whole()
}

// whole answers one message: what is not UTF-8 closes, and nothing else in the table is JSON.
func (n *naive) whole() bool {
	text := string(n.message)
	n.message = nil
	if strings.ToValidUTF8(text, "") != text && n.fault != "utf8-not-looked-at" {
		n.close(1007)
		return false
	}
	n.write(1, []byte(`{"jsonrpc":"2.0","error":{"code":-32700,"message":"no JSON"},"id":null}`))
	return true
}
