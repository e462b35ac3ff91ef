// Command measure prints how long lookgate takes beside how long the least that could do the same takes, in one process and in blocks that take turns, as
// ratios: the machine's own speed and mood fall out. It judges nothing unless it is asked to.
package main

import (
	"flag"
	"fmt"
	"io"
	"os"
	"runtime/debug"
	"time"
)

func main() { os.Exit(run(os.Args[1:], os.Stdout, os.Stderr)) }

// usualPace is how often a console sends while somebody moves a fader: about as often as it sends levels to its lights, which is at most 44 times a second (ANSI E1.11). A
// machine that is asked more often stays awake in between, and answers sooner: the relay, which does nothing else, gains more by that than lookgate.
const usualPace = 25 * time.Millisecond

// collectAt is how much garbage, as a per cent of what is in use, is let lie before it is collected.
const collectAt = 400

// run is the whole program: 0, or 1 where -check finds a goal unmet or something could not be measured.
func run(args []string, out, errs io.Writer) int {
	f := flag.NewFlagSet("measure", flag.ContinueOnError)
	f.SetOutput(errs)
	blocks := f.Int("blocks", 12, "blocks of each, at least 10 for figures that are published")
	each := f.Int("each", 150, "commands in a block")
	pace := f.Duration("pace", usualPace, "from one command to the next")
	check := f.Bool("check", false, "exit 1 where a goal is not met")
	if err := f.Parse(args); err != nil {
		return 64
	}
	debug.SetGCPercent(collectAt) // as lookgate itself does
	rows, err := latency(*blocks, *each, *pace)
	if err != nil {
		fmt.Fprintf(errs, "measure: %v\nis something else bound to loopback's ports, or the temporary folder full?\n", err)
		return 1
	}
	rows = append(rows, solving(*blocks)...)
	rows = append(rows, dropping(*blocks)...)
	second, err := secondOpinion(*blocks)
	if err != nil {
		fmt.Fprintf(errs, "measure: %v\nis ngspice installed? its row is left out\n", err)
	}
	rows = append(rows, second...)
	fmt.Fprint(out, table(rows))
	if *check && !allMet(rows) {
		return 1
	}
	return 0
}
