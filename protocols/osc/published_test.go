package osc

import (
	"encoding/csv"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// publishedRows reads a table of testdata/published as one map a row.
func publishedRows(t testing.TB, name string) []map[string]string {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "testdata", "published", name))
	require.NoError(t, err)
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(lines), 1, "an empty table checks nothing")
	var rows []map[string]string
	for _, line := range lines[1:] {
		row := map[string]string{}
		for i, column := range lines[0] {
			row[column] = line[i]
		}
		for _, column := range []string{"id", "name", "expected", "excludes", "source"} {
			require.Contains(t, row, column)
		}
		require.NotEmpty(t, row["excludes"], row["id"])
		require.NotEmpty(t, row["source"], row["id"])
		rows = append(rows, row)
	}
	return rows
}

func octets(t testing.TB, row map[string]string) []byte {
	t.Helper()
	packet, err := hex.DecodeString(row["hex"])
	require.NoError(t, err, row["id"])
	return packet
}

func showTag(tag TimeTag) string {
	if tag == Immediately {
		return "now"
	}
	return fmt.Sprintf("%08x.%08x", uint32(tag>>32), uint32(tag))
}

// show writes what Decode returned as the published table writes it.
func show(groups []Group, err error) string {
	var wire *WireError
	if errors.As(err, &wire) {
		return fmt.Sprintf("refused at %d", wire.Offset)
	}
	if err != nil {
		return err.Error()
	}
	var out []string
	for _, g := range groups {
		var messages []string
		for _, m := range g.Messages {
			messages = append(messages, showMessage(m))
		}
		out = append(out, showTag(g.Tag)+"{"+strings.Join(messages, "; ")+"}")
	}
	return strings.Join(out, " | ")
}

func showMessage(m Message) string {
	out := m.Address + " ," + m.Tags
	if m.Discard != nil {
		return out + " discarded"
	}
	for i, a := range m.Arguments {
		switch v := a.(type) {
		case string:
			out += " " + strconv.Quote(v)
		case []byte:
			out += fmt.Sprintf(" 0x%x", v)
		case TimeTag:
			out += " " + showTag(v)
		case float32:
			out += " " + strconv.FormatFloat(float64(v), 'g', -1, 32)
		case bool, nil:
			out += " " + m.Tags[i:i+1]
		default:
			out += fmt.Sprintf(" %v", v)
		}
	}
	return out
}

func TestPublishedBytesDecode(t *testing.T) {
	for _, row := range publishedRows(t, "osc-bytes.csv") {
		t.Run(row["id"]+" "+row["name"], func(t *testing.T) {
			require.Equal(t, row["expected"], show(Decode(octets(t, row), DefaultLimits())))
		})
	}
}

// TestPublishedBytesEncode: every lone message of the table whose tags Encode
// can write comes out octet for octet.
func TestPublishedBytesEncode(t *testing.T) {
	written := 0
	for _, row := range publishedRows(t, "osc-bytes.csv") {
		packet := octets(t, row)
		groups, err := Decode(packet, DefaultLimits())
		if err != nil || packet[0] != '/' || !encodable(packet, groups[0].Messages[0]) {
			continue
		}
		written++
		m := groups[0].Messages[0]
		again, err := Encode(m.Address, m.Arguments...)
		require.NoError(t, err, row["id"])
		require.Equal(t, row["hex"], hex.EncodeToString(again), row["id"])
	}
	require.Greater(t, written, 10)
}

// encodable leaves out what Encode has no way to write: tags I, S and t, a
// missing tag string and a message that is discarded.
func encodable(packet []byte, m Message) bool {
	return m.Discard == nil && CheckAddress(m.Address) == nil && strings.Trim(m.Tags, "ihfdsbTFN") == "" &&
		(len(m.Tags) > 0 || strings.Contains(string(packet), ","))
}

func TestPublishedPatterns(t *testing.T) {
	for _, row := range publishedRows(t, "osc-patterns.csv") {
		t.Run(row["id"]+" "+row["name"], func(t *testing.T) {
			require.Equal(t, row["expected"], verdict(row["pattern"], row["address"]))
		})
	}
}

func verdict(pattern, address string) string {
	matched, err := Match(pattern, address)
	if err != nil {
		if matched {
			return "malformed and matched"
		}
		return "malformed"
	}
	return answer(matched)
}

// TestPublishedBytesExcludeFaults plants in the second decoder the fault that a
// row says it excludes: the row has to fail, and none may fail without a fault.
func TestPublishedBytesExcludeFaults(t *testing.T) {
	for _, row := range publishedRows(t, "osc-bytes.csv") {
		t.Run(row["id"]+" "+row["excludes"], func(t *testing.T) {
			expected := row["expected"]
			if strings.HasPrefix(expected, "refused at ") {
				expected = "refused"
			}
			require.Equal(t, expected, slowDecode(octets(t, row), ""))
			require.NotEqual(t, expected, slowDecode(octets(t, row), row["excludes"]))
		})
	}
}

// TestPublishedPatternsExcludeFaults does the same with the second matcher.
func TestPublishedPatternsExcludeFaults(t *testing.T) {
	for _, row := range publishedRows(t, "osc-patterns.csv") {
		t.Run(row["id"]+" "+row["excludes"], func(t *testing.T) {
			require.Equal(t, row["expected"], slowMatcher{}.verdict(row["pattern"], row["address"]))
			require.NotEqual(t, row["expected"], slowMatcher{row["excludes"]}.verdict(row["pattern"], row["address"]))
		})
	}
}

// TestExampleBundleOrders is the specification's example of one bundle with
// three patterns: six methods, called in blocks, in one of twelve orders.
// Source: Examples Supporting the OSC 1.0 Spec, bundle with three messages.
func TestExampleBundleOrders(t *testing.T) {
	methods := []string{"/first/this/one", "/second/1", "/second/2", "/third/a", "/third/b", "/third/c"}
	var called []string
	for _, pattern := range []string{"/first/this/one", "/second/[1-2]", "/third/*"} {
		var block []string
		for _, m := range methods {
			matched, err := Match(pattern, m)
			require.NoError(t, err)
			if matched {
				block = append(block, m)
			}
		}
		slices.Sort(block)
		called = append(called, block...)
	}
	require.Equal(t, methods, called)
}
