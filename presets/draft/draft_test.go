package draft_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets"
	"lookgate/presets/draft"
	"lookgate/presets/picture"
	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/site"
	"lookgate/presets/units"
)

// seeds is how many random briefs are planned, and how many in a short run.
const seeds, fewSeeds = 60, 15

// TestMake_RandomBriefs plans random briefs over all systems, and holds every plan to what a plan has to be.
func TestMake_RandomBriefs(t *testing.T) {
	least, capped, moved, all := 0, 0, 0, seeds
	if testing.Short() {
		all = fewSeeds
	}
	for seed := range uint64(all) {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			s := random(seed)
			b := read(t, s.text)
			d, err := draft.Make(b)
			require.NoError(t, err, "%s", s.text)
			good(t, d)
			fewest(t, s, b, d)
			swaps(t, d, s.cables)
			again, err := draft.Make(read(t, s.text))
			require.NoError(t, err)
			for name, octets := range d.Files {
				require.Equal(t, string(octets), string(again.Files[name]), "the same brief, the same octets")
			}
			require.Equal(t, d.Why, again.Why)
			if d.Full < 1 {
				capped++
			}
			if !s.cables {
				least++
			}
			if len(d.Site.Rig.Circuits) > 1 {
				moved++
			}
		})
	}
	require.Greater(t, least, all/3, "most briefs' circuits are counted by another way")
	require.Greater(t, capped, all/12, "some supplies do not carry full white")
	require.Greater(t, all-capped, all/12, "some do")
	require.Greater(t, moved, all/2, "most plans have circuits to swap")
}

// good holds a plan to what every plan has to be.
func good(t *testing.T, d *draft.Draft) {
	t.Helper()
	s, problems := site.Read(d.Files)
	require.NotNil(t, s, "%v", problems)
	require.Empty(t, problems)
	require.Empty(t, s.Rig.Problems())
	admitted(t, s, d.Full)
	within(t, s.Rig)
	chains(t, s.Rig)
	poles(t, s.Rig)
	ports(t, s.Rig)
}

// ports holds that every data run is within its port in every mode, by plain arithmetic.
func ports(t *testing.T, r *rig.Rig) {
	t.Helper()
	for _, d := range r.DataRuns {
		p := r.Processors[d.Processor]
		for _, m := range r.Modes {
			pixels := 0
			for _, panel := range d.Panels {
				kind := r.PanelTypes[r.Panels[panel].Type]
				pixels += kind.PixelsX * kind.PixelsY
			}
			bits := float64(pixels) * float64(p.WireBits(m.BitDepth)) * float64(m.WallRate.Num) / float64(m.WallRate.Den)
			require.LessOrEqual(t, bits, float64(p.Port)*float64(p.Usable)*(1+1e-12), "%s in mode %s", d.Name, m.Name)
		}
	}
	for m := range r.Modes {
		for _, l := range picture.RunLoads(r, m) {
			require.False(t, l.Over, "%s, gaps that its port carries counted", r.DataRuns[l.Run].Name)
		}
	}
}

// admitted holds that the plant carries every preset, and that full white is as high as it may be.
func admitted(t *testing.T, s *site.Site, full units.Level) {
	t.Helper()
	plan := presets.NewPlan(s.Rig, s.Book)
	require.Equal(t, []string{"full white", "half", "alignment"}, []string{s.Book.Presets[0].Name, s.Book.Presets[1].Name, s.Book.Presets[2].Name})
	for i := range s.Book.Presets {
		v := presets.Check(plan, &s.Book.Presets[i], presets.Conditions{})
		require.True(t, v.Admitted, "%v", v.Findings)
	}
	for _, z := range s.Book.Presets[0].Zones {
		require.InDelta(t, float64(full), float64(z.Level), 1e-9)
	}
	if full == 1 {
		return
	}
	higher := s.Book.Presets[0]
	for i := range higher.Zones {
		higher.Zones[i].Level, higher.Zones[i].Cap = full+0.006, full+0.006 // more than a step of any device here
	}
	require.False(t, presets.Check(plan, &higher, presets.Conditions{}).Admitted, "half a per cent more would pass too")
}

// within holds that every circuit by itself carries all of its panels at full white, whatever the supply does, and that its breaker protects what is behind it.
func within(t *testing.T, r *rig.Rig) {
	t.Helper()
	m := power.New(r)
	full := make([]units.Level, len(r.Outputs))
	for i := range full {
		full[i] = 1
	}
	worst := m.Worst(power.State{Levels: full}, nil)
	for i, c := range m.Conductors() {
		if c.Circuit >= 0 {
			require.LessOrEqual(t, float64(worst[i]), float64(c.Limit), c.Name)
		}
	}
	for _, c := range r.Circuits {
		require.LessOrEqual(t, c.Breaker, c.HomeRun)
		require.LessOrEqual(t, c.Breaker, c.Jumper)
		require.LessOrEqual(t, c.Breaker, r.PanelTypes[r.Panels[c.Panels[0]].Type].FeedThrough)
	}
}

// chains holds that every panel is fed once and on one data run, and that no circuit jumps.
func chains(t *testing.T, r *rig.Rig) {
	t.Helper()
	fed, run := make([]int, len(r.Panels)), make([]int, len(r.Panels))
	for _, c := range r.Circuits {
		for i, p := range c.Panels {
			fed[p]++
			if i > 0 {
				a, b := r.Panels[c.Panels[i-1]], r.Panels[p]
				require.Equal(t, a.Wall, b.Wall)
				require.Equal(t, 1.0, math.Abs(float64(a.Column-b.Column))+math.Abs(float64(a.Row-b.Row)), "%s jumps", c.Name)
			}
		}
	}
	for _, d := range r.DataRuns {
		for _, p := range d.Panels {
			run[p]++
		}
	}
	for p := range r.Panels {
		require.Equal(t, 1, fed[p], r.PanelName(p))
		require.Equal(t, 1, run[p], r.PanelName(p))
	}
}

// poles holds that breakers stand where a board has room for them: two poles next to each other and on different legs, none twice.
func poles(t *testing.T, r *rig.Rig) {
	t.Helper()
	taken := map[string]bool{}
	for _, c := range r.Circuits {
		b := r.Boards[c.Board]
		for _, p := range c.Poles {
			at := fmt.Sprintf("%s %d", b.Name, p)
			require.False(t, taken[at], at)
			taken[at] = true
			require.True(t, p >= 1 && p <= b.Poles, at)
		}
		if len(c.Poles) == 2 {
			apart := map[rig.Numbering]int{rig.OddEven: 2, rig.ByWays: 1}[b.Numbering]
			require.Equal(t, apart, c.Poles[1]-c.Poles[0], c.Name)
			legs := r.Legs(c)
			require.NotEqual(t, legs[0], legs[1], c.Name)
		}
		require.LessOrEqual(t, float64(r.Supply.Volts(len(c.Poles))), 264.0, "no panel gets more than it takes")
	}
}

// fewest holds the number of circuits against the fewest that a plain search finds.
func fewest(t *testing.T, s some, b *site.Brief, d *draft.Draft) {
	t.Helper()
	count := make([]int, len(b.Rig.Walls))
	for _, c := range d.Site.Rig.Circuits {
		count[d.Site.Rig.Panels[c.Panels[0]].Wall]++
	}
	for wall, n := range count {
		require.Equal(t, n, d.Circuits[wall].Circuits)
		require.GreaterOrEqual(t, n, d.Circuits[wall].ByPanels)
		if by := d.Circuits[wall].ByColumn; by > 0 {
			require.LessOrEqual(t, n, by)
		}
	}
	if s.cables {
		return
	}
	require.Equal(t, obvious(b), count)
}

// obvious counts the circuits of each wall by trying every breaker with every number of poles, and adding panels to a circuit until it is full. No figure of the
// planner comes in. The random briefs' boards have poles enough for the fewest circuits of every wall.
func obvious(b *site.Brief) []int {
	var counts []int
	for wall, w := range b.Rig.Walls {
		t, best := b.Rig.PanelTypes[w.Type], math.MaxInt
		for poles := 1; poles <= 2; poles++ {
			volts := []float64{float64(b.Rig.Supply.LineNeutral), float64(b.Rig.Supply.LineLine)}[poles-1]
			if volts == 0 || volts > 264 {
				continue
			}
			for _, breaker := range b.Circuits.Breakers {
				if breaker > b.Circuits.Home.Rating || breaker > b.Circuits.Link.Rating || breaker > t.FeedThrough {
					continue
				}
				limit, each := float64(breaker)*float64(b.Factor), float64(t.White)/(volts*float64(t.PF))
				if n := fill(b, wall, limit, each); n < best {
					best = n
				}
			}
		}
		counts = append(counts, best)
	}
	return counts
}

// fill counts the circuits of one kind that a wall takes: of whole columns where these are asked for, else panel by panel.
func fill(b *site.Brief, wall int, limit, each float64) int {
	w := b.Rig.Walls[wall]
	unit := 1
	if b.Wishes[wall].Columns == site.Most {
		unit = w.Rows
	}
	panels := 0
	for _, p := range b.Rig.Panels {
		if p.Wall == wall {
			panels++
		}
	}
	if float64(unit)*each > limit {
		return math.MaxInt
	}
	circuits, in := 1, 0.0
	for range panels / unit {
		if in += float64(unit); in*each > limit*(1+1e-12) {
			circuits, in = circuits+1, float64(unit)
		}
	}
	return circuits
}
