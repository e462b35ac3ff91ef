package sim_test

import (
	"context"
	"encoding/json"
	"errors"
	"net"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets/plant"
	"lookgate/presets/rig"
	"lookgate/presets/rig/rigtest"
	"lookgate/presets/units"
	"lookgate/protocols/sim"
)

// patience is how long a socket on loopback may take.
const patience = 10 * time.Second

// trio is a rig with one device and one output of each class.
func trio() *rig.Rig {
	r := rigtest.Wye()
	rigtest.AddDevice(r, rig.Silent, 100, 0.1)
	r.Outputs[1].Panels = rigtest.Columns(r, 0, 5, 7)
	rigtest.AddOutput(r, 2, rigtest.Columns(r, 0, 8, 8))
	for i := range r.Devices {
		r.Devices[i].Settling = 10 * time.Millisecond
	}
	return r
}

// The places of trio's devices.
const (
	numbered = iota
	reporting
	silent
)

// journal takes a plant's log line by line.
type journal struct {
	mu    sync.Mutex
	lines []sim.Line
}

func (j *journal) Write(text []byte) (int, error) {
	var l sim.Line
	if err := json.Unmarshal(text, &l); err != nil { // every write is one whole line
		return 0, err
	}
	j.mu.Lock()
	defer j.mu.Unlock()
	j.lines = append(j.lines, l)
	return len(text), nil
}

func (j *journal) all() []sim.Line {
	j.mu.Lock()
	defer j.mu.Unlock()
	return append([]sim.Line(nil), j.lines...)
}

// happened joins everything that the log tells.
func (j *journal) happened() string {
	var all []string
	for _, l := range j.all() {
		all = append(append(all, l.Happened...), l.Refused)
	}
	return strings.Join(all, "\n")
}

// stand runs a plant until the test ends, and dials each of its devices.
func stand(t *testing.T, r *rig.Rig, o sim.Options) (*journal, []*net.UDPConn) {
	t.Helper()
	log := &journal{}
	o.Log = log
	p := sim.New(r, o)
	require.NoError(t, p.Open())
	ctx, end := context.WithCancel(context.Background())
	served := make(chan error, 1)
	go func() { served <- p.Serve(ctx) }()
	t.Cleanup(func() { end(); require.NoError(t, <-served) })
	var conns []*net.UDPConn
	for i := range r.Devices {
		to, err := net.ResolveUDPAddr("udp", p.Addr(i))
		require.NoError(t, err)
		c, err := net.DialUDP("udp", nil, to)
		require.NoError(t, err)
		t.Cleanup(func() { _ = c.Close() })
		conns = append(conns, c)
	}
	return log, conns
}

func send(t *testing.T, c *net.UDPConn, packet string) {
	t.Helper()
	_, err := c.Write([]byte(packet))
	require.NoError(t, err)
}

func (j *journal) until(t *testing.T, what string) {
	t.Helper()
	require.Eventually(t, func() bool { return strings.Contains(j.happened(), what) }, patience, time.Millisecond, what)
}

// heard gives the next report, empty where none comes within a time.
func heard(t *testing.T, c *net.UDPConn, within time.Duration) string {
	t.Helper()
	require.NoError(t, c.SetReadDeadline(time.Now().Add(within)))
	buffer := make([]byte, 2048)
	n, err := c.Read(buffer)
	if errors.Is(err, os.ErrDeadlineExceeded) {
		return ""
	}
	require.NoError(t, err)
	return string(buffer[:n])
}

// The packets are written out by hand after the Open Sound Control 1.0 specification, "OSC Type Tag String" and "OSC Arguments": strings end in a null and are
// padded to four octets, numbers are big-endian, T and F take no octets. 0x3f000000 is the 32-bit float 0.5.
const (
	half     = "\x3f\x00\x00\x00"
	level1   = "/wall/output/1/level\x00\x00\x00\x00"
	level2   = "/wall/output/2/level\x00\x00\x00\x00"
	level3   = "/wall/output/3/level\x00\x00\x00\x00"
	black1   = "/wall/output/1/black\x00\x00\x00\x00"
	black2   = "/wall/output/2/black\x00\x00\x00\x00"
	picture  = "/wall/picture\x00\x00\x00"
	ask      = "/wall/ask\x00\x00\x00"
	seven    = "\x00\x00\x00\x00\x00\x00\x00\x07"
	six      = "\x00\x00\x00\x00\x00\x00\x00\x06"
	fh       = ",fh\x00"
	f        = ",f\x00\x00"
	h        = ",h\x00\x00"
	nothing  = ",\x00\x00\x00"
	askSeven = ask + h + seven
)

func TestADeviceUnderstandsWhatItsClassKnows(t *testing.T) {
	for _, row := range []struct {
		name   string
		device int
		packet string
		want   string
	}{
		{"a numbered device's level", numbered, level1 + fh + half + seven, "applied device 0: level output 0 to 50 % number 7"},
		{"a numbered device's blackout", numbered, black1 + ",Th\x00" + seven, "applied device 0: black output 0 to true number 7"},
		{"a numbered device's picture", numbered, picture + ",iih\x00\x00\x00\x00" + "\x00\x00\x00\x03\x00\x00\x00\x02" + seven, "applied device 0: picture to layout 3 mode 2 number 7"},
		{"a numbered device is asked", numbered, askSeven, "told device 0"},
		{"a reporting device's level", reporting, level2 + f + half, "applied device 1: level output 1 to 50 %"},
		{"a reporting device's blackout ends", reporting, black2 + ",F\x00\x00", "applied device 1: black output 1 to false"},
		{"a reporting device is asked", reporting, ask + nothing, "told device 1"},
		{"a silent device's level", silent, level3 + f + half, "applied device 2: level output 2 to 50 %"},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			log, conns := stand(t, trio(), sim.Options{})
			send(t, conns[row.device], row.packet)
			log.until(t, row.want)
		})
	}
}

func TestADeviceMakesNothingOfTheRest(t *testing.T) {
	for _, row := range []struct {
		name   string
		device int
		packet string
		want   string
	}{
		{"empty", numbered, "", "ends too early"},
		{"an address that does not end", numbered, "/wall/ask", "ends too early"},
		{"padding that is not null", numbered, "/wall/ask\x00\x00x" + h + seven, "padded"},
		{"no type tags", numbered, ask, "no type tags"},
		{"a level without its number", numbered, level1 + f + half, "wants a command number"},
		{"a number that is cut short", numbered, level1 + fh + half + "\x00\x00", "wants a command number"},
		{"a number to a device that knows none", reporting, level2 + fh + half + seven, "more arguments"},
		{"octets after the last argument", silent, level3 + f + half + half, "more arguments"},
		{"another device's output", numbered, level2 + fh + half + seven, "no output 2"},
		{"an output that is none", reporting, "/wall/output/9/level\x00\x00\x00\x00" + f + half, "no output 9"},
		{"a level that is no number", silent, level3 + f + "\x7f\xc0\x00\x00", "is no level"},
		{"a level above 1", silent, level3 + f + "\x40\x00\x00\x00", "is no level"},
		{"a level as a whole number", silent, level3 + ",i\x00\x00" + "\x00\x00\x00\x01", "argument of type f"},
		{"a blackout as a number", reporting, black2 + ",i\x00\x00" + "\x00\x00\x00\x01", "wants T or F"},
		{"something else of an output", reporting, "/wall/output/2/tint\x00" + f + half, "nothing that an output has"},
		{"something else", reporting, "/mark\x00\x00\x00" + nothing, "nothing that a device knows"},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			log, conns := stand(t, trio(), sim.Options{})
			send(t, conns[row.device], row.packet)
			log.until(t, row.want)
			for _, l := range log.all() {
				require.Zero(t, l.Sets, "it took something over")
			}
			require.Empty(t, heard(t, conns[row.device], 50*time.Millisecond), "it answers")
		})
	}
}

func TestReportsToTheOctet(t *testing.T) {
	_, conns := stand(t, trio(), sim.Options{})
	send(t, conns[numbered], level1+fh+half+seven)
	report := heard(t, conns[numbered], patience)
	head := "/wall/report\x00\x00\x00\x00" + ",hiisfF\x00" + seven + "\x00\x00\x00\x00\x00\x00\x00\x00" + "1\x00\x00\x00"
	require.Len(t, report, len(head)+4)
	require.Equal(t, head, report[:len(head)])
	require.Equal(t, "\x3e\xff\xff", report[len(head):len(head)+3], "the level, rounded down to a step: 32767/65535 = 0.4999924")
	send(t, conns[reporting], black2+",T\x00\x00")
	send(t, conns[reporting], ask+nothing)
	require.Equal(t, "/wall/report\x00\x00\x00\x00"+",iisfT\x00\x00"+"\x00\x00\x00\x00\x00\x00\x00\x00"+"2\x00\x00\x00"+"\x3f\x80\x00\x00", heard(t, conns[reporting], patience),
		"a device without numbers tells its restart level, 1, and that it is black")
	send(t, conns[silent], ask+nothing)
	require.Empty(t, heard(t, conns[silent], 100*time.Millisecond), "a silent device tells nothing")
}

func TestAnOlderNumberIsStale(t *testing.T) {
	log, conns := stand(t, trio(), sim.Options{})
	send(t, conns[numbered], askSeven)
	log.until(t, "told device 0")
	send(t, conns[numbered], level1+fh+half+six)
	log.until(t, "stale device 0: level output 0 to 50 % number 6")
	last := log.all()[len(log.all())-1]
	require.Equal(t, units.Level(0), last.Levels[0], "it stays where it restarted")
}

func TestReportsThatLeaveLateAndNever(t *testing.T) {
	const late = 300 * time.Millisecond
	log, conns := stand(t, trio(), sim.Options{Late: map[string]time.Duration{"proc1": late}, Mute: map[string]bool{"proc2": true}})
	began := time.Now()
	send(t, conns[numbered], askSeven)
	require.NotEmpty(t, heard(t, conns[numbered], patience))
	require.GreaterOrEqual(t, time.Since(began), late)
	send(t, conns[reporting], level2+f+half)
	send(t, conns[reporting], ask+nothing)
	log.until(t, "applied device 1: level output 1 to 50 %")
	require.Empty(t, heard(t, conns[reporting], 100*time.Millisecond), "a mute device acts and tells nothing")
}

func TestALostPacketIsInTheLog(t *testing.T) {
	log, conns := stand(t, trio(), sim.Options{Habits: plant.Habits{Wire: plant.Wire{Loss: 1}}})
	send(t, conns[numbered], level1+fh+half+seven)
	log.until(t, "lost device 0: level output 0 to 50 % number 7")
	require.NotContains(t, log.happened(), "applied")
}

func TestTheLogJudgesTrueAmps(t *testing.T) {
	r := trio()
	log, conns := stand(t, r, sim.Options{})
	send(t, conns[numbered], level1+fh+"\x3f\x80\x00\x00"+seven) // full white: 18 panels of 158 W on 208 V at 0.95 want 14.4 A of the 12 A that a circuit may carry
	log.until(t, "to 100 % number 7")
	all := log.all()
	first, last := all[0], all[len(all)-1]
	require.NotContains(t, first.Over, "circuit "+r.Circuits[0].Name)
	require.Contains(t, last.Over, "circuit "+r.Circuits[0].Name)
	require.InDelta(t, 14.39/12, float64(last.Share), 0.01)
	for i, c := range r.Conductors() {
		if c.Kind == rig.CircuitWire && c.Circuit == 0 {
			require.InDelta(t, 18*158/(208*0.95), float64(last.Amps[i]), 0.005)
		}
	}
}

func TestOpenLeavesNothingBoundWhereAPortIsTaken(t *testing.T) {
	taken, err := net.ListenPacket("udp", "127.0.0.1:0")
	require.NoError(t, err)
	defer taken.Close()
	probe, err := net.ListenPacket("udp", "127.0.0.1:0")
	require.NoError(t, err)
	first := probe.LocalAddr().String()
	require.NoError(t, probe.Close())
	err = sim.New(trio(), sim.Options{Listen: []string{first, taken.LocalAddr().String()}}).Open()
	require.ErrorContains(t, err, "simulated device proc2: ")
	require.ErrorContains(t, err, "\nfree the port, or name another")
	again, err := net.ListenPacket("udp", first)
	require.NoError(t, err, "the first device's port is free again")
	require.NoError(t, again.Close())
	require.ErrorContains(t, sim.New(trio(), sim.Options{Listen: []string{"nowhere"}}).Open(), "is no address")
}

// full is a disk that is full.
type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("no space left on device") }

func TestAJudgeThatCannotWriteEndsThePlant(t *testing.T) {
	p := sim.New(trio(), sim.Options{Log: full{}})
	require.NoError(t, p.Open())
	require.ErrorContains(t, p.Serve(t.Context()), "the plant's log cannot be written: no space left on device\nfree the disk")
}
