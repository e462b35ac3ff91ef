package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"maps"
	"os"
	"os/signal"
	"slices"
	"strings"
	"syscall"
	"time"

	"lookgate/presets/site"
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
	o, err := habitsOf(st, late, mute, *loss)
	if err != nil {
		fmt.Fprintf(s.err, "%v\n", err)
		return exitUsage
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

// habitsOf gives the options of a wall at the addresses of a site's devices. An option that names a device which is not there is an error: a wall that silently
// had no such habit would prove nothing.
func habitsOf(st *site.Site, late map[string]time.Duration, mute map[string]bool, loss float64) (sim.Options, error) {
	o := sim.Options{Late: late, Mute: mute, Seed: 1}
	names := edgesOf(st).devices
	for _, asked := range slices.Concat(slices.Sorted(maps.Keys(late)), slices.Sorted(maps.Keys(mute))) {
		if !slices.Contains(names, asked) {
			return o, fmt.Errorf("the site has no device %q\nit has: %s", asked, strings.Join(names, ", "))
		}
	}
	if o.Habits.Wire.Loss = units.Share(loss); !(loss >= 0 && loss <= 1) {
		return o, fmt.Errorf("-loss %v is no part of the packets\ngive a number from 0 to 1", loss)
	}
	for _, w := range st.Devices {
		o.Listen = append(o.Listen, w.Address)
	}
	return o, nil
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
