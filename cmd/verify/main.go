// Command verify is the one command that says whether this tree is whole. It
// installs what the tests need where it may, then runs the formatter, the
// vetter, the build, the house's own rules, every test under the race detector
// and a short run of every fuzz target. It prints a line a step and, last, how
// many tests passed and failed; its exit status is 0 only if nothing failed.
//
//	go run ./cmd/verify          everything
//	go run ./cmd/verify -short   no fuzzing, and no test that calls itself long
//
// With CI=true in the environment a missing tool is a failure; without, the
// tests that need it skip, and the missing tool is named.
package main

import (
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
)

func main() {
	os.Exit(run(os.Args[1:], os.Stdout))
}

// run does all the work and returns the exit status: 0 all passed, 1 something
// failed, 2 the command was not understood or not run inside the module.
func run(args []string, out io.Writer) int {
	flags := flag.NewFlagSet("verify", flag.ContinueOnError)
	flags.SetOutput(out)
	short := flags.Bool("short", false, "skip fuzzing and the tests that call themselves long")
	if err := flags.Parse(args); err != nil {
		if errors.Is(err, flag.ErrHelp) {
			return 0
		}
		return 2
	}
	if flags.NArg() > 0 {
		fmt.Fprintf(out, "unexpected argument %q\nverify takes no package names: it checks the whole module\n", flags.Arg(0))
		return 2
	}
	root, err := moduleRoot()
	if err != nil {
		fmt.Fprintf(out, "%v\nrun it from inside a clone\n", err)
		return 2
	}
	v := &verify{root: root, out: out, short: *short, ci: isTrue(os.Getenv("CI")), fuzzTime: fuzzTime, tally: newTally(out)}
	if !v.all() {
		return 1
	}
	return 0
}

// moduleRoot returns the folder of go.mod, from the current folder upwards.
func moduleRoot() (string, error) {
	dir, err := os.Getwd()
	if err != nil {
		return "", err
	}
	for at := dir; ; at = filepath.Dir(at) {
		if _, err := os.Stat(filepath.Join(at, "go.mod")); err == nil {
			return at, nil
		}
		if at == filepath.Dir(at) {
			return "", fmt.Errorf("no go.mod in %s or above it", dir)
		}
	}
}

// isTrue reads a setting from the environment: anything but nothing, 0 and
// false is true.
func isTrue(s string) bool {
	return s != "" && s != "0" && !strings.EqualFold(s, "false")
}
