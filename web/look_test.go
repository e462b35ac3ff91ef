package web_test

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"

	"lookgate/presets/engine"
	"lookgate/presets/finding"
	"lookgate/presets/rig"
	"lookgate/presets/units"
	"lookgate/protocols"
	"lookgate/protocols/desktest"
	"lookgate/protocols/httpd"
	"lookgate/protocols/ws"
	"lookgate/web"
)

// patience is how long a test waits for what a page must show.
const patience = 10 * time.Second

// daemon is the panel's other side in these tests: the real listener and the real WebSocket over a fake desk. It can be ended and started anew at the
// same address.
type daemon struct {
	t    *testing.T
	desk *desktest.Desk
	addr string
	end  func()
}

func newDaemon(t *testing.T, rule desktest.Rule) *daemon {
	t.Helper()
	d := &daemon{t: t, desk: desktest.New(desktest.View(), desktest.Rig(), rule), addr: "127.0.0.1:0"}
	t.Cleanup(d.desk.Close)
	d.start()
	t.Cleanup(func() { d.end() })
	return d
}

func (d *daemon) start() {
	d.t.Helper()
	assets, err := httpd.Assets(web.Files())
	require.NoError(d.t, err)
	clients := ws.New(d.desk, ws.Options{Plant: func(r *rig.Rig) any { return httpd.PlantOf(r) }})
	s := httpd.New(d.desk, httpd.Options{Listen: d.addr}, httpd.Mount{Path: "/", Handler: assets}, httpd.Mount{Path: "/ws", Handler: clients})
	require.NoError(d.t, s.Open())
	d.addr = s.Addr()
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- s.Serve(ctx) }()
	d.end = sync.OnceFunc(func() {
		cancel()
		require.NoError(d.t, <-ended)
	})
}

// page is a browser with the panel open, and everything that its console complained of.
type page struct {
	t   *testing.T
	ctx context.Context
	mu  sync.Mutex
	bad []string
}

func chromium(t *testing.T) string {
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if at, err := exec.LookPath(name); err == nil {
			return at
		}
	}
	if os.Getenv("CI") == "true" {
		t.Fatal("no Chromium on this machine\ninstall it, the panel must be seen")
	}
	t.Skip("no Chromium on this machine")
	return ""
}

func openPanel(t *testing.T, d *daemon, width, height int64) *page {
	t.Helper()
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(chromium(t)), chromedp.NoSandbox,
		chromedp.Flag("disable-dev-shm-usage", true), chromedp.UserDataDir(t.TempDir()))
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	ctx, cancel = context.WithTimeout(ctx, 90*time.Second)
	t.Cleanup(cancel)
	p := &page{t: t, ctx: ctx}
	require.NoError(t, chromedp.Listen(ctx, p.listen))
	_, err := chromedp.Call(ctx, log.Enable, cdp.Empty{})
	require.NoError(t, err)
	p.do(chromedp.EmulateViewport(width, height), chromedp.Navigate("http://"+d.addr+"/"))
	p.until(`document.body.dataset.link === 'fresh' && document.querySelectorAll('.panel').length > 0`)
	return p
}

func (p *page) listen(event any) {
	p.mu.Lock()
	defer p.mu.Unlock()
	switch e := event.(type) {
	case *runtime.EventExceptionThrown:
		p.bad = append(p.bad, "exception: "+exception(e.ExceptionDetails))
	case *runtime.EventConsoleAPICalled:
		if e.Type == runtime.ConsoleAPICalledTypeError || e.Type == runtime.ConsoleAPICalledTypeWarning || e.Type == runtime.ConsoleAPICalledTypeAssert {
			p.bad = append(p.bad, "console: "+string(e.Type))
		}
	case *log.EventEntryAdded:
		if e.Entry.Level == log.EntryLevelError || e.Entry.Level == log.EntryLevelWarning {
			p.bad = append(p.bad, "log: "+e.Entry.Text)
		}
	}
}

func exception(d *runtime.ExceptionDetails) string {
	if d.Exception != nil {
		return d.Exception.Description
	}
	return d.Text
}

func (p *page) do(actions ...chromedp.Action[chromedp.Void]) {
	p.t.Helper()
	require.NoError(p.t, chromedp.Do(p.ctx, actions...))
}

// until waits until an expression holds in the page.
func (p *page) until(expression string) {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, patience)
	defer cancel()
	tick := time.NewTicker(20 * time.Millisecond)
	defer tick.Stop()
	for {
		if ok, err := chromedp.Run(ctx, chromedp.Evaluate[bool](`Boolean(`+expression+`)`)); err == nil && ok {
			return
		}
		select {
		case <-tick.C:
		case <-ctx.Done():
			p.shoot("failed")
			require.Fail(p.t, "the page never shows it", "%s\n%v", expression, p.bad)
		}
	}
}

func (p *page) eval(expression string) string {
	p.t.Helper()
	s, err := chromedp.Run(p.ctx, chromedp.Evaluate[string](`String(`+expression+`)`))
	require.NoError(p.t, err, expression)
	return s
}

// press clicks with a real pointer, at the middle of what the selector finds.
func (p *page) press(selector string) {
	p.t.Helper()
	p.do(chromedp.Click(chromedp.CSS(selector), chromedp.NodeVisible))
}

// quiet fails where the console complained of anything but what is excused.
func (p *page) quiet(excused ...string) {
	p.t.Helper()
	p.mu.Lock()
	defer p.mu.Unlock()
next:
	for _, b := range p.bad {
		for _, e := range excused {
			if strings.Contains(b, e) {
				continue next
			}
		}
		p.t.Errorf("the console complains: %s", b)
	}
}

// shoot keeps a screenshot where LOOKGATE_SHOTS names a folder, else in the test's own.
func (p *page) shoot(name string) {
	p.t.Helper()
	dir := os.Getenv("LOOKGATE_SHOTS")
	if dir == "" {
		dir = p.t.TempDir()
	}
	png, err := chromedp.Run(p.ctx, chromedp.CaptureScreenshot())
	require.NoError(p.t, err)
	require.Greater(p.t, len(png), 10_000, "a screenshot of nothing")
	require.NoError(p.t, os.MkdirAll(dir, 0o755))
	require.NoError(p.t, os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644))
}

func (d *daemon) lastOrder() engine.Command {
	orders := d.desk.Orders()
	if len(orders) == 0 {
		return engine.Command{}
	}
	last := orders[len(orders)-1]
	return last[len(last)-1]
}

func (d *daemon) ordered(fits func(engine.Command) bool) {
	d.t.Helper()
	require.Eventually(d.t, func() bool { return fits(d.lastOrder()) }, patience, 5*time.Millisecond, "last order: %+v", d.lastOrder())
}

var sizes = []struct {
	name          string
	width, height int64
}{{"1366x768", 1366, 768}, {"1920x1080", 1920, 1080}}

// refusing answers as the demo stage does: noon glare is refused at full scale, everything else goes.
func refusing(c engine.Command) desktest.Reply {
	glare := c.Preset == 40 || c.Target == "noon glare"
	if c.Verb == engine.Recall && glare && !c.HasLevel {
		return desktest.Reply{Answer: engine.Answer{Status: engine.Refused, Findings: desktest.Refused().Findings}}
	}
	return desktest.Accept(c)
}

// crowded puts everything on the wall at once that can be there.
func crowded(v *engine.View) {
	full := desktest.Lit(v, 0.95, 0.62, 0.4, 0)
	*v = *full
	v.Look.State, v.Look.Assumed = "pending", true
	v.Armed, v.Dip = 20, &engine.DipView{Depth: -1.2, Zones: []string{"lid"}, About: 400 * time.Millisecond}
	v.Running = &engine.RunningView{ID: 9, Verb: engine.Recall, Since: v.At - time.Second, Waiting: "device south to confirm"}
	v.DiskSick = "no space left on device"
	v.Outputs[1].State, v.Outputs[1].Low, v.Outputs[1].Confirmed = "pending", 0.3, false
	v.Circuits = append([]engine.CircuitView(nil), v.Circuits...)
	v.Circuits[3].Service, v.Circuits[25].Service = "out", "locked-off"
	v.Alarms = []engine.Event{
		{Kind: "alarm", Key: "south", Place: finding.Place{Kind: "device", Name: "south"}, Sentence: "does not answer for 3.2 s", Do: "look at its network cable; its outputs count at their highest"},
		{Kind: "alarm", Key: "hand", Place: finding.Place{Kind: "output", Name: "wing"}, Sentence: "stands at 40 %, which nobody here sent", Do: "ask who works at the device, or send the look again"},
	}
	v.Conductors[6].Worst, v.Conductors[6].Headroom, v.Conductors[6].Stops = 17.2, -1.2, -0.1
	v.Look.Worst = "circuit A07"
}

func TestThePanelIsSeenWhole(t *testing.T) {
	for _, size := range sizes {
		t.Run(size.name, func(t *testing.T) {
			d := newDaemon(t, refusing)
			writeRecord(d.desk)
			p := openPanel(t, d, size.width, size.height)
			p.until(`document.querySelectorAll('.entry').length > 3`)
			requireFits(t, p, size.name+"-rest")

			p.press(`[data-number="40"]`)
			p.until(`document.querySelector('#folio .remedy') !== null`)
			requireFits(t, p, size.name+"-refused-preset")
			p.press(`#folio .keys button:nth-child(2)`)
			p.until(`document.querySelector('#folio .note[data-kind="refused"] .remedy') !== null`)
			requireFits(t, p, size.name+"-refused-answer")

			p.press(`#by-circuit`)
			p.press(`[data-tab="-1"]`)
			requireFits(t, p, size.name+"-circuits-and-record")
			p.press(`#by-load`)
			p.press(`[data-tab="0"]`)
			d.desk.Change(crowded)
			p.until(`document.querySelectorAll('.alarm').length === 2`)
			p.press(`#go`)
			p.until(`document.querySelector('#go-group .note:not([hidden])') !== null`)
			requireFits(t, p, size.name+"-crowded")
			p.quiet()
		})
	}
}

// A board that counts by ways, with single-pole circuits, and everything dark.
func TestThePanelIsSeenWholeOnAnotherPlant(t *testing.T) {
	d := newDaemon(t, refusing)
	r := desktest.Rig()
	for i := range r.Boards {
		r.Boards[i].Numbering = rig.ByWays
	}
	next := []int{0, 0}
	for i := range r.Circuits {
		b := r.Circuits[i].Board
		next[b]++
		r.Circuits[i].Poles = []int{next[b]}
	}
	d.desk.Rewire(r)
	dark := desktest.Lit(desktest.View(), 0, 0, 0, 0)
	dark.Look.Blackout = true
	dark.Zones = append([]engine.ZoneView(nil), dark.Zones...)
	for i := range dark.Zones {
		dark.Zones[i].Black = true
	}
	d.desk.Show(dark)
	p := openPanel(t, d, 1366, 768)
	p.until(`document.querySelectorAll('.door.ways .way').length === 42`)
	p.until(`document.getElementById('look-state').textContent.startsWith('blackout')`)
	p.press(`#blackout`)
	p.until(`document.querySelector('#dark-group .note[data-kind="accepted"]') !== null`)
	requireFits(t, p, "1366x768-ways-and-blackout")
	p.quiet()
}

// requireFits keeps a screenshot and checks what an eye would: nothing that is always needed lies outside the window, nothing to touch is small, no
// words of a button are cut.
func requireFits(t *testing.T, p *page, name string) {
	t.Helper()
	p.shoot(name)
	require.Equal(t, "true", p.eval(`document.documentElement.scrollHeight <= innerHeight && document.documentElement.scrollWidth <= innerWidth`), "%s: the page scrolls", name)
	require.Empty(t, p.eval(`[...document.querySelectorAll('.head, #look-state, #tight, #wall svg, #inspector, #zones, #headroom, #board, .hand button, .hand input, footer .caution')]
		.filter((e) => e.checkVisibility()).filter((e) => { const r = e.getBoundingClientRect(); return r.width < 1 || r.height < 1 || r.left < 0 || r.top < 0 || r.right > innerWidth + 1 || r.bottom > innerHeight + 1; })
		.map((e) => e.id || e.className).join(' ')`), "%s: outside the window", name)
	require.Empty(t, p.eval(`[...document.querySelectorAll('button, input')].filter((e) => e.checkVisibility())
		.filter((e) => { const r = e.getBoundingClientRect(); return r.height < 43.5 || r.width < 43.5; }).map((e) => (e.id || e.className || e.textContent) + ' ' + e.getBoundingClientRect().height).join(', ')`), "%s: too small to touch", name)
	require.Empty(t, p.eval(`[...document.querySelectorAll('.hand button, .inspector button, .folio button, .switch button, .tabs button')].filter((e) => e.checkVisibility())
		.filter((e) => e.scrollWidth > e.clientWidth + 1 || e.scrollHeight > e.clientHeight + 1).map((e) => e.id || e.textContent).join(', ')`), "%s: words are cut", name)
}

func writeRecord(d *desktest.Desk) {
	at := time.Date(2031, 3, 4, 18, 20, 0, 0, time.UTC)
	for i, l := range []protocols.Line{
		{Kind: "command", Station: "desk-1", Text: "recall 12 dusk over the flats"}, {Kind: "answer", Station: "desk-1", Text: "accepted"},
		{Kind: "outcome", Station: "desk-1", Text: "on in 0.42 s; wing and lid assumed"}, {Kind: "alarm", Text: "device south does not answer for 3.2 s"},
		{Kind: "clear", Text: "device south answers again"}, {Kind: "command", Station: "panel", Text: "zone-level bay 62 %"},
	} {
		l.Seq, l.At = uint64(i+1), at.Add(time.Duration(i)*7*time.Second)
		d.Write(l)
	}
}

// A person presses, the desk hears what was pressed, and the answer stands beside the control.
func TestThePanelCommands(t *testing.T) {
	d := newDaemon(t, refusing)
	p := openPanel(t, d, 1366, 768)

	p.press(`[data-number="40"]`)
	p.press(`#folio .keys button:nth-child(2)`)
	d.ordered(func(c engine.Command) bool {
		return c.Verb == engine.Recall && c.Preset == 40 && !c.HasLevel && c.Station == "panel"
	})
	p.until(`document.querySelector('#folio .note[data-kind="refused"]')?.textContent.includes('18.4 A of 16.0 A')`)
	p.press(`#folio .note .remedy`)
	d.ordered(func(c engine.Command) bool {
		return c.Verb == engine.Recall && c.Target == "noon glare" && c.Level == 0.86 && c.HasLevel
	})
	p.until(`document.querySelector('#folio .note[data-kind="accepted"]')?.textContent.includes('done')`)

	p.press(`[data-number="20"]`)
	p.press(`#folio .keys button:nth-child(1)`)
	d.ordered(func(c engine.Command) bool { return c.Verb == engine.Arm && c.Preset == 20 })
	require.Equal(t, "true", p.eval(`document.getElementById('go').disabled`), "nothing is armed before the state says so")
	d.desk.Change(func(v *engine.View) { v.Armed = 20 })
	p.until(`!document.getElementById('go').disabled && document.getElementById('go').textContent.includes('harbour at night')`)
	p.press(`#go`)
	d.ordered(func(c engine.Command) bool { return c.Verb == engine.Go })
	p.press(`#back`)
	d.ordered(func(c engine.Command) bool { return c.Verb == engine.Back })
	p.press(`#step-down`)
	d.ordered(func(c engine.Command) bool { return c.Verb == engine.StepBy && c.Stops == -0.5 })
	p.press(`#worklight`)
	d.ordered(func(c engine.Command) bool { return c.Verb == engine.Worklight })
	p.press(`#blackout`)
	d.ordered(func(c engine.Command) bool { return c.Verb == engine.Blackout && c.Target == "" && !c.Off })
	d.desk.Change(func(v *engine.View) { v.Look.Blackout = true })
	p.until(`!document.getElementById('let-go').disabled`)
	p.press(`#let-go`)
	d.ordered(func(c engine.Command) bool { return c.Verb == engine.Blackout && c.Off })
	p.do(chromedp.KeyEvent("b"))
	d.ordered(func(c engine.Command) bool { return c.Verb == engine.Blackout && !c.Off })

	p.press(`.way:nth-child(2)`)
	p.press(`#inspector .keys button:nth-child(2)`)
	d.ordered(func(c engine.Command) bool { return c.Verb == engine.CircuitOut && c.Target == "A03" })
	p.until(`document.querySelector('#inspector .what').textContent.endsWith('circuit A03 · unproved')`)
	p.press(`#inspector .built button:nth-child(1)`)
	d.ordered(func(c engine.Command) bool {
		return c.Verb == engine.Identify && c.Part == engine.CircuitPart && c.Target == "A03"
	})
	d.desk.Change(func(v *engine.View) { v.Look.Preset, v.Look.Identify = 0, "circuit A03" })
	p.until(`document.getElementById('look-name').textContent === 'finding circuit A03'`)
	p.press(`#inspector .built button:nth-child(3)`)
	d.ordered(func(c engine.Command) bool { return c.Verb == engine.Prove && c.Target == "A03" && !c.Off })
	p.until(`document.getElementById('unproved').textContent === '31 unproved'`)
	d.desk.Change(func(v *engine.View) {
		v.Look.Preset, v.Look.Identify = 12, ""
		v.Circuits = append([]engine.CircuitView(nil), v.Circuits...)
		for i := range v.Circuits {
			if v.Circuits[i].Name == "A03" {
				v.Circuits[i].Proved = &engine.ProofView{By: "R. Ames", Station: "booth", When: 1_800_000_000}
			}
		}
	})
	p.until(`document.getElementById('unproved').textContent === '30 unproved'`)
	p.until(`/circuit A03 · proved$/.test(document.querySelector('#inspector .what').textContent) && /by R\. Ames, said at booth/.test(document.querySelector('#inspector .what').title)`)
	p.press(`#inspector .built button:nth-child(3)`)
	d.ordered(func(c engine.Command) bool { return c.Verb == engine.Prove && c.Target == "A03" && c.Off })
	p.press(`#zones .zone-dark`)
	d.ordered(func(c engine.Command) bool { return c.Verb == engine.Blackout && c.Target == "bay" && !c.Off })
	p.do(chromedp.Focus(chromedp.CSS(`#level`)), chromedp.KeyEvent(kb.ArrowLeft))
	d.ordered(func(c engine.Command) bool { return c.Verb == engine.Level && c.Level == 0.99 })
	p.quiet()
}

// What the plant has not confirmed shows as pending, and as on only when the state says that it is on.
func TestPendingIsShownAsPending(t *testing.T) {
	d := newDaemon(t, desktest.Accept)
	p := openPanel(t, d, 1366, 768)
	pending := desktest.Lit(desktest.View(), 0.62, 0.62, 0.4, 0)
	pending.Look.State = "pending"
	pending.Outputs[0].State = "pending"
	d.desk.Show(pending)
	p.until(`document.getElementById('look-state').dataset.state === 'pending' && document.getElementById('look-state').textContent.startsWith('pending')`)
	p.until(`document.querySelector('.zone').textContent.includes('pending') && document.querySelectorAll('.lit.unsure').length === 180 + 22 * 9`)
	d.desk.Change(func(v *engine.View) { v.Look.State = "on" })
	p.until(`document.getElementById('look-state').textContent.startsWith('on')`)
	p.quiet()
}

// A look above continuous limits says how long it may stay, counting down between two views, and the circuit says what it has left over all looks.
func TestTimeAboveContinuousLimitsIsTold(t *testing.T) {
	d := newDaemon(t, desktest.Accept)
	p := openPanel(t, d, 1366, 768)
	d.desk.Change(func(v *engine.View) {
		v.Look.Above = &engine.LookAbove{For: 30 * time.Minute, Left: 13*time.Minute - time.Second, Runs: true, Circuits: []string{"A01"}}
		circuits := append([]engine.CircuitView(nil), v.Circuits...)
		circuits[0].Above = &engine.CircuitAbove{Limit: 16, For: 45 * time.Minute, Rest: 30 * time.Minute, Used: 17 * time.Minute, Left: 28*time.Minute - time.Second, Now: true}
		v.Circuits = circuits
	})
	p.until(`document.getElementById('look-state').textContent.includes('above continuous: 12 min left, then brought down')`)
	p.until(`document.getElementById('inspector').textContent.includes('above its continuous 16.0 A: 27 min left')`)
	requireFits(t, p, "above-continuous")
	d.desk.Change(func(v *engine.View) {
		v.Look.Above = &engine.LookAbove{For: 30 * time.Minute, Left: 62 * time.Second, Runs: true, Circuits: []string{"A01"}}
	})
	p.until(`document.getElementById('look-state').textContent.includes('above continuous: 59 s left')`)
	d.desk.Change(func(v *engine.View) {
		v.Look.Above = nil
		circuits := append([]engine.CircuitView(nil), v.Circuits...)
		circuits[0].Above = &engine.CircuitAbove{Limit: 16, For: 45 * time.Minute, Rest: 30 * time.Minute, Used: 30 * time.Minute, Left: 15 * time.Minute, Rested: 29 * time.Minute}
		v.Circuits = circuits
	})
	p.until(`!document.getElementById('look-state').textContent.includes('above continuous')`)
	p.until(`document.getElementById('inspector').textContent.includes('15 min above its continuous 16.0 A left, rested in 29 min')`)
	p.quiet()
}

// A daemon that went away shows within two seconds and a little, only blackout may still be pressed, and the panel comes back by itself.
func TestThePanelGoesStaleAndComesBack(t *testing.T) {
	d := newDaemon(t, desktest.Accept)
	p := openPanel(t, d, 1366, 768)
	before := len(d.desk.Orders())
	d.end()
	gone := time.Now()
	p.until(`document.body.dataset.link === 'stale'`)
	require.Less(t, time.Since(gone), 2500*time.Millisecond)
	p.until(`document.getElementById('link').textContent.startsWith('STALE')`)
	p.shoot("1366x768-stale")
	require.Equal(t, "0", p.eval(`[...document.querySelectorAll('button, input')].filter((b) => b.getAttribute('aria-disabled') !== 'true' && !b.matches('#blackout, .close') && b.checkVisibility()).length`))
	p.press(`#worklight`)
	p.press(`#blackout`)
	p.until(`document.querySelector('#dark-group .note')?.textContent.includes('NOT SENT')`)
	require.Len(t, d.desk.Orders(), before)

	d.start()
	p.until(`document.body.dataset.link === 'fresh' && document.getElementById('link').textContent === ''`)
	require.Len(t, d.desk.Orders(), before, "nothing that was pressed meanwhile is sent later")
	p.press(`#worklight`)
	d.ordered(func(c engine.Command) bool { return c.Verb == engine.Worklight })
	p.quiet("WebSocket connection", "ERR_CONNECTION_REFUSED") // what the browser itself says of a daemon that is gone
}

// The load ramp takes equal steps, and grows lighter all the way.
func TestTheRampIsEven(t *testing.T) {
	d := newDaemon(t, desktest.Accept)
	p := openPanel(t, d, 1366, 768)
	p.eval(`import('/ramp.js').then((m) => { window.steps = [...Array(21).keys()].map((i) => m.loadLab(i / 20)); })`)
	p.until(`window.steps !== undefined`)
	require.Equal(t, "true", p.eval(`steps.slice(1).every((c, i) => c.L > steps[i].L)`))
	require.Equal(t, "true", p.eval(`(() => { const d = steps.slice(1).map((c, i) => Math.hypot(c.L - steps[i].L, c.a - steps[i].a, c.b - steps[i].b)); return Math.max(...d) < 1.05 * Math.max(...d.filter((x, i) => i !== 9 && i !== 10)) && Math.min(...d) > 0.85 * Math.max(...d); })()`))
	p.quiet()
}

// What things are called stays text.
func TestNamesStayText(t *testing.T) {
	d := newDaemon(t, desktest.Accept)
	p := openPanel(t, d, 1366, 768)
	d.desk.Change(func(v *engine.View) {
		v.Presets = append([]engine.PresetView{{Number: 666, Name: `<img src=x onerror="window.hurt=1">`, Admitted: true, Cap: units.Share(1)}}, v.Presets...)
		v.Look.Name = `<b>bold</b>`
	})
	p.until(`document.querySelector('[data-number="666"] .name').textContent.startsWith('<img')`)
	require.Equal(t, "undefined", p.eval(`window.hurt`))
	require.Equal(t, "<b>bold</b>", p.eval(`document.getElementById('look-name').textContent`))
	p.quiet()
}
