package ws_test

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/engine"
	"lookgate/protocols/desktest"
	"lookgate/protocols/ws"
)

// FuzzRPC puts any octets to the dispatcher over a desk that accepts everything. Whatever comes: no panic, one reply at most, one object for each request
// that is to have one, outcomes after it and none for what was asked in silence.
func FuzzRPC(f *testing.F) {
	rows := published(f, "jsonrpc.csv")
	for _, r := range rows {
		f.Add([]byte(r.request))
	}
	for _, own := range []string{
		`{"jsonrpc":"2.0","method":"recall","params":{"preset":12,"scale":0.5},"id":1}`,
		`{"jsonrpc":"2.0","method":"recall","params":["dusk"],"id":"a"}`,
		`[{"jsonrpc":"2.0","method":"blackout"},{"jsonrpc":"2.0","method":"level","params":[0.5],"id":2},{"jsonrpc":"2.0","method":"reload","id":3}]`,
		`{"jsonrpc":"2.0","method":"record","params":{"n":1001},"id":1e3}`,
		`{"jsonrpc":"2.0","method":"state","id":-0.5}`,
		"\xff\xfe", "", " ", `{"jsonrpc":"2.0","method":"level","params":[1e999],"id":1}`,
	} {
		f.Add([]byte(own))
	}
	desk := desktest.New(desktest.View(), desktest.Rig(), desktest.Accept)
	f.Cleanup(desk.Close)
	f.Fuzz(func(t *testing.T, message []byte) {
		texts := ws.Answers(desk, message, func() { settle(desk) })
		wanted, array := expectedReplies(message)
		if wanted == 0 {
			require.Empty(t, texts, "silence was asked for")
			return
		}
		require.NotEmpty(t, texts)
		require.Equal(t, wanted, countReplies(t, texts[0], array))
		for _, text := range texts[1:] {
			var n struct {
				Method string
				Params engine.Outcome
				ID     json.RawMessage
			}
			require.NoError(t, json.Unmarshal(text, &n))
			require.Equal(t, "outcome", n.Method, "a second reply: %s", text)
			require.Nil(t, n.ID)
		}
	})
}

// settle waits until the desk has said all that it had to say: its goroutine takes things in order.
func settle(desk *desktest.Desk) {
	done := make(chan struct{})
	desk.Order([]engine.Command{{Verb: engine.Query}}, func(_ *engine.Answer, o *engine.Outcome) {
		if o != nil {
			close(done)
		}
	})
	<-done
}

// expectedReplies counts, without the code under test, how many replies a message is to have, and whether they stand in an array.
func expectedReplies(message []byte) (n int, array bool) {
	if !json.Valid(message) {
		return 1, false
	}
	var parts []json.RawMessage
	if json.Unmarshal(message, &parts) != nil || parts == nil {
		return expectedOne(message), false
	}
	if len(parts) == 0 || len(parts) > 64 {
		return 1, false
	}
	for _, p := range parts {
		n += expectedOne(p)
	}
	return n, true
}

// expectedOne gives 0 for a valid request without an id, and 1 for everything else.
func expectedOne(part []byte) int {
	var whole any
	_ = json.Unmarshal(part, &whole)
	m, ok := whole.(map[string]any)
	if !ok {
		return 1
	}
	_, hasID := m["id"]
	_, isMethod := m["method"].(string)
	params, hasParams := m["params"]
	switch params.(type) {
	case []any, map[string]any:
		hasParams = false
	}
	if hasID || !isMethod || hasParams || m["jsonrpc"] != "2.0" {
		return 1
	}
	return 0
}

func countReplies(t *testing.T, text []byte, array bool) int {
	require.True(t, json.Valid(text), "%q", text)
	require.Equal(t, array, text[0] == '[', "%s", text)
	_, err := short(text)
	require.NoError(t, err)
	if !array {
		return 1
	}
	var parts []json.RawMessage
	require.NoError(t, json.Unmarshal(text, &parts))
	return len(parts)
}
