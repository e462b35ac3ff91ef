package main

import (
	"fmt"
	"math/rand/v2"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/daemon/record"
	"lookgate/protocols/osc"
)

// killSite is a stage whose main carries either half bright but not both, so that every switch has to lower before it raises. Its devices are quick, so that a
// kill can hit every phase of a switch.
const killRig = `name: Kill stage
hold: 10 s
supply: {name: service, system: split-phase, line_neutral_v: 118, line_line_v: 236, main_a: 100, neutral_a: 100}
boards: [{name: P, numbering: odd-even, poles: 12, main_a: 8, neutral_a: 8}]
panel_types:
  - {name: s25, size_mm: 500 x 500, pixels: 192 x 192, peak_nits: 1200, black_w: 20, white_w: 170, pf: 0.96, displacement_deg: 10, third_harmonic: 6%, feed_through_a: 20}
walls: [{name: back, columns: 4, rows: 3, panel: s25}]
circuits:
  - {name: K1, board: P, poles: [1, 3], breaker_a: 20, home_run_a: 20, jumper_a: 20, panels: [back C1R1..C2R3]}
  - {name: K2, board: P, poles: [2, 4], breaker_a: 20, home_run_a: 20, jumper_a: 20, panels: [back C3R1..C4R3]}
sources: [{name: plate, pixels: 1920 x 1080, rate: 30000/1001}]
modes: [{name: video, wall_rate: 60000/1001, bit_depth: 8}]
processors:
  - {name: west, inputs: [plate], port: 1 Gb/s, usable: 95%}
  - {name: east, inputs: [plate], port: 1 Gb/s, usable: 95%}
data_runs:
  - {wall: back, columns: 1-2, processor: west, columns_each: 2}
  - {wall: back, columns: 3-4, processor: east, columns_each: 2}
outputs: [{name: left, wall: back, columns: 1-2}, {name: right, wall: back, columns: 3-4}]
zones: [{name: left, outputs: [left]}, {name: right, outputs: [right]}]
`

const killBook = `presets:
  - {number: 1, name: left, mode: video, zones: {left: 90%, right: 20%}, fade_up: 150 ms, fade_down: 150 ms}
  - {number: 2, name: right, mode: video, zones: {left: 20%, right: 90%}, fade_up: 150 ms, fade_down: 150 ms}
`

const killDevice = "  - {name: %s, class: %s, steps: 255, restart: 5%%, packet_life: 20 ms, settling: 10 ms, retry: 40 ms, protocol: sim, address: %s}\n"

// killed is a plant and the daemon that is killed over it.
type killed struct {
	t       *testing.T
	folder  string
	log     string
	osc     string
	http    string
	resends bool
	rough   bool // the wall has habits that keep its devices from telling soon
	daemon  *process
	client  net.Conn
	rng     *rand.Rand
}

// freePort gives a port that was free a moment ago.
func freePort(t *testing.T, network string) string {
	t.Helper()
	if network == "udp" {
		c, err := net.ListenPacket("udp", "127.0.0.1:0")
		require.NoError(t, err)
		defer c.Close()
		return c.LocalAddr().String()
	}
	c, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer c.Close()
	return c.Addr().String()
}

func newKilled(t *testing.T, seed uint64, resends bool, wall ...string) *killed {
	t.Helper()
	k := &killed{t: t, folder: t.TempDir(), osc: freePort(t, "udp"), http: freePort(t, "tcp"), resends: resends, rough: len(wall) > 0, rng: rand.New(rand.NewPCG(seed, 11))}
	k.log = filepath.Join(k.folder, "plant.log")
	devices := "devices:\n" + fmt.Sprintf(killDevice, "west", "numbered", freePort(t, "udp")) + fmt.Sprintf(killDevice, "east", "reporting", freePort(t, "udp"))
	stations := fmt.Sprintf("listen:\n  osc: %s\n  http: %s\nstations:\n  - {name: desk, engineer: true}\n", k.osc, k.http)
	for name, text := range map[string]string{"rig.yaml": killRig, "presets.yaml": killBook, "devices.yaml": devices, "stations.yaml": stations} {
		require.NoError(t, os.WriteFile(filepath.Join(k.folder, name), []byte(text), 0o644))
	}
	plant := start(t, nil, append([]string{"plant", k.folder, "-log", k.log}, wall...)...)
	eventually(t, "the wall stands", func() bool { return strings.Contains(plant.said(), "ready") })
	var err error
	k.client, err = net.Dial("udp", k.osc)
	require.NoError(t, err)
	t.Cleanup(func() { _ = k.client.Close() })
	k.rise()
	return k
}

// rise starts the daemon and waits until it answers and its devices have told.
func (k *killed) rise() {
	k.t.Helper()
	var env []string
	if k.resends {
		env = []string{"LOOKGATE_RESEND=1"}
	}
	k.daemon = start(k.t, env, "run", k.folder)
	run := &demoRun{panel: k.http}
	eventually(k.t, "the daemon answers", func() bool {
		resp, err := http.Get("http://" + k.http + "/healthz")
		if err != nil {
			return false
		}
		_ = resp.Body.Close()
		if k.rough {
			return true
		}
		v := run.view(k.t)
		return v.Outputs[0].State != "unknown" && v.Outputs[1].State != "unknown"
	})
}

func (k *killed) say(address string, arguments ...any) {
	k.t.Helper()
	packet, err := osc.Encode(address, arguments...)
	require.NoError(k.t, err)
	_, err = k.client.Write(packet)
	require.NoError(k.t, err)
}

// pass lets a time pass, drawn between two.
func (k *killed) pass(from, to time.Duration) {
	timer := time.NewTimer(from + time.Duration(k.rng.Int64N(int64(to-from))))
	defer timer.Stop()
	select {
	case <-timer.C:
	case <-k.t.Context().Done():
	}
}

// phases are the instants of a switch at which the daemon is killed.
var phases = []struct {
	name     string
	from, to time.Duration // after the command
	blackout bool          // and a blackout then, and the kill 0 to 3 ms after it
}{
	{"before the commit", 0, time.Millisecond, false},
	{"commit to send", time.Millisecond, 8 * time.Millisecond, false},
	{"fading down", 20 * time.Millisecond, 170 * time.Millisecond, false},
	{"fading up", 200 * time.Millisecond, 420 * time.Millisecond, false},
	{"blackout sent and not recorded", 40 * time.Millisecond, 300 * time.Millisecond, true},
}

// round switches, kills in a phase, starts again, and says what the plant's log has against it; empty for nothing.
func (k *killed) round(i int) string {
	phase := phases[i%len(phases)]
	k.say("/lookgate/recall", int32(1+i/len(phases)%2))
	k.pass(phase.from, phase.to)
	if phase.blackout {
		k.say("/lookgate/blackout")
		k.pass(0, 3*time.Millisecond)
	}
	k.daemon.stop(k.t, syscall.SIGKILL)
	k.pass(25*time.Millisecond, 26*time.Millisecond) // a packet's life
	if i%5 == 4 {
		k.checkRecord()
	}
	before := len(lines(k.t, k.log))
	k.rise()
	k.pass(60*time.Millisecond, 150*time.Millisecond)
	all := lines(k.t, k.log)
	for _, l := range all {
		if len(l.Over) > 0 {
			return fmt.Sprintf("%s: %v over", phase.name, l.Over)
		}
	}
	for n := before; n < len(all); n++ {
		if all[n].Sets > 0 {
			return fmt.Sprintf("%s: sent unasked after the restart: %v", phase.name, all[n].Happened)
		}
		for o := range all[n].Levels {
			if all[n].Levels[o] > all[before-1].Levels[o] {
				return fmt.Sprintf("%s: output %d rose unasked", phase.name, o)
			}
		}
	}
	return ""
}

// checkRecord opens the record of a daemon that was killed: its chain is whole.
func (k *killed) checkRecord() {
	k.t.Helper()
	store, err := record.Open(stateOf(k.folder), record.Options{})
	require.NoError(k.t, err)
	require.NoError(k.t, store.VerifyChain())
	require.NoError(k.t, store.Close())
}

// kills is how often the daemon is killed, over two walls that stand side by side.
const kills = 200

func TestKilledAtAnyInstant(t *testing.T) {
	n := kills / 2
	if testing.Short() {
		n = 5
	}
	for wall := range uint64(2) {
		t.Run(fmt.Sprintf("wall %d", wall+1), func(t *testing.T) {
			t.Parallel()
			k := newKilled(t, wall, false)
			counted := map[string]int{}
			for i := range n {
				require.Empty(t, k.round(i), "kill %d of seed %d", i, wall)
				counted[phases[i%len(phases)].name]++
			}
			t.Logf("killed %v; lines in the wall's log: %d", counted, len(lines(t, k.log)))
		})
	}
}

// TestAKillFindsADaemonThatResends is the test's own test: a daemon that sends the recorded look when it starts is found.
func TestAKillFindsADaemonThatResends(t *testing.T) {
	k := newKilled(t, 1, true)
	for i := range 20 {
		if wrong := k.round(i); wrong != "" {
			t.Logf("found at kill %d: %s", i, wrong)
			return
		}
	}
	require.Fail(t, "a daemon that re-sends was not found")
}
