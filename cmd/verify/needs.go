package main

import (
	"context"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"time"
)

// need is something outside of Go that tests use.
type need struct {
	// name is what a person calls it.
	name string
	// why says what is not tested without it.
	why string
	// packages are the names of it in Debian.
	packages []string
	// here says whether the machine has it.
	here func(host) bool
}

var needs = []need{
	{"a C compiler", "the race detector is linked by it", []string{"gcc", "libc6-dev"},
		func(h host) bool { return h.has("gcc") && h.exists("/usr/include/stdlib.h") }},
	{"chromium", "the panel is driven in a real browser", []string{"chromium"},
		func(h host) bool {
			return slices.ContainsFunc([]string{"chromium", "chromium-browser", "google-chrome", "headless-shell"}, h.has)
		}},
	{"fonts", "a browser without fonts draws no words", []string{"fonts-dejavu-core"},
		func(h host) bool { return h.fonts() }},
	{"oscsend and oscdump", "OSC is spoken with a program that is not ours", []string{"liblo-tools"},
		func(h host) bool { return h.has("oscsend") && h.has("oscdump") }},
	{"tshark", "packets are read by a program that is not ours", []string{"tshark"},
		func(h host) bool { return h.has("tshark") && h.has("text2pcap") }},
	{"ngspice", "networks of cables and loads are solved by a program that is not ours", []string{"ngspice"},
		func(h host) bool { return h.has("ngspice") }},
	{"python3-jsonschema", "the schemas of a site's files are judged by a validator that is not ours", []string{"python3", "python3-jsonschema"},
		func(h host) bool {
			return h.has("jsonschema") || h.exists("/usr/lib/python3/dist-packages/jsonschema/__init__.py")
		}},
}

// host is what provide sees of a machine, and how it changes it.
type host struct {
	has    func(command string) bool
	exists func(path string) bool
	fonts  func() bool
	// run runs a command with text on its standard input.
	run func(stdin string, command ...string) error
	// root says whether commands run as the superuser already.
	root bool
}

// provide installs what is missing, where it may, and says in one line each what
// it does. What is still missing afterwards is an error only if strict.
func provide(h host, out io.Writer, strict bool) (string, error) {
	missing := missingFrom(h)
	if len(missing) == 0 {
		return "all here", nil
	}
	if err := install(h, out, missing); err != nil {
		fmt.Fprintf(out, "   %v\n", err)
	}
	missing = missingFrom(h)
	if len(missing) == 0 {
		return "installed", nil
	}
	var names []string
	for _, n := range missing {
		names = append(names, n.name)
		fmt.Fprintf(out, "   missing: %s (%s in Debian): %s\n", n.name, strings.Join(n.packages, " "), n.why)
	}
	note := "missing " + strings.Join(names, ", ")
	if strict {
		return note, fmt.Errorf("%s, and CI is set: no test may pass by being skipped", note)
	}
	return note + ": their tests skip", nil
}

func missingFrom(h host) []need {
	return slices.DeleteFunc(slices.Clone(needs), func(n need) bool { return n.here(h) })
}

// install brings in Debian's packages. It asks nothing: the one question that
// tshark's package would ask is answered before.
func install(h host, out io.Writer, missing []need) error {
	if !h.has("apt-get") {
		return fmt.Errorf("no apt-get here: install what is missing by hand")
	}
	var before []string
	if !h.root {
		if !h.has("sudo") || h.run("", "sudo", "-n", "true") != nil {
			return fmt.Errorf("no right to install here: run as root, or install what is missing by hand")
		}
		before = []string{"sudo", "-n"}
	}
	before = append(before, "env", "DEBIAN_FRONTEND=noninteractive")
	do := func(stdin string, command ...string) error {
		fmt.Fprintf(out, "   %s\n", strings.Join(command, " "))
		return h.run(stdin, append(slices.Clone(before), command...)...)
	}

	var packages []string
	for _, n := range missing {
		packages = append(packages, n.packages...)
	}
	if slices.Contains(packages, "tshark") && h.has("debconf-set-selections") {
		answer := "wireshark-common wireshark-common/install-setuid boolean false\n"
		if err := do(answer, "debconf-set-selections"); err != nil {
			return err
		}
	}
	wait := []string{"-q", "-y", "-o", "DPkg::Lock::Timeout=300"}
	if err := do("", append([]string{"apt-get", "update"}, wait...)...); err != nil {
		return err
	}
	args := append([]string{"apt-get", "install", "--no-install-recommends"}, wait...)
	return do("", append(args, packages...)...)
}

// thisHost is the machine that verify runs on.
func thisHost() host {
	return host{
		has:    func(command string) bool { _, err := exec.LookPath(command); return err == nil },
		exists: func(path string) bool { _, err := os.Stat(path); return err == nil },
		fonts:  hasFonts,
		run:    runQuietly,
		root:   os.Geteuid() == 0,
	}
}

// runQuietly runs a command, and shows what it said only if it failed.
func runQuietly(stdin string, command ...string) error {
	ctx, cancel := context.WithTimeout(context.Background(), 15*time.Minute)
	defer cancel()
	cmd := exec.CommandContext(ctx, command[0], command[1:]...)
	cmd.Stdin = strings.NewReader(stdin)
	cmd.WaitDelay = 10 * time.Second
	if out, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("%s: %w\n%s", strings.Join(command, " "), err, out)
	}
	return nil
}

// hasFonts says whether a scalable font lies where a Unix desktop keeps them.
// Other systems always have some.
func hasFonts() bool {
	if runtime.GOOS == "darwin" || runtime.GOOS == "windows" {
		return true
	}
	home, _ := os.UserHomeDir()
	for _, dir := range []string{"/usr/share/fonts", "/usr/local/share/fonts", filepath.Join(home, ".fonts")} {
		found := false
		_ = filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
			if err == nil && slices.Contains([]string{".ttf", ".otf", ".ttc"}, strings.ToLower(filepath.Ext(path))) {
				found = true
				return fs.SkipAll
			}
			return nil
		})
		if found {
			return true
		}
	}
	return false
}
