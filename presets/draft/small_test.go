package draft_test

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/draft"
	"lookgate/presets/rig"
)

// plain is a brief on which the others here are variations: 208Y/120, one wall.
const plain = `name: Small
supply: {name: service, system: wye, line_neutral_v: 120, line_line_v: 208, main_a: 200, neutral_a: 200}
boards:
  - {name: A, numbering: odd-even, poles: 24, main_a: 200, neutral_a: 200}
panel_types:
  - {name: p, size_mm: 500 x 500, pixels: 168 x 168, peak_nits: 1500, black_w: 20, white_w: 180, pf: 0.95, displacement_deg: 12, third_harmonic: 8%, feed_through_a: 20}
walls:
  - {name: wall, columns: 8, rows: 6, panel: p}
circuits: {breakers_a: [15, 20], home_run_a: 20, jumper_a: 20}
processors: {prefix: P, data_runs: 8, port: 1 Gb/s, usable: 95%, restart: 10%}
modes:
  - {name: film, wall_rate: 24, bit_depth: 10}
`

// with gives the plain brief with replacements, each old and new.
func with(t testing.TB, pairs ...string) string {
	t.Helper()
	s := plain
	for i := 0; i < len(pairs); i += 2 {
		require.Contains(t, s, pairs[i])
		s = strings.Replace(s, pairs[i], pairs[i+1], 1)
	}
	return s
}

// TestMake_FewestChainsOfAnyShape holds the number of circuits of small walls against the fewest chains of any shape at all that cover the wall: each goes from a panel
// to one beside, above or below it, and is no longer than a circuit carries.
func TestMake_FewestChainsOfAnyShape(t *testing.T) {
	for _, c := range []struct{ columns, rows, watts int }{
		{1, 1, 180}, {3, 3, 500}, {3, 3, 700}, {4, 3, 400}, {4, 3, 1500}, {2, 6, 900}, {6, 2, 620}, {3, 4, 330}, {12, 1, 700}, {1, 12, 700}, {5, 2, 3000},
	} {
		t.Run(fmt.Sprintf("%dx%d of %d W", c.columns, c.rows, c.watts), func(t *testing.T) {
			d, err := draft.Make(read(t, with(t, "columns: 8, rows: 6", fmt.Sprintf("columns: %d, rows: %d", c.columns, c.rows), "white_w: 180", fmt.Sprintf("white_w: %d", c.watts))))
			require.NoError(t, err)
			carries := 0
			for float64(carries+1)*float64(c.watts)/(208*0.95) <= 16 {
				carries++
			}
			require.Equal(t, coverings(c.columns, c.rows, carries), len(d.Site.Rig.Circuits))
			good(t, d)
		})
	}
}

// coverings counts the fewest chains of up to so many panels that cover a small wall, by going on from every set of covered panels in every way.
func coverings(columns, rows, longest int) int {
	n := columns * rows
	type state struct{ covered, at, length int }
	known := map[state]int{}
	var rest func(s state) int // chains to come
	rest = func(s state) int {
		if s.covered == 1<<n-1 {
			return 0
		}
		if least, ok := known[s]; ok {
			return least
		}
		least := math.MaxInt / 2
		for next := range n {
			if s.covered>>next&1 == 1 {
				continue
			}
			after := state{s.covered | 1<<next, next, 1}
			if s.length > 0 && s.length < longest && beside(s.at, next, columns) {
				on := after
				on.length = s.length + 1
				least = min(least, rest(on))
			}
			least = min(least, 1+rest(after))
		}
		known[s] = least
		return least
	}
	return rest(state{at: -1})
}

func beside(a, b, columns int) bool {
	dx, dy := a%columns-b%columns, a/columns-b/columns
	return dx*dx+dy*dy == 1
}

// TestMake_FewPoles takes poles away from the board, and holds the plan against every mixture of one and two poles over the walls: the fewest circuits that the poles
// allow, and none where no mixture fits.
func TestMake_FewPoles(t *testing.T) {
	walls := `
  - {name: a, columns: 8, rows: 6, panel: p}
  - {name: b, columns: 3, rows: 5, panel: p}
  - {name: c, columns: 4, rows: 2, panel: p}`
	panels := []int{48, 15, 8}
	planned, refused := 0, 0
	for places := 1; places <= 16; places++ {
		least := math.MaxInt
		for mixture := range 8 {
			circuits, takes := 0, 0
			for wall, n := range panels {
				poles := 1 + mixture>>wall&1
				carries := []int{10, 17}[poles-1] // 16 A at 120 V and 208 V, 180 W each at 0.95
				m := (n + carries - 1) / carries
				circuits, takes = circuits+m, takes+m*poles
			}
			if takes <= places {
				least = min(least, circuits)
			}
		}
		text := with(t, "poles: 24", fmt.Sprintf("poles: %d", places), "\n  - {name: wall, columns: 8, rows: 6, panel: p}", walls)
		d, err := draft.Make(read(t, text))
		if least == math.MaxInt {
			refused++
			require.ErrorContains(t, err, "places")
			continue
		}
		planned++
		require.NoError(t, err, "%d places", places)
		require.Equal(t, least, len(d.Site.Rig.Circuits), "%d places", places)
		good(t, d)
	}
	require.Greater(t, planned, 5)
	require.Greater(t, refused, 5)
}

// TestMake_Impossible holds what is said of briefs that no plan can be made from: what binds, with its figures, and what to change.
func TestMake_Impossible(t *testing.T) {
	for _, c := range []struct {
		name       string
		change     []string
		binds, fix string
	}{
		{"a panel that no breaker carries", []string{"white_w: 180", "white_w: 4000"},
			"wall wall: no circuit can be made: not one panel: breaker 15 A × 80 % = 12.0 A: at 120 V a panel draws 35.1 A", "one panel takes a breaker of at least 25.3 A"},
		{"no breaker that the feed-through bears", []string{"feed_through_a: 20", "feed_through_a: 13"},
			"a breaker of 15 A does not protect the feed-through of p, rated 13 A", "name a breaker of 1.1 A to 13 A"},
		{"no breaker that home runs bear", []string{"home_run_a: 20", "home_run_a: 10"}, "does not protect home runs, rated at most 10 A", "name a breaker of 1.1 A to 10 A"},
		{"no breaker that jumpers bear", []string{"jumper_a: 20", "jumper_a: 10"}, "does not protect jumpers, rated at most 10 A", "name a breaker of 1.1 A to 10 A"},
		{"more poles than the boards have", []string{"poles: 24", "poles: 3"}, "the walls need 5 places for 5 circuits of one pole, and the boards at hand have 3", "name another board"},
		{"more columns than a circuit carries", []string{"panel: p}", "panel: p, columns_each: 4}"}, "wall wall: 4 columns are 24 panels, and a circuit carries 17", "columns_each: 2 or fewer"},
		{"a column that a circuit does not carry", []string{"rows: 6, panel: p}", "rows: 20, panel: p, columns_each: most}"}, "a column is 20 panels, and a circuit carries 17", "leave columns_each out"},
		{"more panels than a circuit carries", []string{"panel: p}", "panel: p, panels_each: 18}"}, "a circuit of 18 panels is asked for, and it carries 17", "panels_each: 17 or fewer"},
		{"two poles at 400 V", []string{"line_neutral_v: 120, line_line_v: 208", "line_neutral_v: 230, line_line_v: 400", "breakers_a", "poles_each: 2, breakers_a"},
			"2 poles would give a panel 400 V, and it takes at most 264 V", "highest_v"},
		{"one pole on a delta", []string{"system: wye, line_neutral_v: 120, line_line_v: 208, main_a: 200, neutral_a: 200", "system: delta, line_line_v: 208, main_a: 200",
			", main_a: 200, neutral_a: 200}\npanel", ", main_a: 200}\npanel", "breakers_a", "poles_each: 1, breakers_a"}, "a delta supply has no neutral for breakers of one pole", "poles_each"},
		{"gaps that cut a column in two", []string{"panel: p}", "panel: p, gaps: [C2R3, C4R2, C5R3, C7R2]}"}, "wall wall: going up one column and down the next, a chain would have to jump over its gaps", "two walls"},
		{"a port that carries no panel", []string{"port: 1 Gb/s", "port: 10 Mb/s"}, "wall wall: one panel is more than a port carries in mode film", "faster ports"},
		{"a column that a processor has no ports for", []string{"port: 1 Gb/s", "port: 40 Mb/s", "data_runs: 8", "data_runs: 2"}, "a column of 6 panels takes 6 ports of 1 panels, and a processor has 2", "more or faster ports"},
		{"more columns than a port carries", []string{"data_runs: 8", "data_runs: 8, columns_each: 8"}, "8 columns are 48 panels, more than a port carries", "ask for fewer columns_each"},
		{"too few processors", []string{"data_runs: 8", "data_runs: 2, columns_each: 1, count: 3"}, "8 data runs of the walls need 4 processors, and 3 are at hand", "name more of them"},
		{"a supply that carries hardly black", []string{"main_a: 200, neutral_a: 200", "main_a: 3, neutral_a: 3"}, "black", "a larger main"},
		{"ways on which too much is lost", []string{"boards:", "drop: {circuit: 0.001%}\ncables:\n  - {name: c, size: 12 AWG, stranding: stranded, conductor_c: 60, rating_a: 25, ambient_factor: 100%, grouping_factor: 100%}\nboards:",
			"home_run_a: 20", "home_run_m: 100"}, "of the voltage would be lost", "shorter ways"},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, err := draft.Make(read(t, with(t, c.change...)))
			require.True(t, d == nil, "a plan was made")
			var impossible *draft.Impossible
			require.True(t, errors.As(err, &impossible), "%v", err)
			require.Contains(t, impossible.Binds, c.binds)
			require.Contains(t, impossible.Do, c.fix)
			require.NotContains(t, err.Error(), "%!")
			require.Len(t, strings.Split(err.Error(), "\n"), 2)
		})
	}
}

// TestMake_Trade holds what the trade reckons with. common practice, no source: 48 columns of 10 half-metre panels of 180 W on circuits of 20 A take 24 circuits of two
// columns at 240 V, and 48 of one column at 120 V.
func TestMake_Trade(t *testing.T) {
	d := demo(t, "reckoning")
	require.Len(t, d.Site.Rig.Circuits, 24)
	require.Equal(t, []draft.Count{{Circuits: 24, Carries: 20, ByPanels: 24, ByColumn: 24}}, d.Circuits)
	for _, c := range d.Site.Rig.Circuits {
		require.Len(t, c.Panels, 20)
		require.Len(t, c.Poles, 2)
	}
	require.Len(t, d.Site.Rig.DataRuns, 48)
	require.Len(t, d.Site.Rig.Processors, 4)

	single := strings.NewReplacer("poles_each: 2", "poles_each: 1").Replace(text(t, "reckoning"))
	d, err := draft.Make(read(t, single))
	require.NoError(t, err)
	require.Len(t, d.Site.Rig.Circuits, 48)
	for _, c := range d.Site.Rig.Circuits {
		require.Len(t, c.Panels, 10)
		require.Len(t, c.Poles, 1)
	}
	good(t, d)
}

// TestMake_Demos holds the briefs that the repository ships to what every plan has to be.
func TestMake_Demos(t *testing.T) {
	for _, c := range []struct {
		name     string
		circuits int
		full     bool
	}{
		{"saltmarsh", 31, false}, {"dyke", 11, true}, {"sluice", 1, true}, {"reckoning", 24, true}, {"levee", 14, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := demo(t, c.name)
			good(t, d)
			swaps(t, d, c.name == "levee")
			require.Len(t, d.Site.Rig.Circuits, c.circuits)
			require.Equal(t, c.full, d.Full == 1)
			if !c.full {
				require.Contains(t, strings.Join(d.Summary, "\n"), "a main of 350 A", "what supply would carry full white")
			}
		})
	}
}

// TestMake_KeepsWhatABriefSays holds that what a site shares with its brief comes through: the same supply, boards, panel types and modes, and the wishes.
func TestMake_KeepsWhatABriefSays(t *testing.T) {
	for _, name := range []string{"saltmarsh", "dyke", "levee"} {
		b := read(t, text(t, name))
		d := demo(t, name)
		r := d.Site.Rig
		require.Equal(t, b.Rig.Supply, r.Supply, name)
		require.Equal(t, b.Rig.PanelTypes, r.PanelTypes, name)
		require.Equal(t, b.Rig.Walls, r.Walls, name)
		require.Equal(t, b.Rig.Panels, r.Panels, name)
		require.Equal(t, b.Rig.Modes, r.Modes, name)
		require.Equal(t, b.Rig.Drop, r.Drop, name)
		for i, board := range r.Boards {
			want := b.Rig.Boards[i]
			if want.Feeder != nil { // the site has only the cables that are used
				require.Equal(t, b.Rig.Cables[want.Feeder.Cable], r.Cables[board.Feeder.Cable])
				want.Feeder, board.Feeder = nil, nil
			}
			require.Equal(t, want, board, name)
		}
		for _, p := range r.Processors {
			require.Equal(t, b.Rig.Processors[0].Wire, p.Wire)
			require.Equal(t, b.Rig.Processors[0].Port, p.Port)
		}
	}
	for _, c := range demo(t, "saltmarsh").Site.Rig.Circuits {
		require.Len(t, c.Panels, 18, "two columns each, as the brief asks")
	}
	for _, c := range demo(t, "levee").Site.Rig.Circuits {
		require.Equal(t, 0.1, float64(c.Residual))
		require.NotNil(t, c.Home)
		require.NotNil(t, c.Link)
	}
}

// TestMake_Names holds that names which YAML takes for something else come through.
func TestMake_Names(t *testing.T) {
	for _, name := range []string{`"true"`, `"1"`, `"w:1"`, `"a'b"`, `'"q"'`, `"-x"`, `"&a"`, `"!t"`, `"null"`, `"w1"`} {
		text := with(t, "name: wall", "name: "+name, "\ncircuits:", "\n  - {name: w, columns: 2, rows: 2, panel: p}\n  - {name: w12, columns: 2, rows: 2, panel: p}\ncircuits:",
			"name: Small", `name: "Studio: \"one\" \\ # two"`)
		d, err := draft.Make(read(t, text))
		require.NoError(t, err, name)
		good(t, d)
		require.Equal(t, `Studio: "one" \ # two`, d.Site.Rig.Name)
		b := read(t, text)
		require.Equal(t, []rig.Wall{b.Rig.Walls[0], b.Rig.Walls[1], b.Rig.Walls[2]}, d.Site.Rig.Walls, name)
	}
}

// TestMake_CarriedGaps holds that data runs leave room for gaps where processors carry the rectangle around their panels, and in the heaviest mode, which is not the
// presets' own.
func TestMake_CarriedGaps(t *testing.T) {
	text := with(t, "panel: p}", "panel: p, gaps: [C1R4..C2R6, C8R6]}", "usable: 95%", "usable: 95%, bounding: true",
		"bit_depth: 10}", "bit_depth: 10}\n  - {name: fast, wall_rate: 120, bit_depth: 8}")
	d, err := draft.Make(read(t, text))
	require.NoError(t, err)
	good(t, d)
	require.Greater(t, len(d.Site.Rig.DataRuns), 3)
}
