package main

import (
	"encoding/json"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"
	"time"

	"lookgate/cmd/verify/house"
)

// event is one line of go test -json (go doc cmd/test2json, and go help
// buildjson for those of a build).
type event struct {
	Action      string
	Package     string
	ImportPath  string // of a build's event
	Test        string
	Output      string
	Elapsed     float64 // seconds
	FailedBuild string
}

// tally counts tests, prints a line for each package that ends and everything
// that a failing test said.
type tally struct {
	out     io.Writer
	passed  int
	failed  int
	skipped int
	open    map[string]*running // packages that have begun and not ended
	seeds   map[string]int      // inputs played for each fuzz target, by package and name
	slowest string
	slow    time.Duration
}

// running is a package whose tests are running.
type running struct {
	said   map[string][]string // what each unfinished test said; "" for the package
	passed int
	failed int
}

func newTally(out io.Writer) *tally {
	return &tally{out: out, open: map[string]*running{}, seeds: map[string]int{}}
}

// String says in a few words what was counted.
func (t *tally) String() string {
	s := fmt.Sprintf("%d passed, %d failed, %d skipped", t.passed, t.failed, t.skipped)
	if t.slowest != "" {
		s += fmt.Sprintf("; slowest %s %.0fs", t.slowest, t.slow.Seconds())
	}
	return s
}

// follow takes lines until there are no more, and says what it waits for when
// nothing was printed between two ticks.
func (t *tally) follow(lines <-chan []byte, tick *time.Ticker) {
	defer tick.Stop()
	for {
		select {
		case line, more := <-lines:
			if !more {
				return
			}
			if t.line(line) {
				tick.Reset(quiet)
			}
		case <-tick.C:
			t.waiting()
		}
	}
}

// line takes one line and reports whether it printed something. What is not an
// event, such as a word from the go command itself, is shown as it is.
func (t *tally) line(line []byte) bool {
	var e event
	if err := json.Unmarshal(line, &e); err != nil || e.Action == "" {
		fmt.Fprintf(t.out, "   %s\n", strings.TrimRight(string(line), "\n"))
		return true
	}
	switch e.Action {
	case "build-output":
		fmt.Fprintf(t.out, "   %s", e.Output)
		return true
	case "build-fail", "start":
		return false
	case "output":
		p := t.of(e.Package)
		p.said[e.Test] = append(p.said[e.Test], e.Output)
		return false
	case "run":
		t.of(e.Package).said[e.Test] = nil
		return false
	case "pass", "fail", "skip":
		if e.Test == "" {
			t.packageEnd(e)
			return true
		}
		return t.testEnd(e)
	}
	return false
}

func (t *tally) of(pkg string) *running {
	p := t.open[pkg]
	if p == nil {
		p = &running{said: map[string][]string{}}
		t.open[pkg] = p
	}
	return p
}

var seedName = regexp.MustCompile(`^(Fuzz[^/]*)/`)

// testEnd counts one test and shows what it said if it failed or was skipped.
func (t *tally) testEnd(e event) bool {
	p := t.of(e.Package)
	said := p.said[e.Test]
	delete(p.said, e.Test)
	if m := seedName.FindStringSubmatch(e.Test); m != nil && e.Action != "skip" {
		t.seeds[e.Package+"."+m[1]]++
	}
	switch e.Action {
	case "pass":
		t.passed++
		p.passed++
		return false
	case "skip":
		t.skipped++
		fmt.Fprintf(t.out, "skip  %s %s: %s\n", short(e.Package), e.Test, reason(said))
		return true
	}
	t.failed++
	p.failed++
	t.show(e.Package, e.Test, said)
	return true
}

// packageEnd prints the package's line. A package that failed without a failed
// test did not build, crashed, or ran out of time: that is one failure.
func (t *tally) packageEnd(e event) {
	p := t.of(e.Package)
	delete(t.open, e.Package)
	took := time.Duration(e.Elapsed * float64(time.Second))
	if took > t.slow {
		t.slow, t.slowest = took, short(e.Package)
	}
	switch {
	case e.Action == "skip":
		fmt.Fprintf(t.out, "-     %-28s no tests\n", short(e.Package))
		return
	case e.Action == "pass":
		fmt.Fprintf(t.out, "ok    %-28s %5d tests %7.1fs\n", short(e.Package), p.passed, took.Seconds())
		return
	case p.failed == 0:
		t.failed++
		for _, name := range p.unfinished() {
			t.show(e.Package, name, p.said[name])
		}
		t.show(e.Package, "", p.said[""])
	}
	fmt.Fprintf(t.out, "FAIL  %-28s %5d tests %7.1fs\n", short(e.Package), p.passed+p.failed, took.Seconds())
}

// show prints everything that a failing test said.
func (t *tally) show(pkg, test string, said []string) {
	fmt.Fprintf(t.out, "FAIL  %s %s\n", short(pkg), test)
	for _, s := range said {
		fmt.Fprintf(t.out, "      %s\n", strings.TrimRight(s, "\n"))
	}
}

// waiting says which tests are running.
func (t *tally) waiting() {
	var names []string
	for pkg, p := range t.open {
		for _, test := range p.unfinished() {
			names = append(names, strings.TrimSpace(short(pkg)+" "+test))
		}
	}
	slices.Sort(names)
	if len(names) == 0 {
		names = []string{"the build"}
	}
	more := ""
	if len(names) > 4 {
		more = fmt.Sprintf(" and %d more", len(names)-4)
		names = names[:4]
	}
	fmt.Fprintf(t.out, "...   %s%s\n", strings.Join(names, ", "), more)
}

// unfinished returns the tests that have begun and not ended, in order of name.
func (p *running) unfinished() []string {
	var names []string
	for name := range p.said {
		if name != "" {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	return names
}

// reason is what a skipped test gave as its reason.
func reason(said []string) string {
	for _, s := range slices.Backward(said) {
		s = strings.TrimSpace(s)
		if s != "" && !strings.HasPrefix(s, "---") && !strings.HasPrefix(s, "===") {
			return s
		}
	}
	return "no reason given"
}

// short takes the module's name off a package's.
func short(pkg string) string {
	return strings.TrimPrefix(pkg, house.Module+"/")
}
