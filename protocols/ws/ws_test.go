package ws_test

import (
	"context"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/gorilla/websocket"
	"github.com/stretchr/testify/require"

	"lookgate/presets/engine"
	"lookgate/presets/finding"
	"lookgate/presets/rig"
	"lookgate/presets/units"
	"lookgate/protocols"
	"lookgate/protocols/desktest"
	"lookgate/protocols/ws"
)

// patience is how long a test waits for what must come.
const patience = 5 * time.Second

// booth is a handler on loopback over a fake desk.
type booth struct {
	t    *testing.T
	desk *desktest.Desk
	ws   *ws.Server
	url  string
	stop context.CancelFunc
}

func newBooth(t *testing.T, rule desktest.Rule, o ws.Options, l ws.Limits) *booth {
	t.Helper()
	desk := desktest.New(desktest.View(), desktest.Rig(), rule)
	t.Cleanup(desk.Close)
	s := ws.New(desk, o)
	s.Limit(l)
	ctx, stop := context.WithCancel(context.Background())
	h := httptest.NewUnstartedServer(s)
	h.Config.BaseContext = func(net.Listener) context.Context { return ctx }
	h.Start()
	t.Cleanup(func() {
		stop()
		h.Close()
		require.Eventually(t, func() bool { return s.Clients() == 0 }, patience, time.Millisecond, "a client outlives the end")
		require.Eventually(t, func() bool { return desk.Watchers() == 0 }, patience, time.Millisecond, "a watcher outlives its client")
	})
	return &booth{t, desk, s, "ws" + strings.TrimPrefix(h.URL, "http"), stop}
}

// panel is a connected client; what it reads goes through [panel.next] and [panel.until].
type panel struct {
	t *testing.T
	*websocket.Conn
}

func (b *booth) join(query string) panel {
	b.t.Helper()
	c, _, err := websocket.DefaultDialer.Dial(b.url+query, nil)
	require.NoError(b.t, err)
	b.t.Cleanup(func() { c.Close() })
	return panel{b.t, c}
}

// heard is any message from the server.
type heard struct {
	ID     json.RawMessage `json:"id"`
	Result json.RawMessage `json:"result"`
	Error  *struct{ Code int }
	Method string
	Params json.RawMessage
}

func (p panel) call(text string) {
	p.t.Helper()
	require.NoError(p.t, p.WriteMessage(websocket.TextMessage, []byte(text)))
}

// next reads one message, whatever it is.
func (p panel) next() []byte {
	p.t.Helper()
	require.NoError(p.t, p.SetReadDeadline(time.Now().Add(patience)))
	_, text, err := p.ReadMessage()
	require.NoError(p.t, err)
	return text
}

// until reads on until a message fits.
func (p panel) until(fits func(heard) bool) heard {
	p.t.Helper()
	for {
		var h heard
		text := p.next()
		if text[0] == '[' {
			continue
		}
		require.NoError(p.t, json.Unmarshal(text, &h))
		if fits(h) {
			return h
		}
	}
}

func (p panel) reply(id string) heard {
	p.t.Helper()
	return p.until(func(h heard) bool { return string(h.ID) == id })
}

func (p panel) notice(method string) heard {
	p.t.Helper()
	return p.until(func(h heard) bool { return h.Method == method })
}

// ended reads until the connection ends, and gives the close code, -1 for an end without one.
func (p panel) ended() int {
	p.t.Helper()
	require.NoError(p.t, p.SetReadDeadline(time.Now().Add(patience)))
	for {
		if _, _, err := p.ReadMessage(); err != nil {
			if e, ok := err.(*websocket.CloseError); ok {
				return e.Code
			}
			var timeout net.Error
			ok := asTimeout(err, &timeout)
			require.False(p.t, ok, "the connection did not end")
			return -1
		}
	}
}

func asTimeout(err error, into *net.Error) bool {
	e, ok := err.(net.Error)
	*into = e
	return ok && e.Timeout()
}

func TestMethodsAreTheDesksCommands(t *testing.T) {
	for call, want := range map[string]engine.Command{
		`"recall","params":{"preset":12}`:                      {Verb: engine.Recall, Preset: 12},
		`"recall","params":[12]`:                               {Verb: engine.Recall, Preset: 12},
		`"recall","params":["dusk",0.5]`:                       {Verb: engine.Recall, Target: "dusk", Level: 0.5, HasLevel: true},
		`"recall","params":{"name":"dusk","scale":0}`:          {Verb: engine.Recall, Target: "dusk", HasLevel: true},
		`"arm","params":{"preset":12,"scale":0.8,"name":null}`: {Verb: engine.Arm, Preset: 12, Level: 0.8, HasLevel: true},
		`"go"`:                                                   {Verb: engine.Go},
		`"back","params":[]`:                                     {Verb: engine.Back},
		`"worklight","params":{}`:                                {Verb: engine.Worklight},
		`"level","params":[0.25]`:                                {Verb: engine.Level, Level: 0.25, HasLevel: true},
		`"level","params":{"level":7}`:                           {Verb: engine.Level, Level: 7, HasLevel: true}, // the engine refuses it, with its reasons
		`"zoneLevel","params":["bay",1]`:                         {Verb: engine.ZoneLevel, Target: "bay", Level: 1, HasLevel: true},
		`"step","params":{"stops":-0.5}`:                         {Verb: engine.StepBy, Stops: -0.5},
		`"blackout"`:                                             {Verb: engine.Blackout},
		`"blackout","params":{"off":true}`:                       {Verb: engine.Blackout, Off: true},
		`"blackout","params":["bay"]`:                            {Verb: engine.Blackout, Target: "bay"},
		`"circuit","params":["A07","out"]`:                       {Verb: engine.CircuitOut, Target: "A07"},
		`"circuit","params":["A07","in"]`:                        {Verb: engine.CircuitIn, Target: "A07"},
		`"circuit","params":["A07","locked-off"]`:                {Verb: engine.LockedOff, Target: "A07"},
		`"attest","params":{"output":"wing"}`:                    {Verb: engine.Attest, Target: "wing"},
		`"identify","params":["circuit","A07"]`:                  {Verb: engine.Identify, Part: engine.CircuitPart, Target: "A07"},
		`"identify","params":{"part":"panel","name":"bay C3R1"}`: {Verb: engine.Identify, Part: engine.PanelPart, Target: "bay C3R1"},
		`"prove","params":["A07"]`:                               {Verb: engine.Prove, Target: "A07"},
		`"prove","params":{"circuit":"A07","by":"R. Ames"}`:      {Verb: engine.Prove, Target: "A07", By: "R. Ames"},
		`"prove","params":{"circuit":"A07","off":true}`:          {Verb: engine.Prove, Target: "A07", Off: true},
		`"query"`:  {Verb: engine.Query},
		`"reload"`: {Verb: engine.ReloadSite},
	} {
		t.Run(call, func(t *testing.T) {
			desk := desktest.New(desktest.View(), desktest.Rig(), desktest.Accept)
			t.Cleanup(desk.Close)
			texts := ws.Answers(desk, fmt.Appendf(nil, `{"jsonrpc":"2.0","method":%s,"id":1}`, call), func() { settle(desk) })
			want.ID, want.Station = 1, ws.Panel
			require.Equal(t, want, desk.Orders()[0][0])
			require.JSONEq(t, fmt.Sprintf(`{"jsonrpc":"2.0","id":1,"result":{"id":1,"station":"panel","verb":%q,"status":"accepted"}}`, want.Verb), string(texts[0]))
			require.JSONEq(t, fmt.Sprintf(`{"jsonrpc":"2.0","method":"outcome","params":{"id":1,"station":"panel","verb":%q,"end":"on","took":0}}`, want.Verb), string(texts[1]))
		})
	}
}

func TestEveryVerbHasItsMethod(t *testing.T) {
	methods := map[engine.Verb]string{
		engine.Recall: `"recall","params":[1]`, engine.Arm: `"arm","params":[1]`, engine.Go: `"go"`, engine.Back: `"back"`, engine.Level: `"level","params":[1]`,
		engine.ZoneLevel: `"zoneLevel","params":["a",1]`, engine.StepBy: `"step","params":[1]`, engine.Blackout: `"blackout"`, engine.Worklight: `"worklight"`,
		engine.CircuitOut: `"circuit","params":["a","out"]`, engine.CircuitIn: `"circuit","params":["a","in"]`, engine.LockedOff: `"circuit","params":["a","locked-off"]`,
		engine.Attest: `"attest","params":["a"]`, engine.Identify: `"identify","params":["zone","a"]`, engine.Prove: `"prove","params":["a"]`, engine.Query: `"query"`, engine.ReloadSite: `"reload"`,
	}
	desk := desktest.New(desktest.View(), desktest.Rig(), desktest.Accept)
	t.Cleanup(desk.Close)
	for _, v := range engine.Verbs {
		require.Contains(t, methods, v, "a verb that no browser can ask for")
		before := len(desk.Orders())
		ws.Answers(desk, fmt.Appendf(nil, `{"jsonrpc":"2.0","method":%s,"id":1}`, methods[v]), func() { settle(desk) })
		require.Equal(t, v, desk.Orders()[before][0].Verb)
	}
}

func TestWrongArgumentsChangeNothing(t *testing.T) {
	desk := desktest.New(desktest.View(), desktest.Rig(), desktest.Accept)
	t.Cleanup(desk.Close)
	for _, call := range []string{
		`"recall"`, `"recall","params":{"preset":1.5}`, `"recall","params":{"preset":"1"}`, `"recall","params":{"name":12}`, `"recall","params":{"preset":1,"name":"x"}`,
		`"recall","params":[1,2,3]`, `"recall","params":{"preset":1,"Scale":1}`, `"level"`, `"level","params":["0.5"]`, `"level","params":[null]`, `"level","params":[true]`,
		`"level","params":[1e999]`, `"zoneLevel","params":["bay"]`, `"step","params":[[1]]`, `"blackout","params":{"off":1}`, `"go","params":[1]`, `"worklight","params":{"x":1}`,
		`"circuit","params":["A07","open"]`, `"circuit","params":["A07"]`, `"attest","params":[]`, `"identify","params":["zone"]`, `"identify","params":[1,"a"]`, `"prove"`, `"prove","params":{"circuit":"A07","off":1}`, `"reload","params":[1]`, `"record","params":[1001]`, `"record","params":[-1]`,
		`"state","params":[1]`,
	} {
		text := ws.Answers(desk, fmt.Appendf(nil, `{"jsonrpc":"2.0","method":%s,"id":1}`, call), func() {})
		require.Len(t, text, 1, call)
		got, err := short(text[0])
		require.NoError(t, err)
		require.Equal(t, `{"error":-32602,"id":1}`, got, call)
	}
	require.Empty(t, desk.Orders())
}

// What a client sends in one batch reaches the desk as one order, so that nothing comes between; and its reply waits for every answer in it.
func TestABatchIsOneOrder(t *testing.T) {
	b := newBooth(t, desktest.Accept, ws.Options{}, ws.Limits{})
	p := b.join("")
	p.call(`[{"jsonrpc":"2.0","method":"arm","params":[12],"id":1},{"jsonrpc":"2.0","method":"level","params":[0.5]},{"jsonrpc":"2.0","method":"record","id":2},{"jsonrpc":"2.0","method":"go","id":3}]`)
	var outcomes []uint64
	var ids []string
	for len(outcomes) < 2 {
		text := p.next()
		var list []heard
		if json.Unmarshal(text, &list) == nil {
			require.Empty(t, outcomes, "outcomes follow the reply")
			for _, h := range list {
				ids = append(ids, string(h.ID))
			}
			continue
		}
		var h heard
		require.NoError(t, json.Unmarshal(text, &h))
		if h.Method == "outcome" {
			var o engine.Outcome
			require.NoError(t, json.Unmarshal(h.Params, &o))
			outcomes = append(outcomes, o.ID)
		}
	}
	require.Equal(t, []string{"1", "2", "3"}, ids)
	require.Equal(t, []uint64{1, 3}, outcomes, "what was asked in silence ends in silence")
	require.Len(t, b.desk.Orders(), 1)
	require.Len(t, b.desk.Orders()[0], 3)
}

func TestRefusalsCarryTheirFindings(t *testing.T) {
	b := newBooth(t, func(engine.Command) desktest.Reply {
		return desktest.Reply{Answer: engine.Answer{Status: engine.Refused, Findings: desktest.Refused().Findings}}
	}, ws.Options{}, ws.Limits{})
	p := b.join("")
	p.call(`{"jsonrpc":"2.0","method":"recall","params":[40],"id":1}`)
	var a engine.Answer
	require.NoError(t, json.Unmarshal(p.reply("1").Result, &a))
	require.Equal(t, engine.Refused, a.Status)
	require.Equal(t, desktest.Refused().Findings, a.Findings)
	require.Equal(t, finding.CircuitOver, a.Findings[0].Code)
}

func TestStations(t *testing.T) {
	b := newBooth(t, desktest.Accept, ws.Options{Stations: []protocols.Station{{Name: "gaffer", Engineer: true}, {Name: "panel"}}}, ws.Limits{})
	for query, want := range map[string]engine.Command{"": {Station: "panel"}, "?station=gaffer": {Station: "gaffer", Engineer: true}, "?station=panel": {Station: "panel"}} {
		before := len(b.desk.Orders())
		p := b.join(query)
		p.call(`{"jsonrpc":"2.0","method":"back","id":1}`)
		p.reply("1")
		got := b.desk.Orders()[before][0]
		require.Equal(t, want, engine.Command{Station: got.Station, Engineer: got.Engineer})
	}
	_, answer, err := websocket.DefaultDialer.Dial(b.url+"?station=nobody", nil)
	require.Error(t, err)
	require.Equal(t, 403, answer.StatusCode)
}

func TestOtherOriginsAreRefused(t *testing.T) {
	b := newBooth(t, desktest.Accept, ws.Options{}, ws.Limits{})
	for _, origin := range []string{"http://evil.example", "null", "http://127.0.0.1:1"} {
		_, answer, err := websocket.DefaultDialer.Dial(b.url, http.Header{"Origin": {origin}})
		require.Error(t, err, origin)
		require.Equal(t, 403, answer.StatusCode, origin)
	}
	require.Zero(t, b.desk.Watchers())
}

// States come whole, on connecting and after changes, at most ten a second, and the last one always arrives.
func TestStatesArePacedAndTheLastOneWins(t *testing.T) {
	b := newBooth(t, desktest.Accept, ws.Options{Plant: func(r *rig.Rig) any { return r.Name }}, ws.Limits{})
	p := b.join("")
	require.JSONEq(t, `"Saltmarsh Studios, Stage B"`, string(p.notice("plant").Params))
	var v engine.View
	require.NoError(t, json.Unmarshal(p.notice("state").Params, &v))
	require.Equal(t, *b.desk.View(), v)

	const changes = 400
	begun := time.Now()
	for i := 1; i <= changes; i++ {
		b.desk.Change(func(v *engine.View) { v.Look.Scale = units.Level(i) / changes })
	}
	states := 0
	for last := units.Level(0); last < 1; states++ {
		require.NoError(t, json.Unmarshal(p.notice("state").Params, &v))
		require.Greater(t, v.Look.Scale, last, "never older than what was shown")
		last = v.Look.Scale
	}
	require.LessOrEqual(t, states, 2+int(time.Since(begun)/(100*time.Millisecond)))

	other := desktest.Rig()
	other.Name = "rewired"
	b.desk.Rewire(other)
	require.JSONEq(t, `"rewired"`, string(p.notice("plant").Params))
}

func TestSignsOfLife(t *testing.T) {
	b := newBooth(t, desktest.Accept, ws.Options{Age: func() time.Duration { return 1500 * time.Millisecond }}, ws.Limits{Alive: 10 * time.Millisecond})
	require.JSONEq(t, `{"age":1.5}`, string(b.join("").notice("alive").Params))
}

// A state that cannot be written must not pass for a wall at rest: the signs of life stop with it.
func TestNoSignOfLifeWithoutAState(t *testing.T) {
	b := newBooth(t, desktest.Accept, ws.Options{}, ws.Limits{Alive: 10 * time.Millisecond})
	p := b.join("")
	p.notice("alive")
	endless := units.Stops(1)
	for range 2000 {
		endless *= 2
	}
	b.desk.Change(func(v *engine.View) { v.Dip = &engine.DipView{Depth: endless} })
	require.NoError(t, p.SetReadDeadline(time.Now().Add(time.Second)))
	silent := time.Now()
	for {
		if _, _, err := p.ReadMessage(); err != nil {
			break
		}
		silent = time.Now()
	}
	require.Greater(t, time.Since(silent), 500*time.Millisecond)
}

// A client that stops reading is dropped, and neither the desk nor another client waits for it: not one that asks on and on, whose replies collect, nor
// one that only has states coming, whose socket takes nothing more.
func TestAStuckClientIsDroppedAndSlowsNothing(t *testing.T) {
	for name, l := range map[string]ws.Limits{
		"asks on":    {Queue: 8, Send: time.Minute},
		"only hears": {Send: 100 * time.Millisecond, Pace: time.Microsecond},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBooth(t, desktest.Accept, ws.Options{}, l)
			stuck, good := b.join(""), b.join("")
			ended := make(chan struct{})
			go func() {
				defer close(ended)
				for name == "asks on" && stuck.WriteMessage(websocket.TextMessage, []byte(`{"jsonrpc":"2.0","method":"back","id":1}`)) == nil {
				}
			}()
			slowest := time.Duration(0)
			for i := 1; b.ws.Clients() == 2; i++ {
				b.desk.Change(func(v *engine.View) { v.At++ })
				begun := time.Now()
				good.call(fmt.Sprintf(`{"jsonrpc":"2.0","method":"go","id":%d}`, i))
				good.reply(fmt.Sprint(i))
				slowest = max(slowest, time.Since(begun))
				require.Less(t, i, 200_000, "the stuck client is never dropped")
			}
			require.Less(t, slowest, 2*time.Second, "far below the minute that a write to the stuck one may take")
			good.call(`{"jsonrpc":"2.0","method":"go","id":"still here"}`)
			good.reply(`"still here"`)
			stuck.Close()
			<-ended
		})
	}
}

func TestCommandsInFlightAreLimitedAndABlackoutStillGoes(t *testing.T) {
	b := newBooth(t, func(engine.Command) desktest.Reply { return desktest.Reply{Silent: true} }, ws.Options{}, ws.Limits{Flight: 2})
	p := b.join("")
	for i := 1; i <= 3; i++ {
		p.call(fmt.Sprintf(`{"jsonrpc":"2.0","method":"back","id":%d}`, i))
	}
	require.Equal(t, -32000, p.reply("3").Error.Code)
	p.call(`{"jsonrpc":"2.0","method":"blackout","id":4}`)
	require.Eventually(t, func() bool {
		orders := b.desk.Orders()
		return len(orders) == 3 && orders[2][0].Verb == engine.Blackout
	}, patience, time.Millisecond)
}

func TestClientsAreLimited(t *testing.T) {
	b := newBooth(t, desktest.Accept, ws.Options{Clients: 1}, ws.Limits{})
	p := b.join("")
	_, answer, err := websocket.DefaultDialer.Dial(b.url, nil)
	require.Error(t, err)
	require.Equal(t, 503, answer.StatusCode)
	require.NoError(t, p.Close())
	require.Eventually(t, func() bool { return b.ws.Clients() == 0 }, patience, time.Millisecond)
	b.join("").notice("state")
}

func TestWhatBreaksTheRulesIsClosed(t *testing.T) {
	b := newBooth(t, desktest.Accept, ws.Options{}, ws.Limits{Silence: 300 * time.Millisecond, Ping: time.Hour})
	for name, row := range map[string]struct {
		do   func(panel)
		code int
	}{
		"binary":   {func(p panel) { require.NoError(t, p.WriteMessage(websocket.BinaryMessage, []byte("{}"))) }, websocket.CloseUnsupportedData},
		"too long": {func(p panel) { p.call(strings.Repeat(" ", 64<<10) + "1") }, websocket.CloseMessageTooBig},
		"silence":  {func(panel) {}, websocket.ClosePolicyViolation},
	} {
		t.Run(name, func(t *testing.T) {
			p := b.join("")
			row.do(p)
			require.Equal(t, row.code, p.ended())
		})
	}
}

func TestClientsAreToldWhenLookgateStops(t *testing.T) {
	b := newBooth(t, desktest.Accept, ws.Options{}, ws.Limits{})
	p := b.join("")
	p.notice("state")
	b.stop()
	require.Equal(t, websocket.CloseGoingAway, p.ended())
}
