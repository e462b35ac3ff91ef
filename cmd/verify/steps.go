package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"

	"lookgate/cmd/verify/house"
)

// verify is one run over a tree.
type verify struct {
	root  string
	out   io.Writer
	short bool
	ci    bool
	// fuzzTime is for how long to fuzz a target, as -fuzztime takes it.
	fuzzTime string
	tally    *tally
	done     []step
}

// step is what became of one part of the run.
type step struct {
	name string
	took time.Duration
	note string // a few words on what was found
	err  error  // nil where it passed
}

// all runs every step, also after one failed: a person wants to know all that
// is wrong. It prints the summary and reports whether everything passed.
func (v *verify) all() bool {
	v.step("needs", func() (string, error) { return provide(thisHost(), v.out, v.ci) })
	v.step("gofmt", v.gofmt)
	v.step("vet", func() (string, error) { return "", v.goCommand("vet", "./...") })
	v.step("build", func() (string, error) { return "", v.goCommand("build", "./...") })
	v.step("house", v.house)
	v.step("test", v.test)
	if !v.short {
		v.step("proof", v.proof)
		v.step("fuzz", v.fuzz)
	}
	return v.summary()
}

func (v *verify) step(name string, do func() (string, error)) {
	fmt.Fprintf(v.out, "== %s\n", name)
	begun := time.Now()
	note, err := do()
	v.done = append(v.done, step{name: name, took: time.Since(begun), note: note, err: err})
	if err != nil {
		fmt.Fprintf(v.out, "   failed: %v\n", err)
	}
}

// summary prints a line a step and the count of tests. A step that failed
// without a failed test counts as one failure, so that the last line never says
// that nothing failed when something did.
func (v *verify) summary() bool {
	failed := v.tally.failed
	fmt.Fprintln(v.out, "== summary")
	for _, s := range v.done {
		result := "ok"
		if s.err != nil {
			result = "FAILED"
			if !isTestStep(s.name) || v.tally.failed == 0 {
				failed++
			}
		}
		fmt.Fprintf(v.out, "%-6s %-6s %7.1fs  %s\n", s.name, result, s.took.Seconds(), s.note)
	}
	fmt.Fprintf(v.out, "%d passed, %d failed\n", v.tally.passed, failed)
	return failed == 0
}

// isTestStep says whether the failures of a step are counted test by test.
func isTestStep(name string) bool { return name == "test" || name == "proof" || name == "fuzz" }

// gofmt lists the files that are not formatted.
func (v *verify) gofmt() (string, error) {
	goroot, err := v.output("env", "GOROOT")
	if err != nil {
		return "", err
	}
	args := []string{"-l"}
	for _, dir := range []string{"cmd", "daemon", "presets", "protocols", "web"} {
		if _, err := os.Stat(filepath.Join(v.root, dir)); err == nil {
			args = append(args, dir)
		}
	}
	cmd := exec.Command(filepath.Join(strings.TrimSpace(goroot), "bin", "gofmt"), args...)
	cmd.Dir = v.root
	listed, err := cmd.CombinedOutput()
	if err != nil {
		return "", fmt.Errorf("gofmt -l: %w\n%s", err, listed)
	}
	if n := bytes.Count(listed, []byte("\n")); n > 0 {
		return fmt.Sprintf("%d files", n), fmt.Errorf("not formatted, run gofmt -w on\n%s", listed)
	}
	return "", nil
}

// house holds the tree to its plan. The test of package house does the same; a
// step of its own says it first and without the noise of a test.
func (v *verify) house() (string, error) {
	faults, err := house.Check(os.DirFS(v.root), house.NewOutside(v.root))
	if err != nil {
		return "", err
	}
	for _, f := range faults {
		fmt.Fprintln(v.out, f)
	}
	if len(faults) > 0 {
		return fmt.Sprintf("%d faults", len(faults)), fmt.Errorf("%d faults against the plan of the house", len(faults))
	}
	return "", nil
}

// command prepares a go command over the tree. It never stamps version control
// into a binary: a clone that another user owns would make git refuse.
func (v *verify) command(ctx context.Context, args ...string) *exec.Cmd {
	cmd := exec.CommandContext(ctx, "go", args...)
	cmd.Dir = v.root
	cmd.Env = append(os.Environ(), "GOFLAGS="+strings.TrimSpace(os.Getenv("GOFLAGS")+" -buildvcs=false"))
	cmd.WaitDelay = 10 * time.Second
	return cmd
}

// goCommand runs a go command and shows what it says.
func (v *verify) goCommand(args ...string) error {
	cmd := v.command(context.Background(), args...)
	cmd.Stdout, cmd.Stderr = v.out, v.out
	return cmd.Run()
}

// output runs a go command and returns what it says.
func (v *verify) output(args ...string) (string, error) {
	cmd := v.command(context.Background(), args...)
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		return string(out), fmt.Errorf("go %s: %w\n%s%s", strings.Join(args, " "), err, out, stderr.Bytes())
	}
	return string(out), nil
}
