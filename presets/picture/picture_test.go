package picture_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/finding"
	"lookgate/presets/picture"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// stage is a wall of 4 columns and 3 rows of 100 × 50 px panels, two columns a processor, one data run a column. The left processor takes both
// sources, the right one only the first.
func stage() *rig.Rig {
	r := &rig.Rig{
		PanelTypes: []rig.PanelType{{Name: "s30", PixelsX: 100, PixelsY: 50}},
		Walls:      []rig.Wall{{Name: "bay", Columns: 4, Rows: 3, PixelsX: 400, PixelsY: 150}},
		Sources:    []rig.Source{{Name: "plate"}, {Name: "card"}},
		Modes:      []rig.Mode{{Name: "m60", WallRate: units.Rate{Num: 60, Den: 1}, BitDepth: 8}},
		Processors: []rig.Processor{
			{Name: "left", Inputs: []int{0, 1}, Port: 1e9, Usable: 1},
			{Name: "right", Inputs: []int{0}, Port: 1e9, Usable: 1},
		},
	}
	for column := 1; column <= 4; column++ {
		run := rig.DataRun{Name: "D" + string(rune('0'+column)), Processor: (column - 1) / 2, Port: (column-1)%2 + 1}
		for row := 1; row <= 3; row++ {
			run.Panels = append(run.Panels, len(r.Panels))
			r.Panels = append(r.Panels, rig.Panel{Column: column, Row: row})
		}
		r.DataRuns = append(r.DataRuns, run)
	}
	return r
}

func codes(fs []finding.Finding) []finding.Code {
	cs := []finding.Code{}
	for _, f := range fs {
		cs = append(cs, f.Code)
	}
	return cs
}

func TestPanelRectCountsRowsFromTheBottom(t *testing.T) {
	r := stage()
	require.Equal(t, picture.Rect{X: 0, Y: 100, Width: 100, Height: 50}, picture.PanelRect(r, 0), "C1R1 is bottom left")
	require.Equal(t, picture.Rect{X: 0, Y: 0, Width: 100, Height: 50}, picture.PanelRect(r, 2), "C1R3 is top left")
	require.Equal(t, picture.Rect{X: 300, Y: 0, Width: 100, Height: 50}, picture.PanelRect(r, 11), "C4R3 is top right")
}

func TestWindowOutside(t *testing.T) {
	for _, c := range []struct {
		name            string
		window          picture.Window
		computed, limit int64
		fit             picture.Rect
	}{
		{"right edge", picture.Window{X: 301, Y: 0, Width: 100, Height: 150}, 401, 400, picture.Rect{X: 300, Y: 0, Width: 100, Height: 150}},
		{"left edge", picture.Window{X: -1, Y: 0, Width: 100, Height: 150}, -1, 0, picture.Rect{X: 0, Y: 0, Width: 100, Height: 150}},
		{"top edge", picture.Window{X: 0, Y: -7, Width: 100, Height: 150}, -7, 0, picture.Rect{X: 0, Y: 0, Width: 100, Height: 150}},
		{"bottom edge", picture.Window{X: 0, Y: 1, Width: 100, Height: 150}, 151, 150, picture.Rect{X: 0, Y: 0, Width: 100, Height: 150}},
		{"both far edges, the worse one in numbers", picture.Window{X: 0, Y: 0, Width: 402, Height: 160}, 160, 150, picture.Rect{Width: 400, Height: 150}},
		{"no width", picture.Window{X: 10, Y: 0, Width: 0, Height: 150}, 0, 1, picture.Rect{X: 10, Width: 1, Height: 150}},
		{"a number near the largest", picture.Window{X: 5, Y: 0, Width: math.MaxInt, Height: 150}, math.MaxInt, 400, picture.Rect{Width: 400, Height: 150}},
		{"far below zero", picture.Window{X: math.MinInt + 8, Y: 0, Width: 10, Height: 150}, math.MinInt + 8, 0, picture.Rect{Width: 10, Height: 150}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := stage()
			fs := picture.Check(r, 0, []picture.Window{c.window})
			require.Equal(t, []finding.Code{finding.WindowOutside}, codes(fs))
			require.Equal(t, units.InPixels(c.computed), fs[0].Computed)
			require.Equal(t, units.InPixels(c.limit), fs[0].Limit)
			require.Equal(t, finding.Place{Kind: "window", Name: "1 (plate on bay)"}, fs[0].Place)
			require.Len(t, fs[0].Remedies, 1)
			require.Equal(t, c.fit, picture.Fit(r, c.window))
			fixed := picture.Window{X: c.fit.X, Y: c.fit.Y, Width: c.fit.Width, Height: c.fit.Height}
			require.Empty(t, picture.Check(r, 0, []picture.Window{fixed}), "the rectangle that was offered fits")
		})
	}
	require.Empty(t, picture.Check(stage(), 0, []picture.Window{{Width: 400, Height: 150}}), "the whole raster is inside")
}

func TestSourceNotOnProcessor(t *testing.T) {
	card := func(x, width int) picture.Window { return picture.Window{Source: 1, X: x, Width: width, Height: 150} }
	r := stage()
	require.Empty(t, picture.Check(r, 0, []picture.Window{card(0, 200)}), "ends where the right processor's panels begin")

	fs := picture.Check(r, 0, []picture.Window{card(0, 201), card(350, 50)})
	require.Equal(t, []finding.Code{finding.SourceNotThere}, codes(fs))
	require.Equal(t, finding.Place{Kind: "processor", Name: "right"}, fs[0].Place)
	require.Equal(t, units.InCount(6), fs[0].Computed, "three panels of column 3 and three of column 4")
	require.Equal(t, "it would have to show card on 6 of its panels (windows 1, 2), and no input of it carries that", fs[0].Sentence)
	require.Equal(t, "bring card to an input of right, or keep the window off its panels", fs[0].Remedies[0].Words)

	r.Processors[1].Inputs = []int{0, 1}
	require.Empty(t, picture.Check(r, 0, []picture.Window{card(0, 201), card(350, 50)}), "with the source on an input")
}

func TestASpareRunDoesNotCountPanelsTwice(t *testing.T) {
	r := stage()
	r.DataRuns = append(r.DataRuns, r.DataRuns[3])
	fs := picture.Check(r, 0, []picture.Window{{Source: 1, X: 300, Width: 100, Height: 150}})
	require.Len(t, fs, 1)
	require.Equal(t, units.InCount(3), fs[0].Computed)
}

// TestDataRunAtTheEdge holds runs that fill their port to the bit against ones that are one part over: floating point would decide these by chance.
func TestDataRunAtTheEdge(t *testing.T) {
	// A run of 3 panels is 15 000 px; 24 bits at 60 frames a second make 21 600 000 b/s.
	for _, c := range []struct {
		name   string
		port   units.BitsPerSecond
		usable units.Share
		rate   units.Rate
		over   bool
	}{
		{"exactly full", 21_600_000, 1, units.Rate{Num: 60, Den: 1}, false},
		{"one bit short", 21_599_999, 1, units.Rate{Num: 60, Den: 1}, true},
		{"exactly full at 0.9 usable", 24_000_000, 0.9, units.Rate{Num: 60, Den: 1}, false},
		{"exactly full at 0.7 usable, where a product of floats is below 30 240 000", 43_200_000, 0.7, units.Rate{Num: 84, Den: 1}, false},
		{"exactly full at 0.7 usable: 30 857 142.857 rounded up", 30_857_143, 0.7, units.Rate{Num: 60, Den: 1}, false},
		{"and rounded down", 30_857_142, 0.7, units.Rate{Num: 60, Den: 1}, true},
		{"60000/1001 is 21 578 421.57 b/s: the next whole bit", 21_578_422, 1, units.Rate{Num: 60000, Den: 1001}, false},
		{"60000/1001 is more than the whole bit below", 21_578_421, 1, units.Rate{Num: 60000, Den: 1001}, true},
		{"59.94 instead of 60000/1001 would pass here and fail there", 21_578_422, 1, units.Rate{Num: 60, Den: 1}, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := stage()
			r.Modes[0].WallRate = c.rate
			for i := range r.Processors {
				r.Processors[i].Port, r.Processors[i].Usable = c.port, c.usable
			}
			fs := picture.Check(r, 0, nil)
			if !c.over {
				require.Empty(t, fs)
				return
			}
			require.Len(t, fs, 4, "one for each run, not the first")
			require.Equal(t, finding.DataRunOver, fs[0].Code)
			require.Equal(t, finding.Place{Kind: "data run", Name: "D1"}, fs[0].Place)
			require.True(t, picture.RunLoads(r, 0)[0].Over)
		})
	}
}

func TestBoundingRectangleCountsGaps(t *testing.T) {
	r := stage()
	chain := []int{0, 1, 5} // C1R1, C1R2 and C2R3
	require.Equal(t, int64(3*100*50), picture.RunPixels(r, rig.Processor{}, chain))
	require.Equal(t, int64(200*150), picture.RunPixels(r, rig.Processor{Bounding: true}, chain))

	r.Walls = append(r.Walls, rig.Wall{Name: "wing", Columns: 1, Rows: 1, PixelsX: 100, PixelsY: 50})
	r.Panels = append(r.Panels, rig.Panel{Wall: 1, Column: 1, Row: 1})
	require.Equal(t, int64(200*150+100*50), picture.RunPixels(r, rig.Processor{Bounding: true}, append(chain, 12)), "one rectangle of each wall")
}

func TestDataRunRemediesPass(t *testing.T) {
	over := func() *rig.Rig {
		r := stage()
		r.Processors[0].Port = 15_000_000 // two panels at 60 frames and 8 bits, or three at 30
		r.Processors[0].Wire = []rig.WireDepth{{Depth: 8, Bits: 24}, {Depth: 5, Bits: 16}}
		r.Modes = append(r.Modes, rig.Mode{Name: "m25", WallRate: units.Rate{Num: 25, Den: 1}, BitDepth: 8},
			rig.Mode{Name: "m30", WallRate: units.Rate{Num: 30, Den: 1}, BitDepth: 8})
		return r
	}
	r := over()
	fs := picture.Check(r, 0, nil)
	require.Len(t, fs, 2)
	var words []string
	for _, m := range fs[0].Remedies {
		require.Equal(t, finding.Later, m.When)
		words = append(words, m.Words)
	}
	require.Equal(t, []string{
		"at most the first 2 of its 3 panels fit on one port in this mode: move the other 1 to another data run",
		"mode m30 (30 frames a second, 8 bits) is the highest that this run can carry as it is wired",
		"at 60 frames a second it can carry 5 bits a channel",
	}, words)

	r.DataRuns[0].Panels, r.DataRuns[1].Panels = r.DataRuns[0].Panels[:2], r.DataRuns[1].Panels[:2]
	require.Empty(t, picture.Check(r, 0, nil), "two panels")
	require.Empty(t, picture.Check(over(), 2, nil), "the other mode")
	r = over()
	r.Modes[0].BitDepth = 5
	require.Empty(t, picture.Check(r, 0, nil), "fewer bits: 15 000 px × 16 × 60 = 14.4 Mb/s")
}

// TestWireBitsAreNotThreeTimesTheDepth: ten bits in words of sixteen take 48 on the wire, and a port that holds 30 a pixel does not hold them.
func TestWireBitsAreNotThreeTimesTheDepth(t *testing.T) {
	r := stage()
	r.Modes[0].BitDepth = 10
	r.Processors[0].Port, r.Processors[1].Port = 27_000_000, 27_000_000 // 15 000 px × 30 bits × 60
	require.Empty(t, picture.Check(r, 0, nil))
	r.Processors[0].Wire = []rig.WireDepth{{Depth: 10, Bits: 48}}
	fs := picture.Check(r, 0, nil)
	require.Len(t, fs, 2)
	require.Equal(t, units.InBits(43_200_000), fs[0].Computed)
}

// TestPanelsOnAPort checks the arithmetic of a usual port, derived: 168 × 168 px panels, 8 bits, 940 Mb/s usable.
func TestPanelsOnAPort(t *testing.T) {
	r := &rig.Rig{
		PanelTypes: []rig.PanelType{{PixelsX: 168, PixelsY: 168}},
		Walls:      []rig.Wall{{Columns: 1, Rows: 30, PixelsX: 168, PixelsY: 5040}},
		Processors: []rig.Processor{{Port: 1e9, Usable: 0.94}},
		Modes:      []rig.Mode{{WallRate: units.Rate{Num: 60, Den: 1}, BitDepth: 8}, {WallRate: units.Rate{Num: 120, Den: 1}, BitDepth: 8}},
	}
	run := rig.DataRun{}
	for row := 1; row <= 30; row++ {
		run.Panels = append(run.Panels, row-1)
		r.Panels = append(r.Panels, rig.Panel{Column: 1, Row: row})
	}
	require.Equal(t, 23, picture.PanelsThatFit(r, run, r.Modes[0]))
	require.Equal(t, 11, picture.PanelsThatFit(r, run, r.Modes[1]))
}

func TestCoverageCountsOverlapOnce(t *testing.T) {
	r := stage()
	cs := picture.Coverage(r, []picture.Window{
		{X: 0, Y: 0, Width: 200, Height: 150}, {X: 100, Y: 50, Width: 200, Height: 50}, {X: 350, Y: 140, Width: 100, Height: 100},
	})
	require.Equal(t, []picture.Cover{{Wall: 0, Pixels: 200*150 + 100*50 + 50*10, Of: 400 * 150}}, cs)
	require.Equal(t, int64(400*150), picture.Coverage(r, []picture.Window{{X: -5, Y: -5, Width: 1000, Height: 1000}, {Width: 10, Height: 10}})[0].Pixels)
}

// TestCoverageAgainstCounting counts pixels one by one beside the pieces.
func TestCoverageAgainstCounting(t *testing.T) {
	r := stage()
	windows := []picture.Window{
		{X: 3, Y: 4, Width: 50, Height: 60}, {X: 40, Y: 0, Width: 30, Height: 150}, {X: 20, Y: 50, Width: 100, Height: 20},
		{X: 45, Y: 55, Width: 5, Height: 5}, {X: 390, Y: 149, Width: 20, Height: 1}, {X: 0, Y: 0, Width: 41, Height: 5},
	}
	var n int64
	for x := range 400 {
		for y := range 150 {
			for _, w := range windows {
				if x >= w.X && x < w.X+w.Width && y >= w.Y && y < w.Y+w.Height {
					n++
					break
				}
			}
		}
	}
	require.Equal(t, n, picture.Coverage(r, windows)[0].Pixels)
}
