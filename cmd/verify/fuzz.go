package main

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"strings"
	"time"
)

// fuzzTime is how long each target runs: enough to find what a change broke, not
// what nobody has found in years.
const fuzzTime = "5s"

// fuzzLimit ends a target that hangs, with its build.
const fuzzLimit = 10 * time.Minute

// target is one fuzz target.
type target struct{ pkg, name string }

// fuzz finds every fuzz target by asking the test binaries, and runs each for a
// short while. No target at all, or one without a seed, is a failure: a folder
// of seeds that was moved away would otherwise leave a target that tests nothing.
func (v *verify) fuzz() (string, error) {
	listed, err := v.output("test", "-vet=off", "-list", "^Fuzz", "./...")
	var wrong []error
	if err != nil {
		wrong = append(wrong, fmt.Errorf("cannot list every fuzz target: %w", err))
	}
	targets := targetsIn(listed)
	if len(targets) == 0 {
		wrong = append(wrong, errors.New("no fuzz target found in any package"))
	}
	for _, t := range targets {
		if err := v.fuzzOne(t); err != nil {
			wrong = append(wrong, err)
		}
	}
	return fmt.Sprintf("%d targets, %s each", len(targets), v.fuzzTime), errors.Join(wrong...)
}

// targetsIn reads what go test -list prints: the targets of a package, then a
// line that begins with ok and names the package.
func targetsIn(listed string) []target {
	var out []target
	var names []string
	for line := range strings.Lines(listed) {
		fields := strings.Fields(line)
		switch {
		case len(fields) == 1 && strings.HasPrefix(fields[0], "Fuzz"):
			names = append(names, fields[0])
		case len(fields) > 1 && fields[0] == "ok":
			for _, n := range names {
				out = append(out, target{pkg: fields[1], name: n})
			}
			names = nil
		}
	}
	return out
}

// fuzzOne counts the target's seeds as they were played by the test step and
// runs it.
func (v *verify) fuzzOne(t target) error {
	seeds := v.tally.seeds[t.pkg+"."+t.name]
	if seeds == 0 {
		v.tally.failed++
		return fmt.Errorf("%s %s: no seed was played: give it one with f.Add or in testdata/fuzz/%s", short(t.pkg), t.name, t.name)
	}
	begun := time.Now()
	said, err := v.runTarget(t)
	if err != nil && onlyOutOfTime(said) {
		said, err = v.runTarget(t)
	}
	if err != nil {
		v.tally.failed++
		fmt.Fprintf(v.out, "FAIL  %s %s\n%s", short(t.pkg), t.name, said)
		return fmt.Errorf("%s %s: %w", short(t.pkg), t.name, err)
	}
	v.tally.passed++
	fmt.Fprintf(v.out, "ok    %-28s %s, %d seeds, %.1fs\n", short(t.pkg), t.name, seeds, time.Since(begun).Seconds())
	return nil
}

func (v *verify) runTarget(t target) ([]byte, error) {
	ctx, cancel := context.WithTimeout(context.Background(), fuzzLimit)
	defer cancel()
	return v.command(ctx, "test", "-vet=off", "-run", "^$", "-fuzz", "^"+t.name+"$",
		"-fuzztime", v.fuzzTime, "-fuzzminimizetime", "10x", t.pkg).CombinedOutput()
}

// onlyOutOfTime says whether a target failed for nothing but the end of its
// time, which the go command of some versions reports as a failure when a
// worker is slow to stop. An input that fails is always written to a file.
func onlyOutOfTime(said []byte) bool {
	out := false
	for s := bufio.NewScanner(bytes.NewReader(said)); s.Scan(); {
		line := strings.TrimSpace(s.Text())
		if strings.HasPrefix(line, "Failing input written") || strings.HasPrefix(line, "panic:") {
			return false
		}
		out = out || line == "context deadline exceeded"
	}
	return out
}
