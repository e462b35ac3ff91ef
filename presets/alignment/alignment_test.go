package alignment_test

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets"
	"lookgate/presets/alignment"
	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/rig/rigtest"
	"lookgate/presets/units"
)

// odd gives a rig whose panels have so many pixels, with a hole in its wall and a corner missing, on circuits and data runs that go up one column and down the next.
func odd(width, height int) *rig.Rig {
	r := rigtest.SplitPhase()
	r.PanelTypes[0].PixelsX, r.PanelTypes[0].PixelsY = width, height
	r.Walls, r.Panels, r.Circuits, r.Outputs, r.Zones, r.DataRuns = nil, nil, nil, nil, nil, nil
	rigtest.AddWall(r, "odd", 6, 5)
	r.Panels = slices.DeleteFunc(r.Panels, func(p rig.Panel) bool { return p.Column == 3 && p.Row == 3 || p.Column == 6 && p.Row >= 4 })
	left, right := snake(r, 1, 3), snake(r, 4, 6)
	rigtest.AddCircuit(r, 0, []int{0, 1}, 20, left)
	rigtest.AddCircuit(r, 0, []int{0}, 15, right)
	rigtest.AddOutput(r, 0, left)
	rigtest.AddOutput(r, 0, right)
	return r
}

// snake gives columns of the first wall up one and down the next.
func snake(r *rig.Rig, from, to int) []int {
	var all []int
	for c := from; c <= to; c++ {
		column := rigtest.Columns(r, 0, c, c)
		if (c-from)%2 == 1 {
			slices.Reverse(column)
		}
		all = append(all, column...)
	}
	return all
}

// made is what came of one rig.
type made struct {
	list   []alignment.Picture
	images map[string]image.Image
	files  map[string][]byte
	rows   []map[string]string
}

func makeOf(t *testing.T, p *presets.Plan) made {
	t.Helper()
	m := made{images: map[string]image.Image{}, files: map[string][]byte{}}
	var err error
	m.list, err = alignment.Make(p, func(name string, data []byte) error {
		require.NotContains(t, m.files, name, "a file is written once")
		m.files[name] = data
		return nil
	})
	require.NoError(t, err)
	for _, picture := range m.list {
		m.images[picture.File], err = png.Decode(bytes.NewReader(m.files[picture.File]))
		require.NoError(t, err)
		require.Equal(t, image.Rect(0, 0, picture.Width, picture.Height), m.images[picture.File].Bounds())
		w := p.Rig.Walls[picture.Wall]
		require.Equal(t, [2]int{w.PixelsX, w.PixelsY}, [2]int{picture.Width, picture.Height})
	}
	records, err := csv.NewReader(bytes.NewReader(m.files[alignment.Table])).ReadAll()
	require.NoError(t, err)
	for _, record := range records[1:] {
		row := map[string]string{}
		for i, cell := range record {
			row[records[0][i]] = cell
		}
		m.rows = append(m.rows, row)
	}
	require.Len(t, m.rows, len(m.list))
	return m
}

func (m made) of(t *testing.T, kind string) image.Image {
	t.Helper()
	for _, p := range m.list {
		if p.Kind == kind {
			return m.images[p.File]
		}
	}
	require.Fail(t, "no picture", kind)
	return nil
}

func grey(v uint8) color.RGBA { return color.RGBA{v, v, v, 255} }

func at(i image.Image, x, y int) color.RGBA { return color.RGBAModel.Convert(i.At(x, y)).(color.RGBA) }

// panelAt gives the panel that a pixel of the first wall belongs to, and -1 for a hole, by division alone.
func panelAt(r *rig.Rig, x, y int) int {
	t, w := r.PanelTypes[0], r.Walls[0]
	column, row := x/t.PixelsX+1, w.Rows-y/t.PixelsY
	return slices.IndexFunc(r.Panels, func(p rig.Panel) bool { return p.Wall == 0 && p.Column == column && p.Row == row })
}

var sizes = []struct {
	name          string
	width, height int
}{
	{"odd", 13, 7}, {"one pixel", 1, 1}, {"two by three", 2, 3}, {"upright", 17, 41}, {"usual", 168, 168}, {"wide", 96, 48},
}

func TestSeamsLightEveryEdgePixelAndNothingElse(t *testing.T) {
	for _, size := range sizes {
		t.Run(size.name, func(t *testing.T) {
			r := odd(size.width, size.height)
			seams := makeOf(t, presets.NewPlan(r, nil)).of(t, "seams")
			for y := range r.Walls[0].PixelsY {
				for x := range r.Walls[0].PixelsX {
					want := grey(0)
					inX, inY := x%size.width, y%size.height
					if panelAt(r, x, y) >= 0 && (inX == 0 || inX == size.width-1 || inY == 0 || inY == size.height-1) {
						want = grey(255)
					}
					if got := at(seams, x, y); got != want {
						require.Equal(t, want, got, "pixel %d, %d", x, y)
					}
				}
			}
		})
	}
}

func TestHolesStayBlack(t *testing.T) {
	for _, size := range sizes {
		t.Run(size.name, func(t *testing.T) {
			r := odd(size.width, size.height)
			m := makeOf(t, presets.NewPlan(r, nil))
			for _, p := range m.list {
				for y := range p.Height {
					for x := range p.Width {
						if got := at(m.images[p.File], x, y); got != grey(0) && panelAt(r, x, y) < 0 {
							require.Equal(t, grey(0), got, "%s at %d, %d", p.File, x, y)
						}
					}
				}
			}
		})
	}
}

func TestEveryPanelShowsAnAddressOfItsOwn(t *testing.T) {
	for _, size := range sizes[3:] {
		t.Run(size.name, func(t *testing.T) {
			r := odd(size.width, size.height)
			panels := makeOf(t, presets.NewPlan(r, nil)).of(t, "panels")
			seen := map[string]int{}
			for i, p := range r.Panels {
				var letters strings.Builder
				for y := range size.height {
					for x := range size.width {
						letters.WriteString(strconv.FormatBool(at(panels, (p.Column-1)*size.width+x, (5-p.Row)*size.height+y) == grey(160)))
					}
				}
				require.Contains(t, letters.String(), "true")
				require.NotContains(t, seen, letters.String(), "panel %s reads like another", r.PanelName(i))
				seen[letters.String()] = i
			}
		})
	}
}

func TestGreysAreSixteenEvenStepsAndTheDarkestOnes(t *testing.T) {
	r := odd(97, 50)
	greys := makeOf(t, presets.NewPlan(r, nil)).of(t, "greys")
	for _, p := range r.Panels {
		for x := range 97 {
			step := 0
			for (step+1)*97/16 <= x {
				step++
			}
			left, top := (p.Column-1)*97, (5-p.Row)*50
			require.Equal(t, grey(uint8(17*step)), at(greys, left+x, top+25-1))
			require.Equal(t, grey(uint8(step)), at(greys, left+x, top+25))
			require.Equal(t, grey(0), at(greys, left+x, top+10))
			require.Equal(t, grey(0), at(greys, left+x, top+40))
		}
	}
}

// TestArrowsCrossTheSeamsOfTheChain looks at the middle of every seam between two panels of one chain: the arrow is there exactly where one follows the other.
func TestArrowsCrossTheSeamsOfTheChain(t *testing.T) {
	r := odd(60, 60)
	runs := makeOf(t, presets.NewPlan(r, nil)).of(t, "data-runs")
	order := map[[2]int][2]int{}
	for i, run := range r.DataRuns {
		for k, panel := range run.Panels {
			order[[2]int{r.Panels[panel].Column, r.Panels[panel].Row}] = [2]int{i, k}
		}
	}
	crossed, whole := 0, 0
	for place, own := range order {
		for _, step := range [][2]int{{1, 0}, {0, 1}} {
			next, ok := order[[2]int{place[0] + step[0], place[1] + step[1]}]
			if !ok || next[0] != own[0] {
				continue
			}
			x, y := (place[0]-1)*60+30*(1+step[0]), (5-place[1])*60+30*(1-step[1])
			lit := at(runs, x, y) != grey(0)
			follows := next[1]-own[1] == 1 || own[1]-next[1] == 1
			require.Equal(t, follows, lit, "from C%dR%d by %v", place[0], place[1], step)
			if lit {
				crossed++
			} else {
				whole++
			}
		}
	}
	require.Greater(t, crossed, 15)
	require.Greater(t, whole, 3)
}

func TestWhiteIsTheZoneAndItsLevelIsTheHighestThatPasses(t *testing.T) {
	r := odd(60, 60)
	r.Circuits[0].Breaker = 10
	plan := presets.NewPlan(r, nil)
	m := makeOf(t, plan)
	held := 0
	for _, p := range m.list {
		if p.Zone < 0 {
			continue
		}
		own := r.Outputs[r.Zones[p.Zone].Outputs[0]].Panels
		for y := range p.Height {
			for x := range p.Width {
				panel := panelAt(r, x, y)
				switch got := at(m.images[p.File], x, y); {
				case panel >= 0 && slices.Contains(own, panel) && panel != slices.Min(own):
					require.Equal(t, grey(255), got)
				case panel < 0 || !slices.Contains(own, panel):
					require.Equal(t, grey(0), got)
				}
			}
		}
		at := func(l units.Level) bool {
			return presets.Check(plan, &presets.Preset{Zones: []presets.ZoneLevel{{Zone: p.Zone, Level: l, Cap: l}}}, presets.Conditions{}).Admitted
		}
		require.True(t, p.Loud())
		require.True(t, at(p.Safe), "%s at %v", p.File, p.Safe)
		if p.Safe < 1 {
			require.False(t, at(p.Safe+0.01), "%s above %v", p.File, p.Safe)
			held++
		}
	}
	require.Positive(t, held, "some zone is held down")
}

// light gives the linear mean of a colour by the brighter of the two readings, channel by channel, in plain arithmetic.
func light(v uint8) float64 {
	s := float64(v) / 255
	if s <= 0.04045 {
		return max(s/12.92, math.Pow(s, 2.2))
	}
	return max(math.Pow((s+0.055)/1.055, 2.4), math.Pow(s, 2.2))
}

func TestTheTableTellsTheMeansOfThePictures(t *testing.T) {
	r := odd(61, 40)
	m := makeOf(t, presets.NewPlan(r, nil))
	for i, p := range m.list {
		var all [3]float64
		circuits := make([][4]float64, len(r.Circuits))
		for y := range p.Height {
			for x := range p.Width {
				c := at(m.images[p.File], x, y)
				for k, v := range []uint8{c.R, c.G, c.B} {
					all[k] += light(v)
				}
				panel := panelAt(r, x, y)
				for k, circuit := range r.Circuits {
					if panel >= 0 && slices.Contains(circuit.Panels, panel) {
						circuits[k] = [4]float64{circuits[k][0] + light(c.R), circuits[k][1] + light(c.G), circuits[k][2] + light(c.B), circuits[k][3] + 1}
					}
				}
			}
		}
		mean, highest := slices.Max(all[:])/float64(len(r.Panels)*61*40), 0.0
		for _, c := range circuits {
			highest = max(highest, slices.Max(c[:3])/c[3])
		}
		require.InDelta(t, mean, float64(p.Mean), 1e-9, p.File)
		require.InDelta(t, highest, float64(p.Highest), 1e-9, p.File)
		require.Equal(t, p.File, m.rows[i]["file"])
		require.Equal(t, fmt.Sprintf("%.2f", 100*mean), m.rows[i]["mean_percent"])
		require.Equal(t, fmt.Sprintf("%.2f", 100*highest), m.rows[i]["highest_circuit_mean_percent"])
		require.Equal(t, strconv.FormatBool(p.Zone >= 0), m.rows[i]["bright"], "%s: only white is bright", p.File)
	}
}

// TestDarkPicturesPassAtTheirLevels takes what the pictures show as their content: at the level that is told the plant carries them, one per cent higher it does not.
func TestDarkPicturesPassAtTheirLevels(t *testing.T) {
	for _, breaker := range []units.Amps{1.9, 1.95, 2, 20} {
		r := odd(60, 60)
		r.Circuits = r.Circuits[:1]
		r.Outputs[1].Panels = nil
		r.Circuits[0].Breaker, r.Devices[0].Restart = breaker, 0
		plan := presets.NewPlan(r, nil)
		held := 0
		for _, p := range makeOf(t, plan).list {
			if p.Zone >= 0 {
				continue
			}
			require.LessOrEqual(t, p.Safe, p.Own, "a dark picture may go at least as high as any")
			over := func(l units.Level) []int {
				return plan.Power.Over(power.State{Levels: []units.Level{l, l}, Content: []units.Share{p.Highest, 0}})
			}
			require.Empty(t, over(p.Own), "%s at %v", p.File, p.Own)
			if p.Own < 1 {
				require.NotEmpty(t, over(p.Own+0.01), "%s above %v", p.File, p.Own)
				held++
			}
		}
		require.Equal(t, breaker < 20, held > 0, "breaker %v", breaker)
	}
}

func TestTheSameRigGivesTheSameBytes(t *testing.T) {
	a, b := makeOf(t, presets.NewPlan(odd(31, 33), nil)), makeOf(t, presets.NewPlan(odd(31, 33), nil))
	require.Equal(t, a.files, b.files)
}

func TestFilesHaveNamesOfTheirOwn(t *testing.T) {
	r := odd(12, 12)
	rigtest.AddWall(r, "ODD", 2, 2)
	rigtest.AddWall(r, `o\d`, 2, 2)
	rigtest.AddWall(r, "o:d", 1, 1)
	r.Zones[0].Name, r.Zones[1].Name = "..", "z:1"
	m := makeOf(t, presets.NewPlan(r, nil))
	seen := map[string]bool{}
	for _, p := range m.list {
		require.Regexp(t, `^[A-Za-z0-9_-]+\.png$`, p.File)
		require.False(t, seen[strings.ToLower(p.File)], p.File)
		seen[strings.ToLower(p.File)] = true
	}
}

func TestARasterThatIsTooLargeIsRefused(t *testing.T) {
	r := odd(1<<15, 1<<15)
	_, err := alignment.Make(presets.NewPlan(r, nil), func(string, []byte) error { return nil })
	require.ErrorContains(t, err, "wall odd: its raster of 196608 x 163840 is too large to draw\nsplit it")
}

func TestWhatCannotBeWrittenIsSaid(t *testing.T) {
	_, err := alignment.Make(presets.NewPlan(odd(12, 12), nil), func(name string, _ []byte) error {
		if name == alignment.Table {
			return fmt.Errorf("no room for %s", name)
		}
		return nil
	})
	require.EqualError(t, err, "no room for pictures.csv")
}
