package main

import (
	"bytes"
	"errors"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// machine is a host of a test: commands that are there, and what an install
// brings.
type machine struct {
	commands []string
	fonts    bool
	files    []string
	ran      []string
	stdin    []string
	fails    string   // a command line that contains this fails
	brings   []string // commands that come with an install
}

func (m *machine) host(root bool) host {
	return host{
		has:    func(c string) bool { return slices.Contains(m.commands, c) },
		exists: func(p string) bool { return slices.Contains(m.files, p) },
		fonts:  func() bool { return m.fonts },
		root:   root,
		run: func(stdin string, command ...string) error {
			line := strings.Join(command, " ")
			m.ran = append(m.ran, line)
			m.stdin = append(m.stdin, stdin)
			if m.fails != "" && strings.Contains(line, m.fails) {
				return errors.New("refused")
			}
			if strings.Contains(line, "apt-get install") {
				m.commands = append(m.commands, m.brings...)
			}
			return nil
		},
	}
}

// bare has all but chromium and tshark.
func bare(more ...string) *machine {
	return &machine{commands: append([]string{"gcc", "oscsend", "oscdump", "ngspice", "jsonschema"}, more...), fonts: true,
		files: []string{"/usr/include/stdlib.h"}, brings: []string{"chromium", "tshark", "text2pcap"}}
}

func TestProvideNothingMissing(t *testing.T) {
	m := bare("chromium-browser", "tshark", "text2pcap", "apt-get")
	note, err := provide(m.host(true), &bytes.Buffer{}, true)
	require.NoError(t, err)
	require.Equal(t, "all here", note)
	require.Empty(t, m.ran, "a machine that has everything is left alone")
}

func TestProvideInstallsWhatIsMissingAndNoMore(t *testing.T) {
	m := bare("apt-get", "debconf-set-selections")
	var out bytes.Buffer
	note, err := provide(m.host(true), &out, true)
	require.NoError(t, err)
	require.Equal(t, "installed", note)
	require.Equal(t, []string{
		"env DEBIAN_FRONTEND=noninteractive debconf-set-selections",
		"env DEBIAN_FRONTEND=noninteractive apt-get update -q -y -o DPkg::Lock::Timeout=300",
		"env DEBIAN_FRONTEND=noninteractive apt-get install --no-install-recommends -q -y -o DPkg::Lock::Timeout=300 chromium tshark",
	}, m.ran)
	require.Equal(t, "wireshark-common wireshark-common/install-setuid boolean false\n", m.stdin[0])
	require.Equal(t, 3, strings.Count(out.String(), "\n"), "one line for each thing done:\n%s", &out)
}

func TestProvideUsesSudoWhereItNeedsNoPassword(t *testing.T) {
	m := bare("apt-get", "sudo")
	_, err := provide(m.host(false), &bytes.Buffer{}, true)
	require.NoError(t, err)
	require.Equal(t, "sudo -n true", m.ran[0])
	for _, line := range m.ran {
		require.True(t, strings.HasPrefix(line, "sudo -n "), line)
	}
}

func TestProvideWithoutTheMeans(t *testing.T) {
	for _, row := range []struct {
		name    string
		machine *machine
		root    bool
		says    string
	}{
		{"no apt", bare(), true, "no apt-get here"},
		{"no rights", bare("apt-get"), false, "no right to install"},
		{"sudo that asks for a password", &machine{commands: []string{"apt-get", "sudo"}, fails: "sudo -n true"}, false, "no right to install"},
		{"no network", &machine{commands: []string{"apt-get"}, fails: "apt-get update"}, true, "refused"},
		{"an install that brings nothing", &machine{commands: []string{"apt-get"}}, true, "missing: chromium (chromium in Debian)"},
	} {
		t.Run(row.name, func(t *testing.T) {
			var out bytes.Buffer
			note, err := provide(row.machine.host(row.root), &out, false)
			require.NoError(t, err, "outside of CI the tests that need it skip")
			require.Contains(t, note, "chromium")
			require.Contains(t, note, "tshark")
			require.Contains(t, out.String(), row.says)

			_, err = provide(row.machine.host(row.root), &out, true)
			require.ErrorContains(t, err, "chromium", "in CI a missing tool is a failure")
		})
	}
}
