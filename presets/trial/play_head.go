package trial

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"lookgate/presets"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// playHead reads the head of a scenario: a plant and a book in few lines, each "key name: part, part". What is not said is a plain panel, supply and device.
type playHead struct {
	rig      *rig.Rig
	book     *presets.Book
	taken    []int // per circuit: how many of its panels have an output
	panels   []int // per circuit: how many
	problems []string
	at       string // the key and name of the line that is read
}

// playLineOf gives the key and name of a head line, which an edit replaces: "board A".
func playLineOf(line string) string {
	name, _, _ := strings.Cut(line, ":")
	return strings.Join(strings.Fields(name), " ")
}

// playPlan makes the plan that a head describes, or says everything that is wrong with it, one line each.
func playPlan(lines []string) (*presets.Plan, error) {
	h := &playHead{rig: &rig.Rig{Name: "scenario", Hold: 5 * time.Second}, book: &presets.Book{}}
	h.rig.PanelTypes = []rig.PanelType{{
		Name: "panel", Width: 500, Height: 500, PixelsX: 168, PixelsY: 168, Peak: 1500, Black: 12, White: 120, PF: 1, DisplacementKnown: true, FeedThrough: 63,
	}}
	h.rig.Modes = []rig.Mode{{Name: "film", WallRate: units.Rate{Num: 24, Den: 1}, BitDepth: 8}, {Name: "video", WallRate: units.Rate{Num: 50, Den: 1}, BitDepth: 8}}
	for _, line := range lines {
		if key, _, _ := strings.Cut(playLineOf(line), " "); !slices.Contains(playKeys, key) {
			h.problems = append(h.problems, fmt.Sprintf("%q is no line of a head", line))
		}
	}
	for _, key := range playKeys {
		for _, line := range lines {
			if of, _, _ := strings.Cut(playLineOf(line), " "); of == key {
				h.line(key, line)
			}
		}
	}
	h.hang()
	if len(h.problems) == 0 {
		h.check()
	}
	if len(h.problems) > 0 {
		return nil, errors.New(strings.Join(h.problems, "\n"))
	}
	return presets.NewPlan(h.rig, h.book), nil
}

// playKeys are the first words of head lines, in the order in which they are read: each may name what comes before it.
var playKeys = []string{"rig", "panel", "hold", "board", "circuit", "load", "device", "output", "zone", "preset", "worklight"}

// wrong notes a problem of the line that is read.
func (h *playHead) wrong(format string, args ...any) {
	h.problems = append(h.problems, h.at+": "+fmt.Sprintf(format, args...))
}

// line reads one line.
func (h *playHead) line(key, line string) {
	h.at = playLineOf(line)
	name := strings.TrimSpace(strings.TrimPrefix(h.at, key))
	_, rest, _ := strings.Cut(line, ":")
	var parts []string
	for part := range strings.SplitSeq(rest, ",") {
		parts = append(parts, strings.Join(strings.Fields(part), " "))
	}
	read := map[string]func(name string, parts []string){
		"rig": h.supply, "panel": h.panel, "hold": h.hold, "board": h.board, "circuit": h.circuit, "load": h.load, "device": h.device, "output": h.output,
		"zone": h.zone, "preset": h.preset, "worklight": h.worklight,
	}
	read[key](name, parts)
}

// number reads a figure with its unit: "16 A", "30%", "200 ms".
func (h *playHead) number(text, unit string) float64 {
	v, err := strconv.ParseFloat(strings.TrimSpace(strings.TrimSuffix(text, unit)), 64)
	if err != nil {
		h.wrong("%q is no figure in %s", text, unit)
	}
	return v
}

func (h *playHead) share(text string) float64 { return h.number(text, "%") / 100 }

func (h *playHead) amps(text string) units.Amps { return units.Amps(h.number(text, "A")) }

func (h *playHead) time(text string) time.Duration {
	d, err := playTime(text)
	if err != nil {
		h.wrong("%q is no time", text)
	}
	return d
}

// playTime reads a time: "200 ms", "45 min".
func playTime(text string) (time.Duration, error) {
	return time.ParseDuration(strings.ReplaceAll(strings.ReplaceAll(text, " ", ""), "min", "m"))
}

// supply reads "rig: split-phase 120/240 V", "wye 208/120 V", "single-phase 230 V" or "delta 208 V", and maybe ", supply 100 A".
func (h *playHead) supply(_ string, parts []string) {
	words := strings.Fields(parts[0] + "  ")
	s := rig.Supply{Name: "service", Main: 400, Neutral: 400, Factor: 1}
	for _, system := range []rig.System{rig.SinglePhase, rig.SplitPhase, rig.Wye, rig.Delta} {
		if len(words) > 1 && system.String() == words[0] {
			s.System = system
		}
	}
	if s.System == rig.NoSystem {
		h.wrong("%q is no supply; write split-phase 120/240 V, wye 120/208 V, single-phase 230 V or delta 208 V", parts[0])
		return
	}
	low, high, two := strings.Cut(words[1], "/")
	s.LineNeutral = units.Volts(h.number(low, "V"))
	if two {
		s.LineLine = units.Volts(h.number(high, "V"))
	}
	for _, part := range parts[1:] {
		s.Main = h.amps(strings.TrimPrefix(part, "supply"))
		s.Neutral = s.Main
	}
	if s.System == rig.Delta {
		s.LineNeutral, s.LineLine, s.Neutral = 0, s.LineNeutral, 0
	}
	h.rig.Supply = s
}

// panel reads "panel: 12 W black, 120 W white, pf 0.95, third harmonic 10 %, displacement 12".
func (h *playHead) panel(_ string, parts []string) {
	t := &h.rig.PanelTypes[0]
	for _, part := range parts {
		switch {
		case strings.HasSuffix(part, "black"):
			t.Black = units.Watts(h.number(strings.TrimSuffix(part, " black"), "W"))
		case strings.HasSuffix(part, "white"):
			t.White = units.Watts(h.number(strings.TrimSuffix(part, " white"), "W"))
		case strings.HasPrefix(part, "pf "):
			t.PF, t.DisplacementKnown = units.Share(h.number(strings.TrimPrefix(part, "pf "), "")), false
		case strings.HasPrefix(part, "third harmonic "):
			t.Third = units.Share(h.share(strings.TrimPrefix(part, "third harmonic ")))
		case strings.HasPrefix(part, "displacement "):
			t.Displacement, t.DisplacementKnown = units.Degrees(h.number(strings.TrimPrefix(part, "displacement "), "°")), true
		default:
			h.wrong("%q is not understood", part)
		}
	}
}

func (h *playHead) hold(_ string, parts []string) { h.rig.Hold = h.time(parts[0]) }

// board reads "board A: main 40 A, neutral 40 A, factor 80 %".
func (h *playHead) board(name string, parts []string) {
	b := rig.Board{Name: name, Poles: 42, Factor: 1}
	for _, part := range parts {
		what, figure, _ := strings.Cut(part, " ")
		switch what {
		case "main":
			b.Main = h.amps(figure)
			b.Neutral = max(b.Neutral, b.Main)
		case "neutral":
			b.Neutral = h.amps(figure)
		case "factor":
			b.Factor = units.Share(h.share(figure))
		case "ways":
			b.Numbering = rig.ByWays
		default:
			h.wrong("%q is not understood", part)
		}
	}
	if h.rig.Supply.System == rig.Delta {
		b.Neutral = 0
	}
	h.rig.Boards = append(h.rig.Boards, b)
}

// circuit reads "circuit A1: breaker 20 A, on L1 L2, 12 panels, board A, above for 45 min rest 30 min". The breaker may carry 80 % of its rating continuously; the cables fit it.
func (h *playHead) circuit(name string, parts []string) {
	c := rig.Circuit{Name: name, Factor: 0.8}
	legs, panels := []int{0}, 0
	for _, part := range parts {
		what, rest, _ := strings.Cut(part, " ")
		switch {
		case what == "breaker":
			c.Breaker = h.amps(rest)
			c.HomeRun, c.Jumper = max(c.Breaker, 0), max(c.Breaker, 0)
		case what == "above":
			longest, rest, _ := strings.Cut(strings.TrimPrefix(rest, "for "), " rest ")
			c.Above = &rig.AboveContinuous{For: h.time(longest), Rest: h.time(rest), Decision: rig.Decision{Reason: "the scenario", By: "the scenario"}}
		case what == "on":
			legs = h.legs(rest)
		case what == "board":
			c.Board = slices.IndexFunc(h.rig.Boards, func(b rig.Board) bool { return b.Name == rest })
		case rest == "panels":
			panels = int(h.number(what, ""))
		default:
			h.wrong("%q is not understood", part)
		}
	}
	if c.Board < 0 || c.Board >= len(h.rig.Boards) {
		h.wrong("there is no such board")
		return
	}
	c.Poles = h.poles(c.Board, legs)
	h.rig.Circuits = append(h.rig.Circuits, c)
	h.panels, h.taken = append(h.panels, panels), append(h.taken, 0)
}

func (h *playHead) legs(text string) []int {
	var legs []int
	for word := range strings.FieldsSeq(text) {
		legs = append(legs, int(h.number(strings.TrimPrefix(word, "L"), ""))-1)
	}
	return legs
}

// poles gives the first poles of a board that are free, next to each other in one column, and on those legs.
func (h *playHead) poles(board int, legs []int) []int {
	b, step := h.rig.Boards[board], 2
	if b.Numbering == rig.ByWays {
		step = 1
	}
	taken := func(p int) bool {
		return slices.ContainsFunc(h.rig.Circuits, func(c rig.Circuit) bool { return c.Board == board && slices.Contains(c.Poles, p) })
	}
	for p := 1; h.rig.Supply.System != rig.NoSystem && len(legs) > 0 && p+step*(len(legs)-1) <= b.Poles; p++ {
		var poles []int
		for i := range legs {
			if at := p + i*step; !taken(at) && slices.Contains(legs, b.LegOf(at, h.rig.Supply.System)) {
				poles = append(poles, at)
			}
		}
		if len(poles) == len(legs) {
			return poles
		}
	}
	h.wrong("the board has no free poles on those legs")
	return nil
}
