// Command lookgate stands between the control stations of a film studio and its LED wall: it knows the plant as built, holds presets, computes what each would
// draw, refuses what the circuits cannot carry, and switches so that no moment in between overruns either. It advises and protects nothing: breakers do.
package main

import (
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
)

// The exit statuses that all subcommands share; 64 is EX_USAGE of BSD's sysexits.
const (
	exitOK      = 0
	exitRefused = 1 // something was refused or went wrong that the subcommand exists to find out
	exitBroken  = 2 // the site cannot be used as it is
	exitUsage   = 64
)

// streams are a run's standard streams. Nothing below main touches the process's own.
type streams struct {
	in       io.Reader
	out, err io.Writer
}

// subcommand is one row of the table.
type subcommand struct {
	name, arguments, about string
	run                    func(args []string, s streams) int
}

// subcommands lists what the program can do, in the order in which help tells it. Each lives in the file of its name.
func subcommands() []subcommand {
	return []subcommand{
		demoCommand(),
		checkCommand(),
		planCommand(),
		orderCommand(),
		papersCommand(),
		alignmentCommand(),
		schemaCommand(),
		runCommand(),
		watchCommand(),
		playCommand(),
		plantCommand(),
		replayCommand(),
		versionCommand(),
	}
}

func main() { os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) }

// run is the whole program as a function: it gives the exit status.
func run(args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	s := streams{stdin, stdout, stderr}
	if len(args) == 0 {
		help(stderr)
		return exitUsage
	}
	for _, c := range subcommands() {
		if c.name == args[0] {
			return c.run(args[1:], s)
		}
	}
	switch args[0] {
	case "help", "-h", "-help", "--help":
		help(stdout)
		return exitOK
	}
	fmt.Fprintf(stderr, "there is no subcommand %q\nrun: lookgate help\n", args[0])
	return exitUsage
}

func help(w io.Writer) {
	fmt.Fprint(w, "lookgate: presets for an LED wall, held to what its circuits can carry\n\n")
	for _, c := range subcommands() {
		fmt.Fprintf(w, "  lookgate %-30s %s\n", c.name+" "+c.arguments, c.about)
	}
	fmt.Fprint(w, "\nrun lookgate SUBCOMMAND -h for its options\n\n")
	fmt.Fprint(w, wrapped(cautions[0], "", ""))
}

// options makes the flag set of a subcommand. Its usage goes to where the run's errors go.
func options(c subcommand, s streams) *flag.FlagSet {
	f := flag.NewFlagSet("lookgate "+c.name, flag.ContinueOnError)
	f.SetOutput(s.err)
	f.Usage = func() {
		fmt.Fprintf(f.Output(), "lookgate %s %s\n  %s\n", c.name, c.arguments, c.about)
		f.PrintDefaults()
	}
	return f
}

// parse reads flags wherever they stand among the arguments and gives the others, which must be as many as wanted. Where it fails it has said so, and
// gives the exit status.
func parse(f *flag.FlagSet, args []string, wanted int) (plain []string, status int, ok bool) {
	for {
		if err := f.Parse(args); errors.Is(err, flag.ErrHelp) {
			return nil, exitOK, false
		} else if err != nil {
			return nil, exitUsage, false
		}
		if f.NArg() == 0 {
			break
		}
		plain, args = append(plain, f.Arg(0)), f.Args()[1:]
	}
	if len(plain) != wanted {
		fmt.Fprintf(f.Output(), "it takes %s besides its options, and got %d\n", count(wanted, "argument"), len(plain))
		f.Usage()
		return nil, exitUsage, false
	}
	return plain, exitOK, true
}
