package osc

import (
	"math"
	"math/rand/v2"
	"net/netip"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/engine"
	"lookgate/presets/finding"
	"lookgate/presets/units"
	"lookgate/protocols"
)

// commandRows are messages and the one command that each asks for.
var commandRows = []struct {
	name    string
	address string
	args    []any
	want    engine.Command
}{
	{"recall by address", "/lookgate/recall/12", nil, engine.Command{Verb: engine.Recall, Preset: 12}},
	{"recall by address, key down", "/lookgate/recall/12", []any{float32(1)}, engine.Command{Verb: engine.Recall, Preset: 12}},
	{"recall by address, key with velocity", "/lookgate/recall/12", []any{int32(127)}, engine.Command{Verb: engine.Recall, Preset: 12}},
	{"recall by number", "/lookgate/recall", []any{int32(12)}, engine.Command{Verb: engine.Recall, Preset: 12}},
	{"recall by number, a float", "/lookgate/recall", []any{float32(12)}, engine.Command{Verb: engine.Recall, Preset: 12}},
	{"recall by number, long", "/lookgate/recall", []any{int64(12), true}, engine.Command{Verb: engine.Recall, Preset: 12}},
	{"recall by number that nobody has", "/lookgate/recall", []any{int32(999)}, engine.Command{Verb: engine.Recall, Preset: 999}},
	{"recall by name", "/lookgate/recall", []any{"warm dusk"}, engine.Command{Verb: engine.Recall, Target: "warm dusk"}},
	{"recall by name, key down", "/lookgate/recall", []any{"warm dusk", int32(1)}, engine.Command{Verb: engine.Recall, Target: "warm dusk"}},
	{"recall at a scale", "/lookgate/recall/12/level", []any{float32(0.8)}, engine.Command{Verb: engine.Recall, Preset: 12, Level: 0.8, HasLevel: true}},
	{"recall at scale nought", "/lookgate/recall/12/level", []any{int32(0)}, engine.Command{Verb: engine.Recall, Preset: 12, HasLevel: true}},
	{"arm", "/lookgate/arm", []any{int32(3)}, engine.Command{Verb: engine.Arm, Preset: 3}},
	{"arm by address", "/lookgate/arm/3", nil, engine.Command{Verb: engine.Arm, Preset: 3}},
	{"arm at a scale", "/lookgate/arm/3/level", []any{0.25}, engine.Command{Verb: engine.Arm, Preset: 3, Level: 0.25, HasLevel: true}},
	{"go", "/lookgate/go", nil, engine.Command{Verb: engine.Go}},
	{"go, key down", "/lookgate/go", []any{true}, engine.Command{Verb: engine.Go}},
	{"back", "/lookgate/back", []any{int32(1)}, engine.Command{Verb: engine.Back}},
	{"level", "/lookgate/level", []any{float32(0.8)}, engine.Command{Verb: engine.Level, Level: 0.8, HasLevel: true}},
	{"level nought is a level", "/lookgate/level", []any{int32(0)}, engine.Command{Verb: engine.Level, HasLevel: true}},
	{"level beyond 1 is for the engine to refuse", "/lookgate/level", []any{int32(7)}, engine.Command{Verb: engine.Level, Level: 7, HasLevel: true}},
	{"zone level", "/lookgate/zone/bay/level", []any{0.5}, engine.Command{Verb: engine.ZoneLevel, Target: "bay", Level: 0.5, HasLevel: true}},
	{"zone level of a zone that is not there", "/lookgate/zone/roof/level", []any{0.5}, engine.Command{Verb: engine.ZoneLevel, Target: "roof", Level: 0.5, HasLevel: true}},
	{"step down", "/lookgate/step", []any{float32(-0.5)}, engine.Command{Verb: engine.StepBy, Stops: -0.5}},
	{"step of nought is a step", "/lookgate/step", []any{int32(0)}, engine.Command{Verb: engine.StepBy}},
	{"blackout", "/lookgate/blackout", nil, engine.Command{Verb: engine.Blackout}},
	{"blackout on", "/lookgate/blackout", []any{true}, engine.Command{Verb: engine.Blackout}},
	{"blackout, key down", "/lookgate/blackout", []any{float32(1)}, engine.Command{Verb: engine.Blackout}},
	{"blackout let go", "/lookgate/blackout", []any{false}, engine.Command{Verb: engine.Blackout, Off: true}},
	{"blackout of a zone", "/lookgate/blackout", []any{"bay"}, engine.Command{Verb: engine.Blackout, Target: "bay"}},
	{"blackout of a zone let go", "/lookgate/blackout", []any{"bay", false}, engine.Command{Verb: engine.Blackout, Target: "bay", Off: true}},
	{"worklight", "/lookgate/worklight", nil, engine.Command{Verb: engine.Worklight}},
	{"circuit out", "/lookgate/circuit/B1/out", nil, engine.Command{Verb: engine.CircuitOut, Target: "B1"}},
	{"circuit in", "/lookgate/circuit/B1/in", nil, engine.Command{Verb: engine.CircuitIn, Target: "B1"}},
	{"circuit locked off", "/lookgate/circuit/B1/locked-off", nil, engine.Command{Verb: engine.LockedOff, Target: "B1"}},
	{"attest", "/lookgate/attest", []any{"bay-1", "dark"}, engine.Command{Verb: engine.Attest, Target: "bay-1"}},
	{"attest by address", "/lookgate/attest/bay-1/dark", nil, engine.Command{Verb: engine.Attest, Target: "bay-1"}},
	{"identify a zone", "/lookgate/identify/zone/bay", nil, engine.Command{Verb: engine.Identify, Part: engine.ZonePart, Target: "bay"}},
	{"identify an output", "/lookgate/identify/output/bay-1", nil, engine.Command{Verb: engine.Identify, Part: engine.OutputPart, Target: "bay-1"}},
	{"identify a circuit, key down", "/lookgate/identify/circuit/B1", []any{int32(1)}, engine.Command{Verb: engine.Identify, Part: engine.CircuitPart, Target: "B1"}},
	{"identify a data run", "/lookgate/identify/data-run/heron-3", nil, engine.Command{Verb: engine.Identify, Part: engine.RunPart, Target: "heron-3"}},
	{"identify a panel", "/lookgate/identify", []any{"panel", "bay C3R1"}, engine.Command{Verb: engine.Identify, Part: engine.PanelPart, Target: "bay C3R1"}},
	{"identify what the engine refuses", "/lookgate/identify", []any{"leg", "A L1"}, engine.Command{Verb: engine.Identify, Part: "leg", Target: "A L1"}},
	{"prove", "/lookgate/prove/B1", nil, engine.Command{Verb: engine.Prove, Target: "B1"}},
	{"prove, by whom", "/lookgate/prove/B1", []any{"R. Ames"}, engine.Command{Verb: engine.Prove, Target: "B1", By: "R. Ames"}},
	{"prove, by whom, key down", "/lookgate/prove/B1", []any{"R. Ames", true}, engine.Command{Verb: engine.Prove, Target: "B1", By: "R. Ames"}},
	{"a proof taken back", "/lookgate/prove/B1/off", nil, engine.Command{Verb: engine.Prove, Target: "B1", Off: true}},
	{"query", "/lookgate/query", nil, engine.Command{Verb: engine.Query}},
}

// TestEveryVerbHasItsMessage: no verb of the engine is left without a way in.
func TestEveryVerbHasItsMessage(t *testing.T) {
	have := map[engine.Verb]bool{engine.ReloadSite: true} // see TestSurfaceReload
	for _, row := range commandRows {
		have[row.want.Verb] = true
	}
	for _, v := range engine.Verbs {
		require.True(t, have[v], string(v))
	}
}

// heard runs packets through a surface without sockets.
func heard(t testing.TB, packets ...[]byte) (batches [][]engine.Command, answers []*engine.Answer) {
	t.Helper()
	desk := newFakeDesk()
	s, err := NewSurface(desk, Config{Stations: []protocols.Station{{Name: "booth"}}, Limits: DefaultLimits()})
	require.NoError(t, err)
	for _, p := range packets {
		s.handle(p, someone)
		for len(desk.reloads) > 0 {
			<-desk.reloads
		}
	}
	for len(desk.batches) > 0 {
		batches = append(batches, <-desk.batches)
	}
	for len(s.replies) > 0 {
		answers = append(answers, (<-s.replies).answer)
	}
	return batches, answers
}

// TestKeyReleaseDoesNothing: no command and no answer.
func TestKeyReleaseDoesNothing(t *testing.T) {
	for _, row := range []struct {
		address string
		args    []any
	}{
		{"/lookgate/recall/12", []any{int32(0)}}, {"/lookgate/recall/12", []any{float32(0)}}, {"/lookgate/recall/12", []any{false}},
		{"/lookgate/recall", []any{int32(12), int32(0)}}, {"/lookgate/recall", []any{"dusk", false}}, {"/lookgate/recall", []any{int32(0)}},
		{"/lookgate/arm/3", []any{int64(0)}}, {"/lookgate/arm", []any{int32(3), 0.0}},
		{"/lookgate/go", []any{int32(0)}}, {"/lookgate/back", []any{false}}, {"/lookgate/worklight", []any{float32(0)}},
		{"/lookgate/circuit/B1/out", []any{int32(0)}}, {"/lookgate/circuit/B1/in", []any{int32(0)}}, {"/lookgate/circuit/B1/locked-off", []any{int32(0)}},
		{"/lookgate/attest/bay-1/dark", []any{int32(0)}}, {"/lookgate/attest", []any{"bay-1", "dark", int32(0)}},
		{"/lookgate/identify/zone/bay", []any{int32(0)}}, {"/lookgate/identify", []any{"panel", "bay C3R1", false}}, {"/lookgate/prove/B1", []any{int32(0)}},
		{"/lookgate/prove/B1", []any{"R. Ames", int32(0)}}, {"/lookgate/prove/B1/off", []any{false}},
		{"/lookgate/query", []any{int32(0)}}, {"/lookgate/reload", []any{int32(0)}},
		{"/lookgate/blackout", []any{int32(0)}}, {"/lookgate/blackout", []any{float32(0)}}, {"/lookgate/blackout", []any{"bay", int32(0)}},
	} {
		batches, answers := heard(t, message(t, row.address, row.args...))
		require.Empty(t, batches, "%s %v", row.address, row.args)
		require.Empty(t, answers, "%s %v", row.address, row.args)
	}
}

func TestBadMessagesAreAnswered(t *testing.T) {
	for _, row := range []struct {
		name    string
		address string
		args    []any
		code    finding.Code
		text    string
	}{
		{"no such verb", "/lookgate/fly", nil, finding.BadArguments, "there is nothing at this address"},
		{"no such shape", "/lookgate/recall/12/now", nil, finding.BadArguments, "there is nothing at this address"},
		{"the root alone", "/lookgate", nil, finding.BadArguments, "there is nothing at this address"},
		{"recall of nothing", "/lookgate/recall", nil, finding.BadArguments, "argument 1 is missing, a number belongs there"},
		{"recall of nobody", "/lookgate/recall", []any{""}, finding.BadArguments, "argument 1 is an empty name"},
		{"recall of a switch", "/lookgate/recall", []any{true}, finding.BadArguments, "argument 1 is of type T"},
		{"recall below 1", "/lookgate/recall", []any{int32(-1)}, finding.BadArguments, "-1 is no preset number, they begin at 1"},
		{"recall of a half", "/lookgate/recall", []any{1.5}, finding.BadArguments, "argument 1 is 1.5, not a whole number"},
		{"recall of a huge number", "/lookgate/recall", []any{int64(1 << 40)}, finding.BadArguments, "1099511627776 is no preset number"},
		{"recall of a word in the address", "/lookgate/recall/dusk", nil, finding.BadArguments, `"dusk" in the address is no preset number`},
		{"recall 0 in the address", "/lookgate/recall/0", nil, finding.BadArguments, "0 is no preset number"},
		{"recall with too much", "/lookgate/recall", []any{int32(1), int32(1), int32(1)}, finding.BadArguments, "3 arguments, at most 1 and a key's state are taken"},
		{"go with a word", "/lookgate/go", []any{"now"}, finding.BadArguments, "argument 1 is of type s, a switch"},
		{"level without a number", "/lookgate/level", nil, finding.BadArguments, "argument 1 is missing"},
		{"level as a word", "/lookgate/level", []any{"half"}, finding.BadArguments, "argument 1 is of type s"},
		{"level NaN", "/lookgate/level", []any{float32(math.NaN())}, finding.BadLevel, "argument 1 is NaN"},
		{"level infinite", "/lookgate/zone/bay/level", []any{math.Inf(1)}, finding.BadLevel, "argument 1 is +Inf"},
		{"step NaN", "/lookgate/step", []any{math.NaN()}, finding.BadLevel, "argument 1 is NaN"},
		{"two levels", "/lookgate/level", []any{0.5, 0.5}, finding.BadArguments, "2 arguments where one number belongs"},
		{"scale NaN", "/lookgate/recall/1/level", []any{math.NaN()}, finding.BadLevel, "argument 1 is NaN"},
		{"attest what", "/lookgate/attest", []any{"bay-1"}, finding.BadArguments, "argument 2 is missing"},
		{"attest lit", "/lookgate/attest", []any{"bay-1", "lit"}, finding.BadArguments, `argument 2 is "lit"`},
		{"identify what", "/lookgate/identify", []any{"panel"}, finding.BadArguments, "argument 2 is missing"},
		{"identify by number", "/lookgate/identify", []any{int32(7), "bay"}, finding.BadArguments, "argument 1 is of type i"},
		{"prove with too much", "/lookgate/prove/B1", []any{"R. Ames", true, true}, finding.BadArguments, "3 arguments"},
		{"blackout by a blob", "/lookgate/blackout", []any{[]byte{1}}, finding.BadArguments, "argument 1 is of type b"},
		{"blackout with too much", "/lookgate/blackout", []any{"bay", true, true}, finding.BadArguments, "3 arguments"},
		{"a later argument of a switch", "/lookgate/go", []any{math.NaN()}, finding.BadArguments, "argument 1 is NaN"},
	} {
		t.Run(row.name, func(t *testing.T) {
			batches, answers := heard(t, message(t, row.address, row.args...))
			require.Empty(t, batches)
			require.Len(t, answers, 1)
			require.Equal(t, engine.Refused, answers[0].Status)
			require.Zero(t, answers[0].ID)
			require.Equal(t, "booth", answers[0].Station)
			require.Equal(t, row.code, answers[0].Findings[0].Code)
			require.Contains(t, answers[0].Findings[0].Sentence, row.text)
			require.NotEmpty(t, answers[0].Findings[0].Remedies)
		})
	}
}

// TestBadPacketsAreAnswered: a truncated bundle, an unknown tag and a malformed
// pattern are each told, and change nothing.
func TestBadPacketsAreAnswered(t *testing.T) {
	whole := bundle(Immediately, message(t, "/lookgate/go"), message(t, "/lookgate/back"))
	for _, row := range []struct {
		name, text string
		packet     []byte
	}{
		{"truncated bundle", "the packet was refused whole: offset 40: element of 20 octets where 16 are left", whole[:len(whole)-4]},
		{"unknown tag", `the message was discarded: argument 1: type tag 'Z' is not known here`, []byte("/lookgate/go\x00\x00\x00\x00,Z\x00\x00")},
		{"malformed pattern", "a [ that is not closed", []byte("/lookgate/[go\x00\x00\x00,\x00\x00\x00")},
		{"a pattern that nothing matches", "there is nothing at this address", []byte("/lookgate/x*\x00\x00\x00\x00,\x00\x00\x00")},
	} {
		t.Run(row.name, func(t *testing.T) {
			batches, answers := heard(t, row.packet)
			require.Empty(t, batches)
			require.Len(t, answers, 1)
			require.Contains(t, answers[0].Findings[0].Sentence, row.text)
		})
	}
}

// TestOthersMessagesArePassedOver: no answer, so that two daemons never answer
// each other's answers and a console's chatter is not echoed.
func TestOthersMessagesArePassedOver(t *testing.T) {
	for address := range map[string]bool{"/ping": true, "/lookgateway/go": true, answerAddress: true, findingAddress: true, outcomeAddress: true,
		shortAddress: true, assumedAddress: true, lookAddress: true, armedAddress: true, headroomAddress: true, aboveAddress: true, alarmAddress: true} {
		batches, answers := heard(t, message(t, address, int64(1)))
		require.Empty(t, batches, address)
		require.Empty(t, answers, address)
	}
}

// TestOneBundleIsBounded: patterns cannot make commands without end, and a
// blackout at the end of such a bundle still goes through.
func TestOneBundleIsBounded(t *testing.T) {
	out := []byte("/lookgate/circuit/*/*\x00\x00\x00,\x00\x00\x00")
	var elements [][]byte
	for range 200 {
		elements = append(elements, out)
	}
	batches, answers := heard(t, bundle(Immediately, append(elements, message(t, "/lookgate/blackout"))...))
	require.Len(t, batches, 1)
	require.Len(t, batches[0], maxPatterns*6+1)
	require.Equal(t, engine.Blackout, batches[0][len(batches[0])-1].Verb)
	require.Equal(t, finding.Busy, answers[0].Findings[0].Code)

	desk := newFakeDesk()
	desk.view.Circuits = make([]engine.CircuitView, 400)
	for i := range desk.view.Circuits {
		desk.view.Circuits[i].Name = "B"
	}
	s, err := NewSurface(desk, Config{Stations: []protocols.Station{{Name: "booth"}}, Limits: DefaultLimits()})
	require.NoError(t, err)
	s.handle(bundle(Immediately, out, message(t, "/lookgate/blackout")), someone)
	batch := <-desk.batches
	require.Len(t, batch, maxCommands+1)
	require.Equal(t, engine.Blackout, batch[maxCommands].Verb)
	require.Contains(t, (<-s.replies).answer.Findings[0].Sentence, "176 commands beyond the 1024")
}

// TestRepliesAreBounded: however long the texts and lists, every datagram stays
// within MaxReply and the number of them is bounded.
func TestRepliesAreBounded(t *testing.T) {
	long := strings.Repeat("ä\x00long ", 2000)
	f := finding.Finding{Code: finding.DataRunOver, Place: finding.Place{Kind: long, Name: long}, Sentence: long,
		Remedies: []finding.Remedy{{When: finding.Now, Words: long}, {When: finding.Later, Words: long}}, Limit: units.InAmps(1)}
	a := &engine.Answer{ID: math.MaxInt64, Verb: engine.Recall, Status: engine.Refused}
	o := &engine.Outcome{ID: 1, Verb: engine.Recall, End: engine.DroppedEnd}
	v := &engine.View{Look: engine.LookView{Name: long}}
	for range 500 {
		a.Findings = append(a.Findings, f)
		o.Short = append(o.Short, engine.Reach{Output: long})
		o.Assumed = append(o.Assumed, long)
		v.Alarms = append(v.Alarms, engine.Event{Place: f.Place, Sentence: long, Do: long})
	}
	for name, packets := range map[string][][]byte{"answer": answerPackets(a), "outcome": outcomePackets(o), "view": viewPackets(v)} {
		require.LessOrEqual(t, len(packets), 2*maxListed+4, name)
		require.Greater(t, len(packets), maxListed, name)
		for _, p := range packets {
			require.LessOrEqual(t, len(p), MaxReply, name)
			_, err := Decode(p, DefaultLimits())
			require.NoError(t, err, name)
		}
	}
	groups, err := Decode(answerPackets(a)[0], DefaultLimits())
	require.NoError(t, err)
	require.Equal(t, int32(500), groups[0].Messages[0].Arguments[3], "the count is that of all")
}

// FuzzSurface: whatever the packet, what reaches the desk is a command of a known
// verb with numbers that can be written down, and there is an end to it.
func FuzzSurface(f *testing.F) {
	for _, packet := range packetSeeds(f) {
		f.Add(packet)
	}
	for _, row := range commandRows {
		f.Add(message(f, row.address, row.args...))
	}
	f.Fuzz(checkSurface)
}

func checkSurface(t *testing.T, packet []byte) {
	batches, answers := heard(t, packet)
	total := 0
	for _, batch := range batches {
		total += len(batch)
		for _, c := range batch {
			require.Contains(t, engine.Verbs, c.Verb)
			require.NotEqual(t, engine.ReloadSite, c.Verb)
			require.True(t, units.Finite(c.Level) && units.Finite(c.Stops))
			require.GreaterOrEqual(t, c.Preset, 0)
			require.Equal(t, "booth", c.Station)
		}
	}
	require.LessOrEqual(t, total, defaultElements*maxCommands)
	require.LessOrEqual(t, len(answers), waitingReplies)
}

// TestSurfaceMutants does some of that fuzzing in plain go test.
func TestSurfaceMutants(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for range 4000 {
		row := commandRows[rng.IntN(len(commandRows))]
		packet := message(t, row.address, row.args...)
		if rng.IntN(2) == 0 {
			packet = bundle(Immediately, packet, packet)
		}
		for range 1 + rng.IntN(3) {
			packet = mutate(rng, packet)
		}
		checkSurface(t, packet)
	}
}

var someone = netip.MustParseAddrPort("127.0.0.1:40000")
