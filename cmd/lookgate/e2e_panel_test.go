package main

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"lookgate/presets/engine"
	"lookgate/presets/units"
	"lookgate/protocols/sim"
)

// watching writes down everything that the page ever says of the look, however short, and when the link was fresh. A look from outside now and then would miss it.
const watching = `(() => {
  window.said = []; window.link = [];
  const state = document.getElementById('look-state');
  const tell = () => { const s = state.textContent.trim(); if (s !== said.at(-1)?.text) said.push({ text: s, at: performance.now() }); };
  new MutationObserver(tell).observe(state, { subtree: true, childList: true, characterData: true });
  tell();
  new MutationObserver(() => link.push({ text: document.body.dataset.link, at: performance.now() })).observe(document.body, { attributes: true, attributeFilter: ['data-link'] });
  return true;
})()`

// uttered is one thing that the page said, with the time of the page's own clock.
type uttered struct {
	Text string  `json:"text"`
	At   float64 `json:"at"` // ms
}

func (b *browser) log(name string) []uttered {
	b.t.Helper()
	all, err := chromedp.Run(b.ctx, chromedp.Evaluate[[]uttered](name))
	require.NoError(b.t, err)
	return all
}

func (s *stage) browse() *browser {
	s.t.Helper()
	b := openBrowser(s.t, s.panel, 1366, 768)
	require.True(s.t, b.holds(watching))
	return b
}

// unseen gives the names of what a hand always needs and cannot reach, since it lies outside the window or under something else.
const unseen = `[...document.querySelectorAll('.head, #look-state, #tight, #wall svg, #zones, #headroom, #blackout, #go, footer .caution')].filter((e) => {
  const r = e.getBoundingClientRect();
  const top = document.elementFromPoint(r.left + r.width / 2, r.top + r.height / 2);
  return r.width < 1 || r.height < 1 || r.left < 0 || r.top < 0 || r.right > innerWidth + 1 || r.bottom > innerHeight + 1 || (e.matches('button') && !e.contains(top));
}).map((e) => e.id || e.className).join(' ')`

// mixed gives the outputs whose levels are written into each other.
const mixed = `(() => { const boxes = [...document.querySelectorAll('.output-label:not(.second)')].map((e) => [e.textContent, e.getBoundingClientRect()]);
  return boxes.flatMap(([s, a], i) => boxes.slice(i + 1).filter(([, b]) => a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom).map(([z]) => s + ' and ' + z)).join(', '); })()`

// cut gives the names of conductors that the list does not show whole.
const cut = `[...document.querySelectorAll('#headroom .name')].filter((e) => e.scrollWidth > e.clientWidth).map((e) => e.textContent).join(', ')`

// shootBoth keeps the page at both of the sizes that it is made for, and looks for what an eye would miss there.
func (b *browser) shootBoth(name string) {
	b.t.Helper()
	for _, size := range []struct{ width, height int64 }{{1920, 1080}, {1366, 768}} {
		require.NoError(b.t, chromedp.Do(b.ctx, chromedp.EmulateViewport(size.width, size.height)))
		b.until("the page has the window's size", fmt.Sprintf(`innerWidth === %d && innerHeight === %d`, size.width, size.height))
		b.shoot(fmt.Sprintf("%dx%d-%s", size.width, size.height, name))
		for _, look := range []string{unseen, cut, mixed} {
			lost, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](look))
			require.NoError(b.t, err)
			require.Empty(b.t, lost, "%s at %d", name, size.width)
		}
		require.True(b.t, b.holds(`document.documentElement.scrollHeight <= innerHeight && document.documentElement.scrollWidth <= innerWidth`), "%s: the page scrolls at %d", name, size.width)
	}
}

func TestAShowFromThePanel(t *testing.T) {
	s := newStage(t, "run", nil)
	b := s.browse()
	b.recall(3)
	b.shows("pending")
	b.shows("on")
	b.shootBoth("on")

	before := orders(t, s.log)
	b.recall(6)
	b.until("the refusal with its numbers and its way out", `(() => { const n = document.querySelector('#folio .note[data-kind="refused"]');
		return n && n.textContent.includes('leg DA L1') && n.textContent.includes('106.8 A of 80.0 A') && n.querySelector('.remedy').textContent.includes('48 %'); })()`)
	b.shootBoth("refused")
	require.Equal(t, before, orders(t, s.log), "something reached a device")
	require.Equal(t, 3, s.view(t).Look.Preset)
	b.press(`#folio .note .remedy`)
	v := s.on(6)
	require.InDelta(t, 0.48, float64(v.Look.Scale), 1e-9)
	b.shows("on")
	b.until("the number of the look that is on", `document.getElementById('look-number').textContent === '6'`)
	b.shootBoth("remedy")

	b.press(`#blackout`)
	eventually(t, "the wall is dark", func() bool { return brightest(s.last()) == 0 })
	b.until("blackout is shown as reached", lookState+`.includes('blackout') && `+lookState+`.includes('reached')`)
	b.shootBoth("blackout")
	b.press(`#let-go`)
	s.on(6)
	eventually(t, "the look is back", func() bool { return math.Abs(float64(brightest(s.last()))-0.48) < 0.01 })

	book, err := os.ReadFile(filepath.Join(s.folder, "presets.yaml"))
	require.NoError(t, err)
	s.hangUp("presets.yaml", strings.Replace(string(book), "mode: film", "mood: film", 1))
	b.until("the panel says what is wrong with the site", `/last reload was refused.*presets\.yaml:5:5/s.test(document.getElementById('notices').textContent)`)
	b.shootBoth("reload-refused")
	s.never()
	b.quiet()
}

func (s *stage) last() sim.Line {
	all := lines(s.t, s.log)
	return all[len(all)-1]
}

func brightest(l sim.Line) units.Level {
	most := units.Level(0)
	for _, v := range l.Levels {
		most = max(most, v)
	}
	return most
}

func TestThePanelWaitsForTheWallsWord(t *testing.T) {
	t.Run("late", func(t *testing.T) {
		t.Parallel()
		s := newStage(t, "run", nil, "-late", "heron=2s")
		b := s.browse()
		b.recall(3)
		b.until("pending, and what is waited for", lookState+`.includes('pending') && `+lookState+`.includes('heron')`)
		b.shootBoth("late-pending")
		b.shows("on")
		v := s.on(3)
		require.True(t, v.Outputs[0].Confirmed)
		said := b.log(`said`)
		require.GreaterOrEqual(t, at(t, said, "on")-at(t, said, "pending"), 2000.0, "on before the device can have told: %v", said)
		s.never()
		b.quiet()
	})
	t.Run("never", func(t *testing.T) {
		t.Parallel()
		soon := map[string]func(string) string{"rig.yaml": func(text string) string { return strings.Replace(text, "hold: 10 s ", "hold: 3 s ", 1) }}
		s := newStage(t, "run", soon, "-mute", "teal")
		b := s.browse()
		b.recall(3)
		b.shows("pending")
		b.shootBoth("mute-pending")
		b.shows("short")
		b.shootBoth("mute-short")
		for _, u := range b.log(`said`) {
			require.False(t, strings.HasPrefix(u.Text, "on"), "%v", u)
		}
		v := s.view(t)
		require.Equal(t, "short", v.Look.State)
		require.False(t, v.Outputs[1].Confirmed)
		s.never()
		b.quiet()
	})
}

// at gives when the page first said something that begins with a word, in ms.
func at(t *testing.T, said []uttered, word string) float64 {
	t.Helper()
	for _, u := range said {
		if strings.HasPrefix(u.Text, word) {
			return u.At
		}
	}
	require.Fail(t, "the page never said "+word, "%v", said)
	return 0
}

// refusedLink is what a browser itself writes into its console while nobody listens. Nothing else is excused.
var refusedLink = regexp.MustCompile(`^log: WebSocket connection to 'ws://127\.0\.0\.1:\d+/ws' failed: Error in connection establishment: net::ERR_CONNECTION_REFUSED$`)

func TestThePanelThroughASilenceAndADeath(t *testing.T) {
	s := newStage(t, "run", nil)
	b := s.browse()
	b.recall(90)
	b.shows("on")
	lit := s.view(t)

	// A daemon that hangs keeps its connection: only the silence tells.
	stopped := time.Now()
	require.NoError(t, s.cmd.Process.Signal(syscall.SIGSTOP))
	b.until("a silent daemon makes the panel stale", `document.body.dataset.link === 'stale'`)
	require.Less(t, time.Since(stopped), 2500*time.Millisecond, "2 s of silence, and half a second to see it")
	require.Greater(t, time.Since(stopped), time.Second, "it was no silence that was seen")
	b.shootBoth("silent")
	require.NoError(t, s.cmd.Process.Signal(syscall.SIGCONT))
	b.until("it comes back by itself", `document.body.dataset.link === 'fresh'`)
	b.quiet()

	s.stop(t, syscall.SIGKILL)
	died := time.Now()
	b.until("a dead daemon makes the panel stale", `document.body.dataset.link === 'stale'`)
	require.Less(t, time.Since(died), 2500*time.Millisecond)
	b.shootBoth("dead")
	mark := len(lines(t, s.log))
	s.rise()
	b.until("it comes back by itself", `document.body.dataset.link === 'fresh'`)
	b.shows("short") // nobody can say what the lid, which tells nothing, stands at
	b.shootBoth("back")
	requireBelieved(t, lit, s.view(t), lines(t, s.log)[mark-1:])
	b.recall(90)
	b.shows("on")
	b.quietBut(refusedLink)
}

// requireBelieved holds a restart to its word: the look is the one that was on, each device that tells has told that it stands there, and nothing was sent to the
// wall but questions.
func requireBelieved(t *testing.T, before, after engine.View, since []sim.Line) {
	t.Helper()
	require.Equal(t, before.Look.Preset, after.Look.Preset)
	require.Greater(t, after.Epoch, before.Epoch)
	for o := range before.Outputs {
		require.Equal(t, before.Outputs[o].Wanted, after.Outputs[o].Wanted, before.Outputs[o].Name)
		require.Equal(t, before.Outputs[o].Confirmed, after.Outputs[o].Confirmed, before.Outputs[o].Name)
	}
	require.Greater(t, len(since), 1, "the wall was asked nothing")
	for _, l := range since[1:] {
		require.Zero(t, l.Sets, "a device took something over: %v", l.Happened)
		require.Equal(t, since[0].Levels, l.Levels)
	}
}

// quietBut fails where the console complained of anything that one pattern does not fit.
func (b *browser) quietBut(excused *regexp.Regexp) {
	b.t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, line := range b.bad {
		if !excused.MatchString(line) {
			b.t.Errorf("the console complains: %s", line)
		}
	}
}
