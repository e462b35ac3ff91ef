package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"
)

// perPackage is how long the tests of one package may take. The race detector
// makes them up to ten times slower than they are without it.
const perPackage = 12 * time.Minute

// quiet is how long the run may say nothing before it says what it waits for.
const quiet = 30 * time.Second

// test runs every test of the module under the race detector.
func (v *verify) test() (string, error) {
	args := []string{"test", "-json", "-count=1", "-timeout", perPackage.String()}
	race, err := v.race()
	if err != nil {
		return "", err
	}
	args = append(args, race...)
	if v.short {
		args = append(args, "-short")
	}
	err = v.stream(context.Background(), v.tally, append(args, "./...")...)
	note := v.tally.String()
	switch {
	case v.tally.failed > 0:
		return note, fmt.Errorf("%d tests failed", v.tally.failed)
	case err != nil:
		return note, err
	case v.tally.passed == 0:
		return note, errors.New("no test ran")
	}
	return note, nil
}

// proofs are the tests that play or try so many seeds that they need the speed they have without the race detector. Under it they play few or none.
const proofs = "^(TestTheEngineStandsTrial|TestTheEngineStandsTrialOnCredit|TestTheEngineKeepsTheTimeAboveContinuousLimits|TestEveryPlantedMistakeIsFound|" +
	"TestFlowAgreesWithTheJudge|TestWorstAgreesWithTheSlowWayThroughCables)$"

// proof plays them in full.
func (v *verify) proof() (string, error) {
	before := v.tally.passed
	err := v.stream(context.Background(), v.tally, "test", "-json", "-count=1", "-timeout", perPackage.String(), "-run", proofs, "./presets/trial", "./presets/power")
	if err == nil && v.tally.passed == before {
		return "", errors.New("no proof was played")
	}
	return fmt.Sprintf("%d more passed", v.tally.passed-before), err
}

// race returns the flag of the race detector, which the go command can link only
// where it found a C compiler. Only outside of CI may the tests do without.
func (v *verify) race() ([]string, error) {
	cgo, err := v.output("env", "CGO_ENABLED")
	if err != nil {
		return nil, err
	}
	if strings.TrimSpace(cgo) == "1" {
		return []string{"-race"}, nil
	}
	if v.ci {
		return nil, errors.New("no cgo, so no race detector, and CI is set")
	}
	fmt.Fprintln(v.out, "   no C compiler: without the race detector")
	return nil, nil
}

// stream runs a go test -json command and feeds what it says to a tally as it
// comes. The error tells that the command failed, which the tally need not know
// when nothing could be started.
func (v *verify) stream(ctx context.Context, t *tally, args ...string) error {
	cmd := v.command(ctx, args...)
	r, w := io.Pipe()
	cmd.Stdout, cmd.Stderr = w, w
	if err := cmd.Start(); err != nil {
		return err
	}
	exited := make(chan error, 1)
	go func() {
		err := cmd.Wait()
		w.Close()
		exited <- err
	}()
	t.follow(lines(r), time.NewTicker(quiet))
	if err := <-exited; err != nil {
		return fmt.Errorf("go test: %w", err)
	}
	return nil
}

// lines sends a reader's lines, however long, and closes the channel at its end.
func lines(r io.Reader) <-chan []byte {
	out := make(chan []byte)
	go func() {
		defer close(out)
		b := bufio.NewReader(r)
		for {
			line, err := b.ReadBytes('\n')
			if len(line) > 0 {
				out <- line
			}
			if err != nil {
				return
			}
		}
	}()
	return out
}
