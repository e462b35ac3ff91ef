package draft_test

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/draft"
	"lookgate/presets/site"
)

const briefs = "../../testdata/briefs"

// read reads a brief that must be good.
func read(t testing.TB, text string) *site.Brief {
	t.Helper()
	b, problems := site.ReadBrief("brief.yaml", []byte(text))
	for _, p := range problems {
		t.Log(p)
	}
	require.NotNil(t, b, "%s", text)
	return b
}

// demo plans one of the briefs that the repository ships.
func demo(t testing.TB, name string) *draft.Draft {
	t.Helper()
	d, err := draft.Make(read(t, text(t, name)))
	require.NoError(t, err)
	return d
}

// text gives one of these briefs.
func text(t testing.TB, name string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(briefs, name+".yaml"))
	require.NoError(t, err)
	return string(b)
}

// some is a random brief, with what the checks have to know of it besides its text.
type some struct {
	text     string
	cables   bool
	breakers []int
	poles    int // 0 to choose
	rng      *rand.Rand
}

// systems are the supplies of random briefs: text, then the system's own legs and voltages.
var systems = []string{
	"system: single-phase, line_neutral_v: 230, neutral_a: MAIN",
	"system: split-phase, line_neutral_v: 118, line_line_v: 236, neutral_a: MAIN",
	"system: wye, line_neutral_v: 117, line_line_v: 203, neutral_a: MAIN",
	"system: wye, line_neutral_v: 225, line_line_v: 390, neutral_a: MAIN",
	"system: delta, line_line_v: 200",
}

// random makes a brief of a seed.
func random(seed uint64) some {
	s := some{rng: rand.New(rand.NewPCG(seed, 7))}
	system := int(seed) % len(systems)
	s.breakers = [][]int{{16}, {10, 16}, {15, 20}, {10, 16, 20}, {16, 20, 32}}[s.rng.IntN(5)]
	s.cables = s.rng.IntN(3) == 0
	walls, panels, types := s.walls()
	var b strings.Builder
	fmt.Fprintf(&b, "name: Trial %d\n", seed)
	fmt.Fprintf(&b, "factor: %s\n", []string{"80%", "100%"}[s.rng.IntN(2)])
	main := []int{panels / 3, panels, 2 * panels}[s.rng.IntN(3)] + 20
	fmt.Fprintf(&b, "supply: {name: service, main_a: %d, %s}\n", main, strings.ReplaceAll(systems[system], "MAIN", fmt.Sprint(main)))
	b.WriteString(s.boards(panels, system))
	b.WriteString(s.types(types))
	b.WriteString(walls)
	b.WriteString(s.circuits())
	fmt.Fprintf(&b, "processors: {prefix: P, data_runs: %d, port: 1 Gb/s, usable: 95%%, restart: %d%%}\n", 4+s.rng.IntN(16), s.rng.IntN(12))
	b.WriteString("modes:\n  - {name: film, wall_rate: 24000/1001, bit_depth: 12}\n  - {name: studio, wall_rate: 60, bit_depth: 8}\n")
	s.text = b.String()
	return s
}

func (s *some) walls() (text string, panels int, types []string) {
	var b strings.Builder
	b.WriteString("walls:\n")
	n := 1 + s.rng.IntN(3)
	for i := range n {
		columns, rows := 1+s.rng.IntN(20), 1+s.rng.IntN(10)
		panels += columns * rows
		wish := []string{"", "", "", ", columns_each: most", ", start: top-right"}[s.rng.IntN(5)]
		if rows > 6 {
			wish = strings.ReplaceAll(wish, ", columns_each: most", "") // not every circuit carries such a column
		}
		gaps := ""
		if columns > 2 && rows > 2 && s.rng.IntN(5) == 0 && wish == "" {
			gaps = fmt.Sprintf(", gaps: [C%[1]dR%[2]d]", columns, rows) // a corner
		}
		fmt.Fprintf(&b, "  - {name: w%c, columns: %d, rows: %d, panel: %s%s%s}\n", 'a'+i, columns, rows, []string{"p", "q"}[min(i, 1)], wish, gaps)
	}
	return b.String(), panels, []string{"p", "q"}[:min(n, 2)]
}

func (s *some) boards(panels, system int) string {
	numbering := []string{"odd-even", "ways"}[s.rng.IntN(2)]
	var b strings.Builder
	b.WriteString("boards:\n")
	for i := range 1 + s.rng.IntN(3) {
		main, poles := 30+panels/2+s.rng.IntN(40), 20+panels/3+s.rng.IntN(9)
		neutral := fmt.Sprintf(", neutral_a: %d", main)
		if system == 4 {
			neutral = ""
		}
		fmt.Fprintf(&b, "  - {name: B%c, count: %d, numbering: %s, poles: %d, main_a: %d%s}\n", 'A'+i, 1+s.rng.IntN(2), numbering, poles, main, neutral)
	}
	return b.String()
}

func (s *some) types(names []string) string {
	var b strings.Builder
	b.WriteString("panel_types:\n")
	for _, name := range names {
		lag := ""
		if s.rng.IntN(2) == 0 {
			lag = ", displacement_deg: 12"
		}
		fmt.Fprintf(&b, "  - {name: %s, size_mm: 500 x 500, pixels: 168 x 168, peak_nits: 1500, black_w: %d, white_w: %d, pf: 0.95%s, third_harmonic: %d%%, feed_through_a: %d}\n",
			name, 10+s.rng.IntN(20), 90+s.rng.IntN(160), lag, s.rng.IntN(15), []int{16, 20, 20}[s.rng.IntN(3)])
	}
	return b.String()
}

func (s *some) circuits() string {
	ways := "home_run_a: 20, jumper_a: 20"
	cables := ""
	if s.cables {
		ways = fmt.Sprintf("home_run_m: %d, jumper_m: 1.5", 5+s.rng.IntN(30))
		cables = "cables:\n" +
			"  - {name: c15, size: 1.5 mm2, stranding: class-5, conductor_c: 60, rating_a: 16, ambient_factor: 100%, grouping_factor: 100%}\n" +
			"  - {name: c25, size: 2.5 mm2, stranding: class-5, conductor_c: 60, rating_a: 22, ambient_factor: 100%, grouping_factor: 100%}\n" +
			"  - {name: c60, size: 6 mm2, stranding: class-5, conductor_c: 60, rating_a: 36, ambient_factor: 100%, grouping_factor: 100%}\n"
	}
	return cables + fmt.Sprintf("circuits: {breakers_a: %s, %s}\n", strings.ReplaceAll(fmt.Sprint(s.breakers), " ", ", "), ways)
}
