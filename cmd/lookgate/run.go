package main

import (
	"context"
	"fmt"
	"os"
	"os/signal"
	"sync"
	"syscall"

	"lookgate/presets/engine"
	"lookgate/presets/site"
)

func runCommand() subcommand {
	return subcommand{"run", "SITE", "run the daemon on a site; SIGHUP reads an edited site, SIGTERM stops", func(args []string, s streams) int {
		return runSite(runCommand(), args, s, false)
	}}
}

func watchCommand() subcommand {
	return subcommand{"watch", "SITE", "the same, and send nothing and refuse nothing: for the first week beside the old way", func(args []string, s streams) int {
		return runSite(watchCommand(), args, s, true)
	}}
}

// runSite runs the daemon on a site folder until a signal ends it.
func runSite(c subcommand, args []string, s streams, watch bool) int {
	f := options(c, s)
	oscAt := f.String("osc", "", "address and port for OSC, in place of the site's")
	httpAt := f.String("http", "", "address and port for the panel, in place of the site's")
	plain, status, ok := parse(f, args, 1)
	if !ok {
		return status
	}
	st, status := usable(plain[0], s)
	if st == nil {
		return status
	}
	o := boothOptions{watch: watch, state: stateOf(plain[0]), log: s.err, edges: edgesOf(st)}
	if *oscAt != "" {
		st.Listen.OSC = *oscAt
	}
	if *httpAt != "" {
		st.Listen.HTTP = *httpAt
	}
	b, err := newBooth(plain[0], st, o)
	if err != nil {
		fmt.Fprintf(s.err, "%v\n", err)
		return exitBroken
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	return b.serve(ctx, s, func() { b.greet(s, watch) })
}

// usable reads a site, and tells everything that stands against using it.
func usable(folder string, s streams) (*site.Site, int) {
	st, problems, err := readSite(folder)
	if err != nil {
		fmt.Fprintf(s.err, "%v\n", err)
		return nil, exitBroken
	}
	for _, p := range problems {
		fmt.Fprintln(s.err, p)
	}
	if st == nil {
		return nil, exitBroken
	}
	return st, exitOK
}

// serve starts the daemon, says so, and runs it until the context ends or a surface fails.
func (b *booth) serve(ctx context.Context, s streams, ready func()) int {
	if err := b.daemon.Start(); err != nil {
		fmt.Fprintf(s.err, "%v\n", err)
		return exitBroken
	}
	var aside sync.WaitGroup
	inner, end := context.WithCancel(ctx)
	aside.Go(func() { b.follow(inner) })
	aside.Go(func() { b.hangups(inner, s) })
	ready()
	status := exitOK
	select {
	case <-ctx.Done():
	case err := <-b.daemon.Failed():
		fmt.Fprintf(s.err, "%v\n", err)
		status = exitRefused
	}
	end()
	aside.Wait()
	if err := b.daemon.Stop(); err != nil {
		fmt.Fprintf(s.err, "%v\n", err)
		status = exitRefused
	}
	return status
}

// hangups turns SIGHUP into the command reload.
func (b *booth) hangups(ctx context.Context, s streams) {
	signals := make(chan os.Signal, 1)
	signal.Notify(signals, syscall.SIGHUP)
	defer signal.Stop(signals)
	for {
		select {
		case <-ctx.Done():
			return
		case <-signals:
			b.daemon.Reload("signal", true, func(a *engine.Answer, _ *engine.Outcome) {
				if a == nil {
					return
				}
				fmt.Fprintf(s.err, "reload: %s\n", a.Status)
				for _, f := range a.Findings {
					fmt.Fprintf(s.err, "  %s %s\n", f.Place, f.Sentence)
				}
			})
		}
	}
}

// greet says where the daemon is to be found.
func (b *booth) greet(s streams, watch bool) {
	fmt.Fprintf(s.out, "%s\n", b.site.Rig.Name)
	if watch {
		fmt.Fprintln(s.out, "watching: nothing is sent and nothing is refused")
	}
	if b.http != nil {
		fmt.Fprintf(s.out, "panel    http://%s/\n", b.http.Addr())
	}
	if b.osc != nil {
		fmt.Fprintf(s.out, "OSC      %s, UDP\n", b.osc.Addr())
	}
	for _, c := range cautions {
		fmt.Fprint(s.out, "\n"+wrapped(c, "", ""))
	}
}
