package house

import "strings"

// clean is a small house without fault: every kind of package, and beside each
// forbidden thing its neighbour that is allowed.
var clean = map[string]string{
	"go.mod":  "module lookgate\n",
	"LICENSE": "free\n",
	"presets/units/units.go": `// Package units has quantities.
package units

type Amps float64

func (a Amps) Float() float64 { return float64(a) }
`,
	"presets/finding/finding.go": "// Package finding has codes.\npackage finding\n",
	"presets/rig/rig.go": `// Package rig is the plant.
package rig

import (
	"maps"
	"slices"
	"time"

	"lookgate/presets/units"
)

type Circuit struct {
	Limit units.Amps
	Held  time.Duration
	scale float64
}

func (c Circuit) At(now time.Time) bool { return now.Add(c.Held).After(now) && c.scale > 0 }

func Sum(m map[string]Circuit) (total units.Amps) {
	for _, name := range slices.Sorted(maps.Keys(m)) {
		total += m[name].Limit
	}
	// order does not show: counting
	for range m {
		total++
	}
	return total
}
`,
	"presets/power/power.go": "// Package power sums.\npackage power\n\nimport \"lookgate/presets/rig\"\n\nvar _ rig.Circuit\n",
	"presets/power/power_test.go": `package power_test

import (
	"os"
	"testing"
	"time"

	_ "lookgate/presets/site"
)

func TestSite(t *testing.T) {
	_, _ = os.Getwd()
	_ = time.Now()
	select {
	case <-make(chan int):
	case <-time.After(1):
	}
}
`,
	"presets/site/site.go": "// Package site reads.\npackage site\n",
	"presets/plant/plant.go": `// Package plant simulates.
package plant

import "math/rand/v2"

func Draw(seed uint64) int { return rand.New(rand.NewPCG(seed, 1)).IntN(6) }
`,
	"presets/engine/engine.go":   "// Package engine steps.\npackage engine\n",
	"protocols/protocols.go":     "// Package protocols has contracts.\npackage protocols\n",
	"protocols/osc/osc.go":       "// Package osc speaks OSC.\npackage osc\n\nimport (\n\t\"net\"\n\n\t_ \"lookgate/protocols\"\n)\n\nvar _ net.Addr\n",
	"protocols/ws/ws.go":         "// Package ws speaks WebSocket.\npackage ws\n",
	"protocols/desktest/desk.go": "// Package desktest is a desk.\npackage desktest\n\nimport _ \"github.com/stretchr/testify/require\"\n",
	"protocols/ws/ws_test.go":    "package ws\n\nimport _ \"lookgate/protocols/desktest\"\n",
	"daemon/daemon.go":           "// Package daemon owns.\npackage daemon\n\nimport _ \"lookgate/presets/engine\"\n",
	"daemon/record/record.go":    "// Package record keeps.\npackage record\n",
	"web/web.go":                 "// Package web shows.\npackage web\n",
	"web/panel.js":               "export const a = 1;\n",
	"cmd/lookgate/main.go":       "// Command lookgate wires.\npackage main\n\nimport _ \"lookgate/protocols/osc\"\n\nfunc main() {}\n",
	"testdata/any/util/skip.go":  "package util\n\nfunc broken(\n",
}

// rigWith is presets/rig with more text in a file of its own.
func rigWith(body string) map[string]string {
	return map[string]string{"presets/rig/planted.go": "package rig\n\n" + body + "\n"}
}

// testWith is a test of presets/rig.
func testWith(body string) map[string]string {
	return map[string]string{"presets/rig/planted_test.go": "package rig\n\n" + body + "\n"}
}

// planted is every kind of fault, each in a house that is otherwise clean. The
// check must find it, at that place, and nothing else.
var planted = []struct {
	name  string
	files map[string]string
	rule  string
	place string // what the place begins with
}{
	// What is not a pure function of its arguments.
	{"a clock", rigWith(`import "time"; func Now() time.Time { return time.Now() }`), "clock", "presets/rig/planted.go:3:"},
	{"a clock behind another name", rigWith(`import t "time"; func Age(a t.Time) t.Duration { return t.Since(a) }`), "clock", "presets/rig/planted.go:3:"},
	{"a clock as a value", rigWith(`import "time"; var clock = time.Now`), "clock", "presets/rig/planted.go:3:"},
	{"a clock in a dot import", rigWith(`import . "time"; var t0 = Now()`), "clock", "presets/rig/planted.go:3:"},
	{"a timer", rigWith(`import "time"; func Wait() { time.NewTimer(1) }`), "clock", "presets/rig/planted.go:3:"},
	{"a sleep", rigWith(`import "time"; func Wait() { time.Sleep(1) }`), "clock", "presets/rig/planted.go:3:"},
	{"the machine's time zone", rigWith(`import "time"; func Show(a time.Time) string { return a.Local().String() }`), "clock", "presets/rig/planted.go:3:"},
	{"a socket", rigWith(`import "net"; var _ net.Addr`), "socket", "presets/rig/planted.go:3:"},
	{"a web request", rigWith(`import "net/http"; var _ http.Header`), "socket", "presets/rig/planted.go:3:"},
	{"a lock", rigWith(`import "sync"; var mu sync.Mutex`), "lock", "presets/rig/planted.go:3:"},
	{"an atomic", rigWith(`import "sync/atomic"; var n atomic.Int64`), "lock", "presets/rig/planted.go:3:"},
	{"a log", rigWith(`import "log"; func Say() { log.Println() }`), "log", "presets/rig/planted.go:3:"},
	{"a structured log", rigWith(`import "log/slog"; func Say() { slog.Info("") }`), "log", "presets/rig/planted.go:3:"},
	{"a print", rigWith(`import "fmt"; func Say() { fmt.Println() }`), "log", "presets/rig/planted.go:3:"},
	{"a builtin print", rigWith(`func Say() { println() }`), "log", "presets/rig/planted.go:3:"},
	{"a file", rigWith(`import "os"; func Read() { os.ReadFile("") }`), "file", "presets/rig/planted.go:3:"},
	{"a process", rigWith(`import "os/exec"; var _ exec.Cmd`), "file", "presets/rig/planted.go:3:"},
	{"a file system", rigWith(`import "io/fs"; var _ fs.FS`), "file", "presets/rig/planted.go:3:"},
	{"a folder walked", rigWith(`import "path/filepath"; func Glob() { filepath.Glob("") }`), "file", "presets/rig/planted.go:3:"},
	{"an embedded file", rigWith(`import _ "embed"`), "file", "presets/rig/planted.go:3:"},
	{"a system call", rigWith(`import "syscall"; var _ syscall.Errno`), "file", "presets/rig/planted.go:3:"},
	{"unsafe", rigWith(`import "unsafe"; var _ unsafe.Pointer`), "unsafe", "presets/rig/planted.go:3:"},
	{"a goroutine", rigWith(`func Go() { go Go() }`), "goroutine", "presets/rig/planted.go:3:"},
	{"a channel", rigWith(`var c chan int`), "goroutine", "presets/rig/planted.go:3:"},
	{"a select", rigWith(`func Wait() { select {} }`), "goroutine", "presets/rig/planted.go:3:"},
	{"a context", rigWith(`import "context"; var _ context.Context`), "goroutine", "presets/rig/planted.go:3:"},
	{"a scheduler call", rigWith(`import "runtime"; func Yield() { runtime.Gosched() }`), "goroutine", "presets/rig/planted.go:3:"},
	{"a coroutine", rigWith(`import "iter"; func Pull(s iter.Seq[int]) { iter.Pull(s) }`), "goroutine", "presets/rig/planted.go:3:"},
	{"global random, old", rigWith(`import "math/rand"; func Draw() int { return rand.Int() }`), "random", "presets/rig/planted.go:3:"},
	{"a seeded source outside of the simulation", rigWith(`import "math/rand/v2"; var _ = rand.NewPCG`), "random", "presets/rig/planted.go:3:"},
	{"global random in the simulation", map[string]string{"presets/plant/planted.go": "package plant\n\nimport \"math/rand/v2\"\n\nfunc Any() int { return rand.IntN(6) }\n"},
		"random", "presets/plant/planted.go:5:"},
	{"true random", rigWith(`import "crypto/rand"; var _ = rand.Reader`), "random", "presets/rig/planted.go:3:"},
	{"a hash with a random seed", rigWith(`import "hash/maphash"; var _ maphash.Hash`), "random", "presets/rig/planted.go:3:"},
	{"a file for one system only", map[string]string{"presets/rig/planted_plan9.go": "package rig\n\nvar clock = missing\n"}, "build-constraint", "presets/rig/planted_plan9.go"},
	{"a file behind a tag", map[string]string{"presets/rig/planted.go": "//go:build planted\n\npackage rig\n"}, "build-constraint", "presets/rig/planted.go"},

	// Where a map's order could show.
	{"a map range", rigWith(`func Keys(m map[int]int) (k []int) { for i := range m { k = append(k, i) }; return k }`), "map-order", "presets/rig/planted.go:3:"},
	{"a map range behind a name", rigWith("type set map[int]bool\n\ntype alias = set\n\nfunc (s alias) keys() {\n\tfor range s {\n\t}\n}"), "map-order", "presets/rig/planted.go:8:"},
	{"a map range behind a type parameter", rigWith("func keys[M ~map[K]V, K comparable, V any](m M) {\n\tfor range m {\n\t}\n}"), "map-order", "presets/rig/planted.go:4:"},
	{"a map range over what a call returns", rigWith("func m() map[int]int { return nil }\n\nfunc keys() {\n\tfor range m() {\n\t}\n}"), "map-order", "presets/rig/planted.go:6:"},
	{"a mark without a reason", rigWith("func keys(m map[int]int) {\n\t// order does not show:\n\tfor range m {\n\t}\n}"), "map-order", "presets/rig/planted.go:5:"},
	{"a mark too far away", rigWith("func keys(m map[int]int) {\n\t// order does not show: far\n\n\tfor range m {\n\t}\n}"), "map-order", "presets/rig/planted.go:6:"},
	{"keys that nobody sorts", rigWith(`import ("maps"; "slices"); func keys(m map[int]int) []int { return slices.Collect(maps.Keys(m)) }`), "map-order", "presets/rig/planted.go:3:"},
	{"a map walked by reflection", rigWith(`import "reflect"; func keys(v reflect.Value) int { return len(v.MapKeys()) }`), "map-order", "presets/rig/planted.go:3:"},

	// What a number measures.
	{"a bare field", rigWith(`type Leg struct { Limit float64 }`), "bare-number", "presets/rig/planted.go:3:"},
	{"a bare field of a field", rigWith(`type Leg struct { Part struct { Limit float32 } }`), "bare-number", "presets/rig/planted.go:3:"},
	{"a bare parameter", rigWith(`func Set(limit float64) {}`), "bare-number", "presets/rig/planted.go:3:"},
	{"a bare result of a method", rigWith(`func (c *Circuit) Get() (float64, error) { return 0, nil }`), "bare-number", "presets/rig/planted.go:3:"},
	{"bare numbers in a slice of maps", rigWith(`func Set(limits []map[string]float64) {}`), "bare-number", "presets/rig/planted.go:3:"},
	{"a named slice of bare numbers", rigWith(`type Curve []float64`), "bare-number", "presets/rig/planted.go:3:"},
	{"a quantity outside of units", rigWith(`type Volts float64`), "bare-number", "presets/rig/planted.go:3:"},
	{"a bare callback", rigWith(`type Each func(float64)`), "bare-number", "presets/rig/planted.go:3:"},
	{"a bare method of an interface", rigWith(`type Meter interface { Read() float64 }`), "bare-number", "presets/rig/planted.go:3:"},
	{"a bare constant", rigWith(`const Continuous = 0.8`), "bare-number", "presets/rig/planted.go:3:"},

	// Who may import whom.
	{"an adapter that imports another", map[string]string{"protocols/osc/planted.go": "package osc\n\nimport _ \"lookgate/protocols/ws\"\n"}, "direction", "protocols/osc/planted.go:3:"},
	{"an adapter that imports the daemon", map[string]string{"protocols/osc/planted.go": "package osc\n\nimport _ \"lookgate/daemon\"\n"}, "direction", "protocols/osc/planted.go:3:"},
	{"test support that ships", map[string]string{"protocols/osc/planted.go": "package osc\n\nimport _ \"lookgate/protocols/desktest\"\n"}, "direction", "protocols/osc/planted.go:3:"},
	{"assertions that ship", map[string]string{"protocols/osc/planted.go": "package osc\n\nimport _ \"github.com/stretchr/testify/require\"\n"}, "library", "protocols/osc/planted.go:3:"},
	{"a daemon that imports an adapter", map[string]string{"daemon/planted.go": "package daemon\n\nimport _ \"lookgate/protocols/osc\"\n"}, "direction", "daemon/planted.go:3:"},
	{"a plant that imports power", map[string]string{"presets/plant/planted.go": "package plant\n\nimport _ \"lookgate/presets/power\"\n"}, "direction", "presets/plant/planted.go:3:"},
	{"an import upwards", map[string]string{"presets/power/planted.go": "package power\n\nimport _ \"lookgate/presets/engine\"\n"}, "direction", "presets/power/planted.go:3:"},
	{"an import upwards in a test of the package itself", testWith(`import _ "lookgate/presets/site"`), "direction", "presets/rig/planted_test.go:3:"},
	{"a panel that imports", map[string]string{"web/planted.go": "package web\n\nimport _ \"lookgate/presets/rig\"\n"}, "direction", "web/planted.go:3:"},
	{"a folder that sees the program", map[string]string{"daemon/planted.go": "package daemon\n\nimport _ \"flag\"\n"}, "program", "daemon/planted.go:3:"},
	{"a second user of SQLite", map[string]string{"daemon/planted.go": "package daemon\n\nimport _ \"github.com/ncruces/go-sqlite3/driver\"\n"}, "library", "daemon/planted.go:3:"},
	{"a second user of YAML", map[string]string{"daemon/planted.go": "package daemon\n\nimport _ \"go.yaml.in/yaml/v3\"\n"}, "library", "daemon/planted.go:3:"},
	{"a browser in shipped code", map[string]string{"cmd/lookgate/planted.go": "package main\n\nimport _ \"github.com/chromedp/chromedp\"\n"}, "library", "cmd/lookgate/planted.go:3:"},
	{"a library without a rule", map[string]string{"daemon/planted_test.go": "package daemon_test\n\nimport _ \"example.org/new/thing\"\n"}, "library", "daemon/planted_test.go:3:"},
	{"a package without a rule", map[string]string{"daemon/queue/queue.go": "// Package queue waits.\npackage queue\n"}, "no-rule", "daemon/queue"},
	{"a protocol without a rule", map[string]string{"protocols/new/new.go": "// Package new speaks.\npackage new\n"}, "no-rule", "protocols/new"},

	// The shape of packages, files and functions.
	{"no package comment", map[string]string{"web/web.go": "package web\n"}, "package-comment", "web"},
	{"a comment that is cut off from its package", map[string]string{"web/web.go": "// Package web shows.\n\npackage web\n"}, "package-comment", "web"},
	{"a second package comment", map[string]string{"web/planted.go": "// Package web shows more.\npackage web\n"}, "package-comment", "web/web.go"},
	{"a package comment without the name", map[string]string{"web/web.go": "// The panel.\npackage web\n"}, "package-comment", "web/web.go"},
	{"a package name that says nothing", map[string]string{"web/web.go": "// Package util helps.\npackage util\n"}, "name", "web"},
	{"a long file", map[string]string{"web/long.js": strings.Repeat("\n", maxFileLines+1)}, "file-length", "web/long.js"},
	{"a long function", rigWith("func long() {" + strings.Repeat("\n", maxFuncLines) + "}"), "func-length", "presets/rig/planted.go:3:"},
	{"a long method", rigWith("func (c *Circuit) long() {" + strings.Repeat("\n", maxFuncLines) + "}"), "func-length", "presets/rig/planted.go:3:"},
	{"a long function in a variable", rigWith("var long = func() {" + strings.Repeat("\n", maxFuncLines) + "}"), "func-length", "presets/rig/planted.go:3:"},
	{"a sleep in a test", testWith(`import "time"; func wait() { time.Sleep(1) }`), "sleep", "presets/rig/planted_test.go:3:"},
	{"a sleep behind another name", testWith(`import t "time"; var wait = t.Sleep`), "sleep", "presets/rig/planted_test.go:3:"},
	{"a sleep by another name", testWith(`import "time"; func wait() { <-time.After(1) }`), "sleep", "presets/rig/planted_test.go:3:"},
	{"a dot import of time in a test", testWith(`import . "time"; var _ Time`), "sleep", "presets/rig/planted_test.go"},
	{"something new at the top", map[string]string{"notes.txt": "\n"}, "top-level", "notes.txt"},
	{"test code that ships", rigWith(`import "testing"; var _ testing.TB`), "test-code", "presets/rig/planted.go:3:"},

	// What cannot be judged is a fault, not a pass.
	{"a file that does not parse", map[string]string{"web/planted.go": "package web\n\nfunc (\n"}, "syntax", "web/planted.go"},
	{"a file that does not compile", rigWith(`var x = missing`), "types", "presets/rig/planted.go:3:"},
	{"an import that is not there", map[string]string{"presets/site/planted.go": "package site\n\nimport _ \"lookgate/presets/light\"\n"}, "types", "presets/site/planted.go:3:"},
}
