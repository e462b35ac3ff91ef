package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"os"
	"os/signal"
	"path/filepath"
	"strings"
	"sync"
	"syscall"

	"lookgate/daemon/files"
	"lookgate/presets/site"
	"lookgate/protocols/sim"
	demosite "lookgate/testdata/sites/demo"
)

func demoCommand() subcommand {
	return subcommand{"demo", "", "run the daemon over an invented stage with a simulated wall, in a temporary folder", demo}
}

// demo runs the demo plant: simulated processors behind real sockets, and the daemon over them.
func demo(args []string, s streams) int {
	f := options(demoCommand(), s)
	httpAt := f.String("http", "127.0.0.1:8080", "address and port for the panel; any free port where it is taken")
	oscAt := f.String("osc", "127.0.0.1:9000", "address and port for OSC; any free port where it is taken")
	keep := f.String("keep", "", "put the site and its record into this folder and leave them there")
	log := f.String("log", "", "file for the log of the simulated wall")
	if _, status, ok := parse(f, args, 0); !ok {
		return status
	}
	folder, gone, err := demoFolder(*keep)
	if err != nil {
		fmt.Fprintf(s.err, "%v\n", err)
		return exitBroken
	}
	defer gone()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	return runDemo(ctx, folder, demoAt{free("tcp", *httpAt, s), free("udp", *oscAt, s), *log}, s)
}

// demoAt says where the demo is to be found.
type demoAt struct{ http, osc, log string }

// demoFolder writes the demo site into a folder, a temporary one where none is named, which is removed at the end.
func demoFolder(keep string) (folder string, gone func(), err error) {
	gone = func() {}
	if folder = keep; folder == "" {
		if folder, err = os.MkdirTemp("", "lookgate-demo-"); err != nil {
			return "", gone, fmt.Errorf("no temporary folder: %w\nname one with -keep", err)
		}
		gone = func() { _ = os.RemoveAll(folder) }
	} else if err = os.MkdirAll(folder, 0o755); err != nil {
		return "", gone, fmt.Errorf("%w\nname a folder that can be made", err)
	}
	for _, name := range site.Files {
		text, err := fs.ReadFile(demosite.Files, name)
		if err == nil {
			err = files.Replace(filepath.Join(folder, name), text)
		}
		if err != nil {
			return "", gone, err
		}
	}
	return folder, gone, nil
}

// free gives an address that can be bound: the one that is asked for, or any port of the same host where that is taken.
func free(network, at string, s streams) string {
	var c io.Closer
	var err error
	if network == "udp" {
		c, err = net.ListenPacket(network, at)
	} else {
		c, err = net.Listen(network, at)
	}
	if err == nil {
		_ = c.Close()
		return at
	}
	host, _, cut := net.SplitHostPort(at)
	if cut != nil {
		return at // the daemon says what is wrong with it
	}
	fmt.Fprintf(s.err, "%s is taken; any free port is used\n", at)
	return net.JoinHostPort(host, "0")
}

// runDemo runs plant and daemon until the context ends.
func runDemo(ctx context.Context, folder string, at demoAt, s streams) int {
	st, status := usable(folder, s)
	if st == nil {
		return status
	}
	var out io.Writer
	if at.log != "" {
		file, err := os.Create(at.log)
		if err != nil {
			fmt.Fprintf(s.err, "%v\nname a file that can be written\n", err)
			return exitBroken
		}
		defer file.Close()
		out = file
	}
	wall := sim.New(st.Rig, sim.Options{Log: out})
	if err := wall.Open(); err != nil {
		fmt.Fprintf(s.err, "%v\n", err)
		return exitBroken
	}
	o := boothOptions{state: stateOf(folder), log: s.err, edges: edgesOf(st)}
	for i := range st.Devices {
		st.Devices[i].Address, st.Devices[i].ReplyPort = wall.Addr(i), 0
	}
	st.Listen.HTTP, st.Listen.OSC = at.http, at.osc
	inner, end := context.WithCancel(context.Background())
	var serving sync.WaitGroup
	var wallErr error
	serving.Go(func() { wallErr = wall.Serve(inner) })
	status = demoBooth(ctx, folder, st, o, s)
	end()
	serving.Wait()
	if wallErr != nil && !errors.Is(wallErr, net.ErrClosed) {
		fmt.Fprintf(s.err, "%v\n", wallErr)
		return exitRefused
	}
	return status
}

func demoBooth(ctx context.Context, folder string, st *site.Site, o boothOptions, s streams) int {
	b, err := newBooth(folder, st, o)
	if err != nil {
		fmt.Fprintf(s.err, "%v\n", err)
		return exitBroken
	}
	return b.serve(ctx, s, func() { b.greetDemo(s) })
}

// greetDemo says where everything is and what to try.
func (b *booth) greetDemo(s streams) {
	b.greet(s, false)
	host, port, _ := net.SplitHostPort(b.osc.Addr())
	try := func(about, address, arguments string) {
		line := strings.TrimSpace(fmt.Sprintf("oscsend %s %s %s %s", host, port, address, arguments))
		fmt.Fprintf(s.out, "  %-62s # %s\n", line, about)
	}
	fmt.Fprintf(s.out, "\nto try, with liblo's oscsend (Debian: liblo-tools); oscdump %d shows the answers:\n", b.replyPort())
	try("dawn comes up in four seconds", "/lookgate/recall", "i 1")
	try("noon, with the lid as bright as its board allows", "/lookgate/recall", "i 2")
	try("REFUSED: no board carries it; the answer says why and what would pass", "/lookgate/recall", "i 6")
	try("the same at a level that passes", "/lookgate/recall/6/level", "f 0.48")
	try("half of the look's level", "/lookgate/level", "f 0.5")
	try("the next one", "/lookgate/arm", "i 3")
	try("put it on", "/lookgate/go", "")
	try("everything dark, at once", "/lookgate/blackout", "")
	try("and back", "/lookgate/blackout", "F")
	fmt.Fprintln(s.out, "\nCtrl-C stops it.")
}

// replyPort gives the port at which the demo's console hears answers.
func (b *booth) replyPort() int {
	for _, st := range b.site.Stations {
		if st.ReplyPort != 0 {
			return st.ReplyPort
		}
	}
	return 0
}
