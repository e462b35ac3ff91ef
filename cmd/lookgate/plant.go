package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"
	"time"

	"lookgate/presets/units"
	"lookgate/protocols/sim"
)

func plantCommand() subcommand {
	return subcommand{"plant", "SITE", "run only a simulated wall at the addresses of the site's devices, to try a site before its wall stands", runPlant}
}

// runPlant runs a simulated wall in a process of its own, so that a daemon can be killed beside it and judged by its log.
func runPlant(args []string, s streams) int {
	f := options(plantCommand(), s)
	log := f.String("log", "", "file for its log, one JSON line for everything that happens")
	late := times(f, "late", "DEVICE=TIME: the device's reports leave so much later")
	mute := names(f, "mute", "DEVICE: the device never reports")
	loss := f.Float64("loss", 0, "part of the packets that are lost, both ways")
	plain, status, ok := parse(f, args, 1)
	if !ok {
		return status
	}
	st, status := usable(plain[0], s)
	if st == nil {
		return status
	}
	o := sim.Options{Late: late, Mute: mute, Seed: 1}
	o.Habits.Wire.Loss = units.Share(*loss)
	for _, w := range st.Devices {
		o.Listen = append(o.Listen, w.Address)
	}
	if *log != "" {
		file, err := os.OpenFile(*log, os.O_CREATE|os.O_WRONLY|os.O_APPEND, 0o644)
		if err != nil {
			fmt.Fprintf(s.err, "%v\nname a file that can be written\n", err)
			return exitBroken
		}
		defer file.Close()
		o.Log = io.Writer(file)
	}
	wall := sim.New(st.Rig, o)
	if err := wall.Open(); err != nil {
		fmt.Fprintf(s.err, "%v\n", err)
		return exitBroken
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	for i, d := range st.Rig.Devices {
		fmt.Fprintf(s.out, "%s %s\n", d.Name, wall.Addr(i))
	}
	fmt.Fprintln(s.out, "ready")
	if err := wall.Serve(ctx); err != nil {
		fmt.Fprintf(s.err, "%v\n", err)
		return exitRefused
	}
	return exitOK
}

// times makes a flag that may be given for several names.
func times(f *flag.FlagSet, name, about string) map[string]time.Duration {
	all := map[string]time.Duration{}
	f.Func(name, about, func(text string) error {
		device, length, _ := strings.Cut(text, "=")
		d, err := time.ParseDuration(length)
		all[device] = d
		return err
	})
	return all
}

func names(f *flag.FlagSet, name, about string) map[string]bool {
	all := map[string]bool{}
	f.Func(name, about, func(text string) error {
		all[text] = true
		return nil
	})
	return all
}
