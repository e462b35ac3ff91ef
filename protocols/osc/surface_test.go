package osc

import (
	"context"
	"net"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets/engine"
	"lookgate/presets/finding"
	"lookgate/presets/rig"
	"lookgate/presets/units"
	"lookgate/protocols"
)

// patience bounds every wait of these tests; nothing of it is used up when all is well.
const patience = 10 * time.Second

// fakeDesk keeps what was handed in, batch by batch, and answers as told.
type fakeDesk struct {
	mu      sync.Mutex
	last    uint64
	batches chan []engine.Command
	reloads chan string
	view    *engine.View
	say     func(engine.Command, protocols.Tell)
}

func newFakeDesk() *fakeDesk {
	return &fakeDesk{
		batches: make(chan []engine.Command, 4096),
		reloads: make(chan string, 16),
		view: &engine.View{
			Look:       engine.LookView{Preset: 12, Name: "dusk", Scale: 0.5, State: "on"},
			Armed:      13,
			Presets:    []engine.PresetView{{Number: 1, Name: "dawn"}, {Number: 12, Name: "dusk"}, {Number: 13, Name: "night"}},
			Zones:      []engine.ZoneView{{Name: "bay"}, {Name: "wing"}, {Name: "lid"}},
			Circuits:   []engine.CircuitView{{Name: "B1"}, {Name: "B2"}},
			Outputs:    []engine.OutputView{{Name: "bay-1"}, {Name: "bay-2"}},
			Conductors: []engine.ConductorView{{Kind: "leg", Name: "A L1", Headroom: 40, Stops: 1.5}, {Kind: "circuit", Name: "B2", Headroom: 2.5, Stops: 0.25}},
			Alarms:     []engine.Event{{Kind: "alarm", Place: finding.Place{Kind: "device", Name: "left"}, Sentence: "it is silent", Do: "look at its network"}},
		},
		say: func(engine.Command, protocols.Tell) {},
	}
}

func (d *fakeDesk) Order(commands []engine.Command, tell protocols.Tell) []uint64 {
	d.mu.Lock()
	var ids []uint64
	for i := range commands {
		d.last++
		commands[i].ID = d.last
		ids = append(ids, d.last)
	}
	d.mu.Unlock()
	d.batches <- slices.Clone(commands) // the taker clears the ids
	for _, c := range commands {
		d.say(c, tell)
	}
	return ids
}

func (d *fakeDesk) Reload(station string, engineer bool, tell protocols.Tell) uint64 {
	d.reloads <- station
	tell(&engine.Answer{ID: 77, Station: station, Verb: engine.ReloadSite, Status: engine.Accepted}, nil)
	return 77
}

func (d *fakeDesk) View() *engine.View               { return d.view }
func (d *fakeDesk) Watch() (<-chan struct{}, func()) { return nil, func() {} }
func (d *fakeDesk) Record(int) []protocols.Line      { return nil }
func (d *fakeDesk) Rig() *rig.Rig                    { return nil }

// take waits for the next batch, without the ids.
func (d *fakeDesk) take(t *testing.T) []engine.Command {
	t.Helper()
	select {
	case batch := <-d.batches:
		for i := range batch {
			batch[i].ID = 0
		}
		return batch
	case <-time.After(patience):
		t.Fatal("no command reached the desk")
		return nil
	}
}

// serve runs a surface on a free port of loopback and stops it with the test.
func serve(t *testing.T, desk protocols.Desk, stations ...protocols.Station) *Surface {
	t.Helper()
	if len(stations) == 0 {
		stations = []protocols.Station{{Name: "booth"}}
	}
	s, err := NewSurface(desk, Config{Listen: "127.0.0.1:0", Stations: stations, Limits: DefaultLimits()})
	require.NoError(t, err)
	require.Empty(t, s.Addr())
	require.NoError(t, s.Open())
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- s.Serve(ctx) }()
	t.Cleanup(func() {
		cancel()
		select {
		case err := <-done:
			require.NoError(t, err)
		case <-time.After(patience):
			t.Error("Serve did not end with its context")
		}
		require.NoError(t, s.Close())
		require.NoError(t, s.Close(), "a second time")
	})
	return s
}

// console is a socket of a station.
type console struct {
	t    *testing.T
	conn *net.UDPConn
	to   *net.UDPAddr
}

func newConsole(t *testing.T, s *Surface) *console {
	t.Helper()
	to, err := net.ResolveUDPAddr("udp", s.Addr())
	require.NoError(t, err)
	conn, err := net.ListenUDP("udp", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
	require.NoError(t, err)
	t.Cleanup(func() { conn.Close() })
	return &console{t, conn, to}
}

func (c *console) send(packet []byte) {
	c.t.Helper()
	_, err := c.conn.WriteToUDP(packet, c.to)
	require.NoError(c.t, err)
}

// hear reads one message as the published tables write it.
func (c *console) hear() string {
	c.t.Helper()
	require.NoError(c.t, c.conn.SetReadDeadline(time.Now().Add(patience)))
	buffer := make([]byte, 1<<16)
	n, _, err := c.conn.ReadFromUDP(buffer)
	require.NoError(c.t, err)
	require.LessOrEqual(c.t, n, MaxReply)
	groups, err := Decode(buffer[:n], DefaultLimits())
	require.NoError(c.t, err)
	return showMessage(groups[0].Messages[0])
}

func TestSurfaceCommands(t *testing.T) {
	desk := newFakeDesk()
	c := newConsole(t, serve(t, desk, protocols.Station{Name: "booth", Engineer: true}))
	for _, row := range commandRows {
		c.send(message(t, row.address, row.args...))
		require.Equal(t, []engine.Command{by("booth", row.want)}, desk.take(t), row.name)
	}
}

func by(station string, c engine.Command) engine.Command {
	c.Station, c.Engineer = station, true
	return c
}

// TestSurfaceBundleIsOneBatch: the messages of a bundle reach the desk together,
// those of a nested one as a batch after it, and what is wrong in one is answered
// without the others being lost.
func TestSurfaceBundleIsOneBatch(t *testing.T) {
	desk := newFakeDesk()
	c := newConsole(t, serve(t, desk, protocols.Station{Name: "booth", Engineer: true}))
	c.send(bundle(Immediately,
		message(t, "/lookgate/arm", int32(12)),
		bundle(Immediately, message(t, "/lookgate/back")),
		message(t, "/lookgate/arm", nil),
		message(t, "/lookgate/go")))
	require.Equal(t, []engine.Command{by("booth", engine.Command{Verb: engine.Arm, Preset: 12}), by("booth", engine.Command{Verb: engine.Go})}, desk.take(t))
	require.Equal(t, []engine.Command{by("booth", engine.Command{Verb: engine.Back})}, desk.take(t))
	require.Equal(t, `/lookgate/answer ,hssi 0 "arm" "refused" 1`, c.hear())
	require.Equal(t, `/lookgate/finding ,hssffsss 0 "bad-arguments" "address /lookgate/arm" 0 0 "" "argument 1 is of type N, a number (i, h, f or d) belongs there" "later: send /lookgate/arm 12, or /lookgate/arm \"name\""`, c.hear())
}

// TestSurfaceBundleTimes: past and present bundles are obeyed, later ones are
// answered and nothing of them is kept.
func TestSurfaceBundleTimes(t *testing.T) {
	desk := newFakeDesk()
	c := newConsole(t, serve(t, desk))
	c.send(bundle(TimeTagOf(time.Now().Add(time.Hour)), message(t, "/lookgate/go")))
	require.Equal(t, `/lookgate/answer ,hssi 0 "" "refused" 1`, c.hear())
	require.Contains(t, c.hear(), `0 "not-supported" "bundle"`)
	c.send(bundle(TimeTagOf(time.Now().Add(-time.Hour)), message(t, "/lookgate/back")))
	require.Equal(t, []engine.Command{{Station: "booth", Verb: engine.Back}}, desk.take(t))
	require.Empty(t, desk.batches)
}

// TestSurfaceReload: a reload goes by its own way and in its turn.
func TestSurfaceReload(t *testing.T) {
	desk := newFakeDesk()
	c := newConsole(t, serve(t, desk))
	c.send(bundle(Immediately, message(t, "/lookgate/back"), message(t, "/lookgate/reload"), message(t, "/lookgate/go")))
	require.Equal(t, engine.Back, desk.take(t)[0].Verb)
	require.Equal(t, "booth", <-desk.reloads)
	require.Equal(t, engine.Go, desk.take(t)[0].Verb)
	require.Equal(t, `/lookgate/answer ,hssi 77 "reload" "accepted" 0`, c.hear())
}

// TestSurfacePatterns: a pattern goes to every method that it matches, in the
// order of the routes, as one batch.
func TestSurfacePatterns(t *testing.T) {
	desk := newFakeDesk()
	c := newConsole(t, serve(t, desk))
	for _, row := range []struct {
		name    string
		address string
		args    []any
		want    []engine.Command
	}{
		{"zones", "/lookgate/zone/{bay,lid}/level", []any{float32(0.5)}, []engine.Command{
			{Verb: engine.ZoneLevel, Target: "bay", Level: 0.5, HasLevel: true}, {Verb: engine.ZoneLevel, Target: "lid", Level: 0.5, HasLevel: true}}},
		{"circuits", "/lookgate/circuit/B?/out", nil, []engine.Command{{Verb: engine.CircuitOut, Target: "B1"}, {Verb: engine.CircuitOut, Target: "B2"}}},
		{"outputs", "/*/attest/*-2/dark", nil, []engine.Command{{Verb: engine.Attest, Target: "bay-2"}}},
		{"presets", "/lookgate/arm/1[3]", nil, []engine.Command{{Verb: engine.Arm, Preset: 13}}},
		{"verbs, blackout last", "/lookgate/b*", nil, []engine.Command{{Verb: engine.Back}, {Verb: engine.Blackout}}},
	} {
		c.send([]byte(padded4(row.address) + string(message(t, "/a", row.args...)[4:])))
		for i := range row.want {
			row.want[i].Station = "booth"
		}
		require.Equal(t, row.want, desk.take(t), row.name)
	}
}

func padded4(s string) string {
	for s += "\x00"; len(s)%4 != 0; s += "\x00" {
	}
	return s
}

// TestSurfaceAnswers: what goes back, to whom, and that it is bounded.
func TestSurfaceAnswers(t *testing.T) {
	desk := newFakeDesk()
	f := finding.New(finding.CircuitOver, finding.Place{Kind: "circuit", Name: "B2"}, "circuit B2 would draw 17.2 A, 16 A is its limit")
	f.Computed, f.Limit = units.InAmps(17.25), units.InAmps(16)
	f.Remedies = []finding.Remedy{{When: finding.Now, Words: "recall at 90 %"}, {When: finding.Later, Words: "feed it from two circuits"}}
	desk.say = func(c engine.Command, tell protocols.Tell) {
		tell(&engine.Answer{ID: 1<<40 + c.ID, Verb: c.Verb, Status: engine.Refused, Findings: []finding.Finding{f}}, nil)
		tell(nil, &engine.Outcome{ID: 1<<40 + c.ID, Verb: c.Verb, End: engine.DroppedEnd, Took: 2500 * time.Millisecond,
			Short: []engine.Reach{{Output: "bay-1", Wanted: 0.5, Low: 0, High: 0.25}}, Assumed: []string{"lid-1"}})
	}
	c := newConsole(t, serve(t, desk))
	c.send(message(t, "/lookgate/recall/12"))
	for _, want := range []string{
		`/lookgate/answer ,hssi 1099511627777 "recall" "refused" 1`,
		`/lookgate/finding ,hssffsss 1099511627777 "circuit-over" "circuit B2" 17.25 16 "A" "circuit B2 would draw 17.2 A, 16 A is its limit" "now: recall at 90 %; later: feed it from two circuits"`,
		`/lookgate/outcome ,hssfii 1099511627777 "recall" "dropped" 2.5 1 1`,
		`/lookgate/short ,hsfff 1099511627777 "bay-1" 0.5 0 0.25`,
		`/lookgate/assumed ,hs 1099511627777 "lid-1"`,
	} {
		require.Equal(t, want, c.hear())
	}
}

// TestSurfaceQuery: an accepted query brings the look, what is armed, the least
// headroom and the alarms.
func TestSurfaceQuery(t *testing.T) {
	desk := newFakeDesk()
	desk.view.Look.Above = &engine.LookAbove{For: 30 * time.Minute, Left: 720 * time.Second, Runs: true, Circuits: []string{"B2"}}
	desk.say = func(c engine.Command, tell protocols.Tell) {
		tell(&engine.Answer{ID: c.ID, Verb: c.Verb, Status: engine.Accepted}, nil)
	}
	c := newConsole(t, serve(t, desk))
	c.send(message(t, "/lookgate/query"))
	for _, want := range []string{
		`/lookgate/answer ,hssi 1 "query" "accepted" 0`,
		`/lookgate/look ,isfsF 12 "dusk" 0.5 "on" F`,
		`/lookgate/armed ,i 13`,
		`/lookgate/headroom ,sff "circuit B2" 2.5 0.25`,
		`/lookgate/above ,ffT 720 1800 T`,
		`/lookgate/alarm ,sss "device left" "it is silent" "look at its network"`,
	} {
		require.Equal(t, want, c.hear())
	}
}

// TestSurfaceIdentify: an accepted identify says where to look, and a query names what is lit.
func TestSurfaceIdentify(t *testing.T) {
	desk := newFakeDesk()
	desk.view.Look = engine.LookView{Scale: 1, State: "on", Identify: "circuit B1"}
	desk.say = func(c engine.Command, tell protocols.Tell) {
		a := &engine.Answer{ID: c.ID, Verb: c.Verb, Status: engine.Accepted}
		if c.Verb == engine.Identify {
			a.Findings = []finding.Finding{finding.New(finding.LookThere, finding.Place{Kind: "circuit", Name: c.Target}, "is bay C1R1..C2R9")}
		}
		tell(a, nil)
	}
	c := newConsole(t, serve(t, desk))
	c.send(message(t, "/lookgate/identify/circuit/B1"))
	require.Equal(t, `/lookgate/answer ,hssi 1 "identify" "accepted" 1`, c.hear())
	require.Equal(t, `/lookgate/finding ,hssffsss 1 "look-there" "circuit B1" 0 0 "" "is bay C1R1..C2R9" ""`, c.hear())
	c.send(message(t, "/lookgate/query"))
	require.Equal(t, `/lookgate/answer ,hssi 2 "query" "accepted" 0`, c.hear())
	require.Equal(t, `/lookgate/look ,isfsF 0 "identify circuit B1" 1 "on" F`, c.hear())
}

// TestSurfaceStations: who may command, and where answers go.
func TestSurfaceStations(t *testing.T) {
	desk := newFakeDesk()
	reply, err := net.ListenUDP("udp", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
	require.NoError(t, err)
	defer reply.Close()
	port := reply.LocalAddr().(*net.UDPAddr).Port
	desk.say = func(c engine.Command, tell protocols.Tell) {
		tell(&engine.Answer{ID: c.ID, Verb: c.Verb, Status: engine.Accepted}, nil)
	}
	s := serve(t, desk,
		protocols.Station{Name: "anyone"},
		protocols.Station{Name: "desk", From: "127.0.0.1", Engineer: true, ReplyPort: port})
	newConsole(t, s).send(message(t, "/lookgate/go"))
	require.Equal(t, []engine.Command{by("desk", engine.Command{Verb: engine.Go})}, desk.take(t), "the station that names its address goes first")
	there := &console{t, reply, nil}
	require.Equal(t, `/lookgate/answer ,hssi 1 "go" "accepted" 0`, there.hear())
}

// TestSurfaceStranger: a sender that no station names commands nothing.
func TestSurfaceStranger(t *testing.T) {
	desk := newFakeDesk()
	c := newConsole(t, serve(t, desk, protocols.Station{Name: "desk", From: "192.0.2.7"}))
	c.send(message(t, "/somebody/else"))
	c.send(message(t, "/lookgate/go"))
	require.Equal(t, `/lookgate/answer ,hssi 0 "" "refused" 1`, c.hear())
	require.Contains(t, c.hear(), `"station 127.0.0.1" 0 0 "" "no station sends from this address"`)
	require.Empty(t, desk.batches)
}

func TestSurfaceConfiguration(t *testing.T) {
	booth := []protocols.Station{{Name: "booth"}}
	for _, row := range []struct {
		name   string
		config Config
		text   string
	}{
		{"no limits", Config{Listen: "127.0.0.1:0", Stations: booth}, "osc limit packet is 0"},
		{"no stations", Config{Listen: "127.0.0.1:0", Limits: DefaultLimits()}, "osc: no station may command"},
		{"an address that is none", Config{Limits: DefaultLimits(), Stations: []protocols.Station{{Name: "a", From: "booth"}}}, `osc: station a: "booth" is no IP address`},
		{"a port that is none", Config{Limits: DefaultLimits(), Stations: []protocols.Station{{Name: "a", ReplyPort: 70000}}}, "osc: station a: reply port 70000 is none"},
	} {
		_, err := NewSurface(newFakeDesk(), row.config)
		require.ErrorContains(t, err, row.text, row.name)
	}
	s := serve(t, newFakeDesk())
	require.Equal(t, "osc", s.Name())
	taken, err := NewSurface(newFakeDesk(), Config{Listen: s.Addr(), Stations: booth, Limits: DefaultLimits()})
	require.NoError(t, err)
	require.ErrorContains(t, taken.Open(), "osc cannot listen on "+s.Addr())
	require.ErrorContains(t, taken.Serve(context.Background()), "Serve before Open")
	require.NoError(t, taken.Close())
}

// TestSurfaceOutlivesEverything: after every malformed packet of the published
// table, and some that are huge, a command still gets through, and each packet
// that is malformed was answered.
func TestSurfaceOutlivesEverything(t *testing.T) {
	desk := newFakeDesk()
	c := newConsole(t, serve(t, desk))
	bad := [][]byte{[]byte("/[\x00\x00,\x00\x00\x00"), []byte("/{a,b\x00\x00\x00"), make([]byte, 65507)}
	refused := 0
	for _, packet := range append(packetSeeds(t), bad...) {
		if _, err := Decode(packet, DefaultLimits()); err != nil {
			refused++
		}
		c.send(packet)
	}
	require.Greater(t, refused, 15)
	c.send(message(t, "/lookgate/go"))
	require.Equal(t, []engine.Command{{Station: "booth", Verb: engine.Go}}, desk.take(t))
	for range refused {
		for c.hear() != `/lookgate/answer ,hssi 0 "" "refused" 1` {
		}
	}
}

// TestSurfaceKeepsOrder: commands reach the desk in the order of arrival.
func TestSurfaceKeepsOrder(t *testing.T) {
	desk := newFakeDesk()
	c := newConsole(t, serve(t, desk))
	for i := range 2000 {
		c.send(message(t, "/lookgate/recall", int32(i+1)))
		if i%100 == 99 { // so that the socket's buffer is never the matter
			for j := i - 99; j <= i; j++ {
				require.Equal(t, j+1, desk.take(t)[0].Preset)
			}
		}
	}
}

// TestSurfaceTellNeverWaits: where nobody sends replies, the desk goes on.
func TestSurfaceTellNeverWaits(t *testing.T) {
	s, err := NewSurface(newFakeDesk(), Config{Listen: "127.0.0.1:0", Stations: []protocols.Station{{Name: "booth"}}, Limits: DefaultLimits()})
	require.NoError(t, err)
	done := make(chan struct{})
	go func() {
		for range 3 * waitingReplies {
			s.refuse(sender{}, engine.Go, finding.Busy, finding.Place{}, "", "")
		}
		close(done)
	}()
	select {
	case <-done:
		require.Len(t, s.replies, waitingReplies)
	case <-time.After(patience):
		t.Fatal("tell waited")
	}
}
