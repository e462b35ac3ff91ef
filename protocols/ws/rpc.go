package ws

import (
	"bytes"
	"encoding/json"
)

// The error codes of JSON-RPC 2.0, section 5.1. Those from -32000 on are for servers to define.
const (
	parseError     = -32700
	invalidRequest = -32600
	methodNotFound = -32601
	invalidParams  = -32602
	internalError  = -32603
	tooMany        = -32000 // more in one batch, or more unanswered, than may be
)

// version is what every request and reply must carry.
const version = "2.0"

// fault is JSON-RPC's error object.
type fault struct {
	Code    int    `json:"code"`
	Message string `json:"message"`
}

// noID stands where a reply has no request that it could name.
var noID = json.RawMessage("null")

// call is one request on its way to its reply. A notification is a request without an id: it gets no reply, whatever comes of it.
type call struct {
	id           json.RawMessage
	notification bool
	method       string
	params       params
	result       any
	fault        *fault
}

// request reads one message. A message that is no request at all comes back as one call that failed already, outside any batch.
func request(message []byte, mostInBatch int) (calls []*call, batch bool) {
	if !json.Valid(message) {
		return []*call{failed(noID, parseError, "this is not JSON")}, false
	}
	if first := bytes.TrimLeft(message, " \t\r\n"); first[0] != '[' {
		return []*call{one(first)}, false
	}
	var parts []json.RawMessage
	if err := json.Unmarshal(message, &parts); err != nil {
		return []*call{failed(noID, parseError, "this is not JSON")}, false
	}
	switch {
	case len(parts) == 0:
		return []*call{failed(noID, invalidRequest, "a batch has at least one request")}, false
	case len(parts) > mostInBatch:
		return []*call{failed(noID, tooMany, "too many requests in one batch")}, false
	}
	for _, p := range parts {
		calls = append(calls, one(p))
	}
	return calls, true
}

// one reads one request. Names of members are taken as they are written: JSON-RPC's are case sensitive, and the usual decoding into a struct is not.
func one(message json.RawMessage) *call {
	var members map[string]json.RawMessage
	if err := json.Unmarshal(message, &members); err != nil || members == nil {
		return failed(noID, invalidRequest, "a request is an object")
	}
	c := &call{notification: true}
	if id, ok := members["id"]; ok {
		if !isID(id) {
			return failed(noID, invalidRequest, "an id is a string, a number or null")
		}
		c.id, c.notification = id, false
	}
	var v, method string
	if !isString(members["jsonrpc"], &v) || v != version || !isString(members["method"], &method) {
		return invalid(c, "a request has jsonrpc \"2.0\" and a method")
	}
	c.method = method
	var ok bool
	if c.params, ok = readParams(members["params"]); !ok {
		return invalid(c, "params are an array or an object")
	}
	return c
}

// invalid fails what is not a request. It is not a notification either, even without an id: nobody can tell what it was meant to be, and the examples of
// section 7 answer it with id null.
func invalid(c *call, why string) *call {
	if c.id == nil {
		return failed(noID, invalidRequest, why)
	}
	return failed(c.id, invalidRequest, why)
}

func failed(id json.RawMessage, code int, why string) *call {
	return &call{id: id, fault: &fault{code, why}}
}

func isID(raw json.RawMessage) bool {
	switch raw[0] {
	case '{', '[', 't', 'f':
		return false
	}
	return true
}

func isString(raw json.RawMessage, s *string) bool {
	return len(raw) > 0 && raw[0] == '"' && json.Unmarshal(raw, s) == nil
}

// success and failure are the two shapes of a reply: with result or with error, never both and never neither.
type success struct {
	Version string          `json:"jsonrpc"`
	Result  any             `json:"result"`
	ID      json.RawMessage `json:"id"`
}

type failure struct {
	Version string          `json:"jsonrpc"`
	Error   *fault          `json:"error"`
	ID      json.RawMessage `json:"id"`
}

// notice is a notification to the client.
type notice struct {
	Version string `json:"jsonrpc"`
	Method  string `json:"method"`
	Params  any    `json:"params"`
}

// compose writes the reply to one message, or nil where nothing may be sent: never an empty array.
func compose(calls []*call, batch bool) []byte {
	var replies []json.RawMessage
	for _, c := range calls {
		if !c.notification {
			replies = append(replies, c.reply())
		}
	}
	switch {
	case len(replies) == 0:
		return nil
	case !batch:
		return replies[0]
	}
	text := append([]byte{'['}, bytes.Join(asBytes(replies), []byte{','})...)
	return append(text, ']')
}

func (c *call) reply() json.RawMessage {
	if c.fault == nil {
		if text, err := encode(success{version, c.result, c.id}); err == nil {
			return text
		}
		c.fault = &fault{internalError, "the result cannot be written as JSON"}
	}
	text, _ := encode(failure{version, c.fault, c.id}) // a code, a sentence and an id that was JSON
	return text
}

// encode writes one value without a line's end, and without changing < and > in what people wrote.
func encode(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return nil, err
	}
	return bytes.TrimRight(b.Bytes(), "\n"), nil
}

func asBytes(raws []json.RawMessage) [][]byte {
	bs := make([][]byte, len(raws))
	for i, r := range raws {
		bs[i] = r
	}
	return bs
}
