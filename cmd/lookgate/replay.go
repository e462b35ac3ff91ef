package main

import (
	"errors"
	"fmt"
	"os"

	"lookgate/daemon"
	"lookgate/daemon/record"
)

func replayCommand() subcommand {
	return subcommand{"replay", "SITE", "feed the journal of a stopped daemon to a fresh engine: the same decisions must come out", replay}
}

// replay plays the newest incarnation of a site again, and checks the chain of its record. The daemon must not be running: it holds the record for itself.
func replay(args []string, s streams) int {
	f := options(replayCommand(), s)
	epoch := f.Uint64("epoch", 0, "which incarnation; 0 for the newest")
	plain, status, ok := parse(f, args, 1)
	if !ok {
		return status
	}
	if info, err := os.Stat(stateOf(plain[0])); err != nil || !info.IsDir() { // opening a record makes one where there is none
		fmt.Fprintf(s.err, "%s holds no record\nname a site folder in which lookgate has run\n", plain[0])
		return exitBroken
	}
	store, err := record.Open(stateOf(plain[0]), record.Options{})
	if err != nil {
		fmt.Fprintf(s.err, "%v\n", err)
		return exitBroken
	}
	defer store.Close()
	if err := store.VerifyChain(); err != nil {
		fmt.Fprintf(s.err, "%v\n", err)
		return exitRefused
	}
	r, err := daemon.Replay(store, *epoch)
	if errors.Is(err, daemon.ErrNoBeginning) {
		err = fmt.Errorf("%w\nthe journal is pruned from its old end: name a newer one with -epoch", err)
	}
	if err != nil {
		fmt.Fprintf(s.err, "%v\n", err)
		return exitRefused
	}
	return toldReplay(r, s)
}

// toldReplay says what came of a replay.
func toldReplay(r daemon.Replayed, s streams) int {
	fmt.Fprintf(s.out, "incarnation %d: %s replayed, digest %s\n", r.Epoch, count(int(r.Inputs), "input"), r.Digest)
	switch {
	case r.Differs != 0:
		fmt.Fprintf(s.err, "after row %d of the journal the engine does otherwise than it did\nthis build decides differently, or the journal was changed\n", r.Differs)
		return exitRefused
	case r.Missing != 0:
		fmt.Fprintf(s.err, "row %d of the journal is missing; up to there the decisions are the same\nthe record tells of a gap where the disk failed\n", r.Missing)
		return exitRefused
	}
	fmt.Fprintln(s.out, "the same decisions, and the record's chain is whole")
	return exitOK
}
