package presets_test

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets"
	"lookgate/presets/finding"
	"lookgate/presets/picture"
	"lookgate/presets/rig"
	"lookgate/presets/rig/rigtest"
	"lookgate/presets/units"
)

// bench is a rig whose figures are round: 100 V, and panels of 100 W from black, so that each draws 1 A at full white. Two circuits of 16 panels on 20 A
// breakers at 80 %, one output with its zone, device and processor each; no other limit is near.
func bench() *rig.Rig {
	r := &rig.Rig{
		Name:   "bench",
		Supply: rig.Supply{Name: "service", System: rig.SinglePhase, LineNeutral: 100, Main: 1000, Neutral: 1000, Factor: 1},
		Boards: []rig.Board{{Name: "A", Poles: 12, Main: 1000, Neutral: 1000, Factor: 1}},
		PanelTypes: []rig.PanelType{{
			Name: "p1", Width: 500, Height: 500, PixelsX: 100, PixelsY: 100, Peak: 1000, White: 100, PF: 1, DisplacementKnown: true, FeedThrough: 100,
			PerBreaker: []rig.PerBreaker{{Breaker: 20, Panels: 16}}, Leakage: 0.0001,
		}},
		Sources: []rig.Source{{Name: "plate"}, {Name: "card"}},
		Modes:   []rig.Mode{{Name: "m60", WallRate: units.Rate{Num: 60, Den: 1}, BitDepth: 8}, {Name: "m30", WallRate: units.Rate{Num: 30, Den: 1}, BitDepth: 8}},
	}
	rigtest.AddWall(r, "bay", 4, 8)
	for i := range 2 {
		rigtest.AddCircuit(r, 0, []int{0}, 20, rigtest.Columns(r, 0, 2*i+1, 2*i+2))
		rigtest.AddDevice(r, rig.Numbered, 1000, 0)
		rigtest.AddOutput(r, i, rigtest.Columns(r, 0, 2*i+1, 2*i+2))
	}
	r.Processors[1].Inputs = []int{0} // the card is only on the first
	return r
}

// full puts both zones of the bench on at level 1, with the plate over the whole wall.
func full() *presets.Preset {
	return &presets.Preset{
		Number: 1, Name: "full",
		Zones:   []presets.ZoneLevel{{Zone: 0, Level: 1}, {Zone: 1, Level: 1}},
		Windows: []picture.Window{{Source: 0, Width: 400, Height: 800}},
	}
}

// copied gives a rig that shares nothing with the first.
func copied(t testing.TB, r *rig.Rig) *rig.Rig {
	b, err := json.Marshal(r)
	require.NoError(t, err)
	var c rig.Rig
	require.NoError(t, json.Unmarshal(b, &c))
	return &c
}

func copiedPreset(p *presets.Preset) *presets.Preset {
	c := *p
	c.Zones, c.Windows = slices.Clone(p.Zones), slices.Clone(p.Windows)
	return &c
}

// hands carries out what a remedy says, on a rig and a preset of its own.
type hands struct {
	rig    *rig.Rig
	preset *presets.Preset
	place  finding.Place
}

// doLater reads a remedy's words and does what they say. It fails the test at words that it does not know: a remedy that nobody can carry out.
func (h *hands) doLater(t testing.TB, words string) {
	for _, can := range []func(string) bool{h.doWiring, h.doRating, h.doPreset, h.doPicture, h.doSite, h.doSupply} {
		if can(words) {
			return
		}
	}
	require.Fail(t, "no hand knows how to do this", words)
}

// scan reads figures out of words of that form, whole.
func scan(words, form string, args ...any) bool {
	n, err := fmt.Sscanf(words, form, args...)
	return err == nil && n == len(args)
}

func (h *hands) circuit() *rig.Circuit {
	return &h.rig.Circuits[slices.IndexFunc(h.rig.Circuits, func(c rig.Circuit) bool { return c.Name == h.place.Name })]
}

func (h *hands) doWiring(words string) bool {
	var n, all int
	var length units.Metres
	if scan(words, "a home run of at most %f m", &length) {
		h.circuit().Home.Length = length
		return true
	}
	if !scan(words, "move the last %d of its %d panels to another circuit", &n, &all) {
		return false
	}
	c := *h.circuit()
	h.rig.Boards[c.Board].Poles += 24
	legs := h.rig.Legs(c)
	rigtest.AddCircuit(h.rig, c.Board, legs, c.Breaker, c.Panels[all-n:])
	h.circuit().Panels = c.Panels[:all-n]
	return true
}

func (h *hands) doRating(words string) bool {
	var a units.Amps
	switch {
	case scan(words, "a breaker of %f A, with home run and jumpers to match, would carry it", &a):
		c := h.circuit()
		c.Breaker, c.HomeRun, c.Jumper = a, max(a, c.HomeRun), max(a, c.Jumper)
	case scan(words, "a breaker of %f A", &a):
		h.circuit().Breaker = a
	case scan(words, "home run, jumpers and panel feed-throughs rated for %f A", &a):
		c := h.circuit()
		c.HomeRun, c.Jumper = max(a, c.HomeRun), max(a, c.Jumper)
		for i := range h.rig.PanelTypes {
			h.rig.PanelTypes[i].FeedThrough = max(a, h.rig.PanelTypes[i].FeedThrough)
		}
	case scan(words, "a main of %f A, with what feeds it to match, would carry it", &a):
		h.setMain(func(b *rig.Board) { b.Main = a }, func(s *rig.Supply) { s.Main = a })
	case scan(words, "a feeder rated for %f A or more would carry it", &a):
		h.setMain(func(b *rig.Board) { b.Carries = a }, func(*rig.Supply) {})
	case scan(words, "a neutral rated for %f A or more would carry it", &a):
		h.setMain(func(b *rig.Board) { b.Neutral = a }, func(s *rig.Supply) { s.Neutral = a })
	default:
		return false
	}
	return true
}

func (h *hands) setMain(board func(*rig.Board), supply func(*rig.Supply)) {
	if strings.HasPrefix(h.place.Kind, "supply") {
		supply(&h.rig.Supply)
		return
	}
	for i := range h.rig.Boards {
		if strings.HasPrefix(h.place.Name, h.rig.Boards[i].Name+" ") {
			board(&h.rig.Boards[i])
		}
	}
}

func (h *hands) doPreset(words string) bool {
	var n int
	switch {
	case words == "with every cap at its level the plant carries it":
		for i := range h.preset.Zones {
			h.preset.Zones[i].Cap = h.preset.Zones[i].Level
		}
	case scan(words, "store its fixed zones at %d %% of their levels", &n):
		share := units.Level(n) / 100
		for i, z := range h.preset.Zones {
			if !z.Auto {
				h.preset.Zones[i].Level, h.preset.Zones[i].Cap = z.Level*share, z.Cap*share
			}
		}
	case scan(words, "store it for at most %d min above the continuous limit", &n):
		h.preset.Above = time.Duration(n) * time.Minute
	case words == "store it without its content":
		for i := range h.preset.Zones {
			h.preset.Zones[i].Content = nil
		}
	case scan(words, "a restart level of at most %d %% on", &n):
		_, names, _ := strings.Cut(words, " on ")
		for i, d := range h.rig.Devices {
			if slices.Contains(strings.Split(names, ", "), d.Name) {
				h.rig.Devices[i].Restart = min(d.Restart, units.Level(n)/100)
			}
		}
	default:
		return false
	}
	return true
}

func (h *hands) doPicture(words string) bool {
	var x, y, width, height, n, all, other, depth int
	var name string
	switch {
	case scan(words, "the rectangle that fits: x %d, y %d, width %d, height %d px", &x, &y, &width, &height):
		w := &h.preset.Windows[int(h.place.Name[0]-'1')]
		w.X, w.Y, w.Width, w.Height = x, y, width, height
	case strings.HasPrefix(words, "bring "):
		for i := range h.rig.Processors {
			if h.rig.Processors[i].Name == h.place.Name {
				h.rig.Processors[i].Inputs = []int{0, 1}
			}
		}
	case scan(words, "at most the first %d of its %d panels fit on one port in this mode: move the other %d to another data run", &n, &all, &other):
		at := slices.IndexFunc(h.rig.DataRuns, func(d rig.DataRun) bool { return d.Name == h.place.Name })
		h.rig.DataRuns[at].Panels = h.rig.DataRuns[at].Panels[:n]
	case scan(words, "mode %s (", &name):
		h.preset.Mode = slices.IndexFunc(h.rig.Modes, func(m rig.Mode) bool { return m.Name == name })
	case strings.Contains(words, "frames a second it can carry"):
		_, rest, _ := strings.Cut(words, "carry ")
		if !scan(rest, "%d bits a channel", &depth) {
			return false
		}
		h.rig.Modes[h.preset.Mode].BitDepth = depth
	default:
		return false
	}
	return true
}

func (h *hands) doSite(words string) bool {
	switch words {
	case "name in the rig why it may be so, and who decided it":
		h.circuit().Exception = &rig.Decision{Reason: "short run", By: "R. Ames"}
	case "give its displacement in the rig, as measured or as the maker has it":
		for i := range h.rig.PanelTypes {
			h.rig.PanelTypes[i].DisplacementKnown = true
		}
		for i := range h.rig.Loads {
			h.rig.Loads[i].DisplacementKnown = true
		}
	default:
		return false
	}
	return true
}
