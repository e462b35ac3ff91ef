package main

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"lookgate/presets/engine"
)

// browser is a real Chromium with the panel open, and what its console complained of.
type browser struct {
	t   *testing.T
	ctx context.Context
	mu  sync.Mutex
	bad []string
}

// newBrowser starts a Chromium with nothing open.
func newBrowser(t *testing.T) *browser {
	t.Helper()
	name, err := exec.LookPath("chromium")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("chromium is missing in CI")
		}
		t.Skip("chromium is missing")
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(name), chromedp.NoSandbox, chromedp.Flag("disable-dev-shm-usage", true),
		chromedp.UserDataDir(t.TempDir()))
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	ctx, cancel = context.WithTimeout(ctx, 3*time.Minute)
	t.Cleanup(cancel)
	b := &browser{t: t, ctx: ctx}
	require.NoError(t, chromedp.Listen(ctx, b.listen))
	_, err = chromedp.Call(ctx, log.Enable, cdp.Empty{})
	require.NoError(t, err)
	return b
}

func openBrowser(t *testing.T, panel string, width, height int64) *browser {
	t.Helper()
	b := newBrowser(t)
	require.NoError(t, chromedp.Do(b.ctx, chromedp.EmulateViewport(width, height), chromedp.Navigate("http://"+panel+"/")))
	b.until("the panel is fresh", `document.body.dataset.link === 'fresh' && document.querySelectorAll('.panel').length > 0`)
	return b
}

func (b *browser) listen(event any) {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch e := event.(type) {
	case *runtime.EventExceptionThrown:
		b.bad = append(b.bad, "exception: "+e.ExceptionDetails.Text)
	case *runtime.EventConsoleAPICalled:
		if e.Type == runtime.ConsoleAPICalledTypeError || e.Type == runtime.ConsoleAPICalledTypeAssert {
			b.bad = append(b.bad, "console: "+string(e.Type))
		}
	case *log.EventEntryAdded:
		if e.Entry.Level == log.EntryLevelError {
			b.bad = append(b.bad, "log: "+e.Entry.Text)
		}
	}
}

// holds evaluates a fact in the page.
func (b *browser) holds(fact string) bool {
	ok, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool](`Boolean(`+fact+`)`))
	return err == nil && ok
}

func (b *browser) until(what, fact string) {
	b.t.Helper()
	if !within(patience, func() bool { return b.holds(fact) }) {
		b.shoot("failed")
		b.mu.Lock()
		defer b.mu.Unlock()
		require.Fail(b.t, "the page never shows it", "%s: %s\n%v", what, fact, b.bad)
	}
}

// within polls a fact.
func within(d time.Duration, fact func() bool) bool {
	end := time.NewTimer(d)
	defer end.Stop()
	tick := time.NewTicker(20 * time.Millisecond)
	defer tick.Stop()
	for !fact() {
		select {
		case <-tick.C:
		case <-end.C:
			return fact()
		}
	}
	return true
}

func (b *browser) press(selector string) {
	b.t.Helper()
	require.NoError(b.t, chromedp.Do(b.ctx, chromedp.Click(chromedp.CSS(selector), chromedp.NodeVisible)))
}

// recall presses a preset and then its button "recall now".
func (b *browser) recall(number int) {
	b.t.Helper()
	b.press(fmt.Sprintf(`[data-number="%d"]`, number))
	b.press(`#folio .keys button:nth-child(2)`)
}

const lookState = `document.getElementById('look-state').textContent`

// shows waits until the state of the look begins with a word.
func (b *browser) shows(word string) {
	b.t.Helper()
	b.until("the look is "+word, lookState+`.trim().startsWith('`+word+`')`)
}

func (b *browser) quiet(excused ...string) {
	b.t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
next:
	for _, line := range b.bad {
		for _, e := range excused {
			if strings.Contains(line, e) {
				continue next
			}
		}
		b.t.Errorf("the console complains: %s", line)
	}
}

// shoot keeps a screenshot where LOOKGATE_SHOTS names a folder, else in the test's own.
func (b *browser) shoot(name string) {
	b.t.Helper()
	dir := os.Getenv("LOOKGATE_SHOTS")
	if dir == "" {
		dir = b.t.TempDir()
	}
	png, err := chromedp.Run(b.ctx, chromedp.CaptureScreenshot())
	require.NoError(b.t, err)
	require.NoError(b.t, os.MkdirAll(dir, 0o755))
	require.NoError(b.t, os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644))
}

func TestThePanelOverTheDemo(t *testing.T) {
	d := startDemo(t)
	b := openBrowser(t, d.panel, 1920, 1080)
	b.recall(3)
	b.shows("pending")
	b.shows("on")
	b.shoot("demo-on")
	b.recall(6)
	b.until("the refusal with its way out", `document.querySelector('#folio .remedy') !== null`)
	b.shoot("demo-refused")
	require.True(t, b.holds(lookState+`.trim().startsWith('on')`), "the look stays")
	b.press(`#folio .remedy`)
	eventually(t, "the remedy is on", func() bool { v := d.view(t); return v.Look.Preset == 6 && v.Look.State == "on" })
	b.shows("on")
	b.shoot("demo-remedy")
	b.press(`#blackout`)
	eventually(t, "the wall is dark", func() bool {
		all := lines(t, d.log)
		for _, l := range all[len(all)-1].Levels {
			if l > 0 {
				return false
			}
		}
		return true
	})
	b.until("blackout is shown", lookState+`.includes('blackout')`)
	b.shoot("demo-blackout")
	for _, l := range lines(t, d.log) {
		require.Empty(t, l.Over)
	}
	b.quiet()
}

func TestThePanelShowsPendingUntilADeviceConfirms(t *testing.T) {
	k := newKilled(t, 5, engine.NoFault, "-late", "west=2s")
	b := openBrowser(t, k.http, 1366, 768)
	began := time.Now()
	b.recall(1)
	b.shows("pending")
	b.shoot("late-pending")
	b.shows("on")
	require.Greater(t, time.Since(began), 2*time.Second)
	b.quiet()
}

func TestThePanelNeverShowsOnWhatIsNeverConfirmed(t *testing.T) {
	k := newKilled(t, 6, engine.NoFault, "-mute", "east")
	b := openBrowser(t, k.http, 1366, 768)
	b.recall(1)
	b.shows("pending")
	on := false
	ended := within(patience, func() bool {
		on = on || b.holds(lookState+`.trim().startsWith('on')`)
		return !b.holds(lookState + `.trim().startsWith('pending')`)
	})
	require.False(t, on, "shown as on")
	require.True(t, ended, "the hold time ends it")
	b.shoot("never-confirmed")
	b.quiet()
}

func TestThePanelOutlivesTheDaemon(t *testing.T) {
	k := newKilled(t, 7, engine.NoFault)
	b := openBrowser(t, k.http, 1366, 768)
	b.recall(1)
	b.shows("on")
	k.daemon.stop(t, syscall.SIGKILL)
	died := time.Now()
	b.until("the panel is stale", `document.body.dataset.link !== 'fresh'`)
	require.Less(t, time.Since(died), 3*time.Second, "stale within 2 s of silence, and what it takes to see it")
	b.shoot("stale")
	k.rise()
	b.until("the panel comes back by itself", `document.body.dataset.link === 'fresh'`)
	b.shows("on")
	b.quiet("WebSocket", "ERR_CONNECTION_REFUSED") // while nobody listened
}
