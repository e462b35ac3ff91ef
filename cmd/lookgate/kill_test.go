package main

import (
	"fmt"
	"math/rand/v2"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets/engine"
	"lookgate/presets/units"
	"lookgate/protocols/osc"
	"lookgate/protocols/sim"
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
  - {number: 3, name: low, mode: video, zones: {left: 20%, right: 20%}}
  - {number: 4, name: left at once, mode: video, zones: {left: 90%, right: 20%}}
  - {number: 5, name: right at once, mode: video, zones: {left: 20%, right: 90%}}
`

const killDevice = "  - {name: %s, class: %s, steps: 255, restart: 5%%, packet_life: 20 ms, settling: 10 ms, retry: 40 ms, protocol: sim, address: %s}\n"

// killed is a plant and the daemon that is killed over it.
type killed struct {
	t       *testing.T
	folder  string
	log     string
	osc     string
	http    string
	fault   engine.Fault // that is planted in the daemon
	rough   bool         // the wall has habits that keep its devices from telling soon
	daemon  *process
	client  net.Conn
	rng     *rand.Rand
	devices []string // where the wall's devices listen
	tail    *tail
	judged  int    // lines of the wall's log that were held against the limits
	rows    uint64 // of the record, when it was last looked at
	hit     map[string]int
	told    int // commands that were answered as accepted

	looks    int            // into the record, one a kill
	seen     map[uint64]int // the look at which a command was first in the record
	outcomes map[uint64]int // how many a command has there
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

func newKilled(t *testing.T, seed uint64, fault engine.Fault, wall ...string) *killed {
	t.Helper()
	k := &killed{t: t, folder: t.TempDir(), osc: freePort(t, "udp"), http: freePort(t, "tcp"), fault: fault, rough: len(wall) > 0, rng: rand.New(rand.NewPCG(seed, 11)),
		devices: []string{freePort(t, "udp"), freePort(t, "udp")}, hit: map[string]int{}, seen: map[uint64]int{}, outcomes: map[uint64]int{}}
	k.log = filepath.Join(k.folder, "plant.log")
	k.tail = &tail{t: t, name: k.log}
	devices := "devices:\n" + fmt.Sprintf(killDevice, "west", "numbered", k.devices[0]) + fmt.Sprintf(killDevice, "east", "reporting", k.devices[1])
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
	k.daemon = start(k.t, []string{"LOOKGATE_FAULT=" + k.fault.String()}, "run", k.folder)
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
	if to <= from {
		return
	}
	timer := time.NewTimer(from + time.Duration(k.rng.Int64N(int64(to-from))))
	defer timer.Stop()
	select {
	case <-timer.C:
	case <-k.t.Context().Done():
	}
}

// moment lets less than a timer can tell pass, drawn up to a bound: what lies between a command, its commit and its sending takes a fraction of a millisecond.
func (k *killed) moment(most time.Duration) {
	for began, d := time.Now(), time.Duration(k.rng.Int64N(int64(most))); time.Since(began) < d; {
		runtime.Gosched()
	}
}

// The phases of a switch that a kill can hit. Which one it was is told by what the wall's log and the record hold afterwards, not by what was aimed at.
const (
	beforeCommit   = "before the commit"              // the record does not know the command
	commitToSend   = "commit to send"                 // it does, and nothing was brighter by then
	fadingDown     = "fading down"                    // what gets darker is on its way
	fadingUp       = "fading up"                      // what gets brighter is
	blackoutUnsaid = "blackout sent and not recorded" // a device has it, and the record does not
	otherwise      = "otherwise"
)

var phases = []string{beforeCommit, commitToSend, fadingDown, fadingUp, blackoutUnsaid}

// shot is one kill: the look that was on, the one that was asked for, and what was seen of it.
type shot struct {
	from, to int // presets
	blackout bool
	told     uint64   // the recall, where its answer was waited for
	start    sim.Line // the wall before the command
}

// levelsOf gives the levels of left and right in a preset of killBook.
func levelsOf(preset int) [2]units.Level {
	return [...][2]units.Level{1: {0.9, 0.2}, 2: {0.2, 0.9}, 3: {0.2, 0.2}, 4: {0.9, 0.2}, 5: {0.2, 0.9}}[preset]
}

// begins reports whether an output has left where it stood, by more than a step of its device.
func (s shot) begins(l sim.Line, up bool) bool {
	for o, was := range s.start.Levels {
		if d := l.Levels[o] - was; up && d > 1.0/255 || !up && d < -1.0/255 {
			return true
		}
	}
	return false
}

// settle puts a preset on and waits until the wall shows it and the daemon says so: the daemon that was killed takes commands again.
func (k *killed) settle(preset int) {
	k.t.Helper()
	k.say("/lookgate/recall", int32(preset))
	require.NotZero(k.t, k.accepted(patience), "no answer to a recall")
	want, panel := levelsOf(preset), &demoRun{panel: k.http}
	eventually(k.t, fmt.Sprintf("preset %d is on", preset), func() bool {
		l := k.tail.last()
		for o := range want {
			if d := l.Levels[o] - want[o]; d < -1.0/255 || d > 1.0/255 {
				return false
			}
		}
		look := panel.view(k.t).Look
		return look.Preset == preset && look.State == "on"
	})
}

// aim brings the wall to where the phase starts, gives the command and waits for the instant of the kill.
func (k *killed) aim(phase string) shot {
	k.t.Helper()
	s := shot{from: 1 + k.rng.IntN(2)}
	s.to = 3 - s.from
	if phase == beforeCommit || phase == commitToSend {
		s.from = 3 // from here all that is to happen is a raise, which waits for the disk
	}
	if phase == beforeCommit {
		s.to += 3 // at once: a raise that did not wait for the disk would be seen
	}
	k.settle(s.from)
	s.start = k.tail.last()
	k.say("/lookgate/recall", int32(s.to))
	switch phase {
	case beforeCommit:
		k.moment(500 * time.Microsecond)
	case commitToSend:
		s.told = k.accepted(patience) // it is on disk, however slow that is
		k.moment(3 * time.Millisecond)
	case fadingDown, fadingUp:
		k.tail.until("the fade begins", func(l sim.Line) bool { return s.begins(l, phase == fadingUp) })
		k.pass(0, 120*time.Millisecond) // of the 150 ms that it takes
	case blackoutUnsaid:
		k.pass(0, 300*time.Millisecond)
		s.blackout = true
		k.say("/lookgate/blackout")
		k.moment(time.Millisecond)
	}
	return s
}

// hits tells which phase a kill has hit, and what it shows of a daemon that raises before the disk has it.
func (k *killed) hits(s shot, end sim.Line, recalled, blackedOut bool) (phase, wrong string) {
	want := levelsOf(s.to)
	dark, down, up := slices.Contains(end.Levels, 0), false, false
	for o, l := range end.Levels {
		down = down || l < s.start.Levels[o] && l > want[o]
		up = up || l > s.start.Levels[o] && l < want[o]
	}
	raised := s.begins(end, true)
	if raised && !recalled {
		wrong = "raised what the record does not know"
	}
	switch {
	case s.blackout && dark && !blackedOut:
		return blackoutUnsaid, wrong
	case s.blackout && dark:
		return otherwise, wrong
	case !recalled:
		return beforeCommit, wrong
	case up:
		return fadingUp, wrong
	case down:
		return fadingDown, wrong
	case !raised && s.from == 3:
		return commitToSend, wrong
	}
	return otherwise, wrong
}

// round aims at a phase, kills, starts again, and says what the wall's log and the record have against it; empty for nothing.
func (k *killed) round(phase string) (wrong []string) {
	k.t.Helper()
	s := k.aim(phase)
	k.daemon.stop(k.t, syscall.SIGKILL)
	k.pass(25*time.Millisecond, 26*time.Millisecond) // a packet's life
	k.mark()
	before := len(k.tail.lines)
	end := k.tail.last()
	rows := k.look()
	hit, early := k.hits(s, end, knows(rows, "recall", s.to), knows(rows, "blackout", 0))
	k.hit[hit]++
	forgotten := k.forgotten(rows, s.told)
	k.rise()
	k.pass(60*time.Millisecond, 200*time.Millisecond)
	k.tail.read()
	wrong = slices.Concat(k.unasked(before), k.overs(), forgotten)
	if early != "" {
		wrong = append(wrong, early)
	}
	for i := range wrong {
		wrong[i] = "killed " + hit + ": " + wrong[i]
	}
	return wrong
}

// Every phase is hit so often on each of the walls that stand side by side: 200 times in all, and what hits none comes on top. Some instants are hard to meet,
// so that the rounds have a bound.
const (
	walls  = 2
	hits   = 20
	rounds = 400
)

// rarest gives the phase that was hit least so far, and how often.
func (k *killed) rarest() (string, int) {
	phase := phases[0]
	for _, p := range phases {
		if k.hit[p] < k.hit[phase] {
			phase = p
		}
	}
	return phase, k.hit[phase]
}

func TestKilledAtAnyInstant(t *testing.T) {
	for wall := range uint64(walls) {
		t.Run(fmt.Sprintf("wall %d", wall+1), func(t *testing.T) {
			t.Parallel()
			k, n := newKilled(t, wall, engine.NoFault), 0
			for ; n < rounds; n++ {
				phase, least := k.rarest()
				if testing.Short() {
					if phase = phases[n%len(phases)]; n == 6 {
						break
					}
				}
				if least >= hits {
					break
				}
				require.Empty(t, k.round(phase), "kill %d of seed %d", n, wall)
			}
			t.Logf("seed %d: %d kills hit %v; lines in the wall's log: %d; commands told as accepted and found in the record: %d", wall, n, k.hit, len(k.tail.lines), k.told)
			require.Less(t, n, rounds, "some phase is hardly ever hit")
		})
	}
}

// TestAKillFindsAFault is the test's own test: a daemon that sends the recorded look when it starts is found by what it sends and by what rises, and one that
// does not wait for the disk is found by what it told as accepted.
func TestAKillFindsAFault(t *testing.T) {
	for _, row := range []struct {
		fault  engine.Fault
		aims   []string
		within int // kills
		signs  []string
	}{
		{engine.ResumeResends, phases, 20, []string{"sent unasked", "rose unasked"}},
		{engine.GateOutside, phases[:1], 200, []string{"is not in the record"}},
	} {
		t.Run(row.fault.String(), func(t *testing.T) {
			k, found := newKilled(t, 1, row.fault), ""
			for i := range row.within {
				found += strings.Join(append(k.round(row.aims[i%len(row.aims)]), ""), "\n")
				if !slices.ContainsFunc(row.signs, func(sign string) bool { return !strings.Contains(found, sign) }) {
					t.Logf("found in %d kills:\n%s", i+1, found)
					return
				}
			}
			require.Fail(t, "the fault was not found", "only: %s", found)
		})
	}
}
