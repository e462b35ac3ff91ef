package ws_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/protocols/ws"
)

// row is one published check.
type row struct{ id, name, request, expected, excludes, source string }

// fault gives the name of the wrong reading that the row excludes.
func (r row) fault() string { name, _, _ := strings.Cut(r.excludes, ":"); return name }

func published(t testing.TB, file string) []row {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "testdata", "published", file))
	require.NoError(t, err)
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Equal(t, []string{"id", "name", "request", "expected", "excludes", "source"}, lines[0])
	require.Greater(t, len(lines), 1)
	var rows []row
	for _, l := range lines[1:] {
		r := row{l[0], l[1], l[2], l[3], l[4], l[5]}
		require.NotEmpty(t, r.source, r.id)
		require.Contains(t, r.excludes, ":", "%s names the wrong reading and says what it is", r.id)
		rows = append(rows, r)
	}
	return rows
}

// example has the methods of the specification's examples.
var example = map[string]func(ws.Args) (any, error){
	"subtract": func(a ws.Args) (any, error) {
		got, err := a.Bind("minuend", "subtrahend")
		if err != nil {
			return nil, err
		}
		return number(got["minuend"]) - number(got["subtrahend"]), nil
	},
	"sum": func(a ws.Args) (any, error) {
		total := 0
		for _, v := range a.List {
			total += number(v)
		}
		return total, nil
	},
	"get_data":     func(ws.Args) (any, error) { return []any{"hello", 5}, nil },
	"update":       func(ws.Args) (any, error) { return true, nil },
	"notify_hello": func(ws.Args) (any, error) { return true, nil },
	"notify_sum":   func(ws.Args) (any, error) { return true, nil },
	"rpc.list":     func(ws.Args) (any, error) { return "must not be reached", nil },
}

func number(raw json.RawMessage) int {
	var n int
	_ = json.Unmarshal(raw, &n)
	return n
}

// short brings a reply to what the table writes: result or error code, and id. It fails what is not a reply.
func short(text []byte) (string, error) {
	if len(text) == 0 {
		return "", nil
	}
	if text[0] == '[' {
		var parts []json.RawMessage
		if err := json.Unmarshal(text, &parts); err != nil {
			return "", err
		}
		var all []string
		for _, p := range parts {
			s, err := short(p)
			if err != nil {
				return "", err
			}
			all = append(all, s)
		}
		return "[" + strings.Join(all, ",") + "]", nil
	}
	var m map[string]json.RawMessage
	if err := json.Unmarshal(text, &m); err != nil {
		return "", err
	}
	result, isResult := m["result"]
	rawError, isError := m["error"]
	if string(m["jsonrpc"]) != `"2.0"` || isResult == isError || len(m) != 3 || m["id"] == nil {
		return "", errors.New("no reply: " + string(text))
	}
	if isResult {
		return `{"result":` + string(result) + `,"id":` + string(m["id"]) + `}`, nil
	}
	var e struct {
		Code    json.Number `json:"code"`
		Message string      `json:"message"`
	}
	if err := json.Unmarshal(rawError, &e); err != nil || e.Message == "" {
		return "", errors.New("no error object: " + string(text))
	}
	return `{"error":` + e.Code.String() + `,"id":` + string(m["id"]) + `}`, nil
}

func TestPublishedJSONRPC(t *testing.T) {
	for _, r := range published(t, "jsonrpc.csv") {
		t.Run(r.id+" "+r.name, func(t *testing.T) {
			got, err := short(ws.Play(example, []byte(r.request)))
			require.NoError(t, err)
			require.Equal(t, r.expected, got)
			planted, ok := wrongReadings[r.fault()]
			require.True(t, ok, "no wrong reading is planted under the name %q", r.fault())
			got, err = short(planted([]byte(r.request)))
			require.True(t, err != nil || got != r.expected, "the row passes under the wrong reading that it should exclude")
		})
	}
}

// right is the dispatcher as it is.
func right(message []byte) []byte { return ws.Play(example, message) }

// wrongReadings are dispatchers with one thing wrong each, made by changing what goes in or what comes out of the right one.
var wrongReadings = map[string]func([]byte) []byte{
	"positions-reversed": inList(func(list []json.RawMessage) { slices.Reverse(list) }),
	"names-ignored": func(m []byte) []byte {
		return right(regexp.MustCompile(`\{"subtrahend": (\d+), "minuend": (\d+)\}`).ReplaceAll(m, []byte("[$1, $2]")))
	},
	"ids-not-echoed": func(m []byte) []byte {
		return regexp.MustCompile(`"id":[^,}]+`).ReplaceAll(right(m), []byte(`"id":1`))
	},
	"ids-as-numbers": func(m []byte) []byte {
		return regexp.MustCompile(`"id":"0*(\d+)"`).ReplaceAll(right(m), []byte(`"id":$1`))
	},
	"notifications-answered": eachRequest(func(r map[string]json.RawMessage) {
		if r["id"] == nil && r["jsonrpc"] != nil && r["method"] != nil {
			r["id"] = json.RawMessage("null")
		}
	}),
	"one-code-for-all": func(m []byte) []byte { return bytes.ReplaceAll(right(m), []byte("-32700"), []byte("-32600")) },
	"no-id-means-notification": func(m []byte) []byte {
		if !bytes.Contains(m, []byte(`"id"`)) {
			return nil
		}
		return right(m)
	},
	"null-id-means-notification": eachRequest(func(r map[string]json.RawMessage) {
		if string(r["id"]) == "null" {
			delete(r, "id")
		}
	}),
	"parse-errors-in-arrays": func(m []byte) []byte {
		if bytes.HasPrefix(m, []byte("[")) && !json.Valid(m) {
			return slices.Concat([]byte("["), right(m), []byte("]"))
		}
		return right(m)
	},
	"empty-batch-answered-empty": func(m []byte) []byte {
		if string(m) == "[]" {
			return m
		}
		return right(m)
	},
	"batch-of-one-unwrapped": func(m []byte) []byte {
		var parts []json.RawMessage
		if json.Unmarshal(right(m), &parts) == nil && len(parts) == 1 {
			return parts[0]
		}
		return right(m)
	},
	"first-error-ends-batch": func(m []byte) []byte {
		var parts []json.RawMessage
		if json.Unmarshal(right(m), &parts) == nil && bytes.Contains(parts[0], []byte(`"error"`)) {
			return parts[0]
		}
		return right(m)
	},
	"empty-array-for-notifications": func(m []byte) []byte {
		if reply := right(m); reply != nil {
			return reply
		}
		return []byte("[]")
	},
	"version-not-looked-at": eachRequest(func(r map[string]json.RawMessage) { r["jsonrpc"] = json.RawMessage(`"2.0"`) }),
	"members-in-any-case":   func(m []byte) []byte { return right(bytes.ToLower(m)) },
	"any-id-echoed": func(m []byte) []byte {
		return regexp.MustCompile(`"id":null`).ReplaceAll(right(m), []byte(`"id":{"a":1}`))
	},
	"scalar-params-pass": eachRequest(func(r map[string]json.RawMessage) {
		if p := r["params"]; len(p) > 0 && p[0] != '[' && p[0] != '{' {
			delete(r, "params")
		}
	}),
	"unknown-names-pass": func(m []byte) []byte { return right(bytes.ReplaceAll(m, []byte(`,"extra":1`), nil)) },
	"reserved-names-run": func(m []byte) []byte {
		return right(bytes.ReplaceAll(m, []byte(`"rpc.list"`), []byte(`"get_data"`)))
	},
}

// eachRequest plants a fault by changing every request that can be read.
func eachRequest(change func(map[string]json.RawMessage)) func([]byte) []byte {
	return func(m []byte) []byte {
		if m[0] != '[' {
			return right(changed(m, change))
		}
		var parts []json.RawMessage
		if json.Unmarshal(m, &parts) != nil {
			return right(m)
		}
		for i := range parts {
			parts[i] = changed(parts[i], change)
		}
		text, _ := json.Marshal(parts)
		return right(text)
	}
}

func changed(m json.RawMessage, change func(map[string]json.RawMessage)) json.RawMessage {
	var r map[string]json.RawMessage
	if json.Unmarshal(m, &r) != nil || r == nil {
		return m
	}
	change(r)
	text, _ := json.Marshal(r)
	return text
}

// inList plants a fault in the order of arguments by position.
func inList(change func([]json.RawMessage)) func([]byte) []byte {
	return eachRequest(func(r map[string]json.RawMessage) {
		var list []json.RawMessage
		if json.Unmarshal(r["params"], &list) == nil {
			change(list)
			r["params"], _ = json.Marshal(list)
		}
	})
}
