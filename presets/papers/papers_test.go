package papers_test

import (
	"bytes"
	"encoding/csv"
	"encoding/xml"
	"errors"
	"fmt"
	"html"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets"
	"lookgate/presets/papers"
	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/rig/rigtest"
	"lookgate/presets/site"
	"lookgate/presets/units"
)

var shipped = []string{"demo", "iec", "small", "trade"}

// readPlan gives a shipped site's plan.
func readPlan(t *testing.T, name string) *presets.Plan {
	t.Helper()
	contents := map[string][]byte{}
	for _, file := range site.Files {
		text, err := os.ReadFile(filepath.Join("../../testdata/sites", name, file))
		require.NoError(t, err)
		contents[file] = text
	}
	s, problems := site.Read(contents)
	require.NotNil(t, s, problems)
	return presets.NewPlan(s.Rig, s.Book)
}

var day = papers.Options{Date: time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC), Cautions: []string{"breakers protect <you> & nobody else"}}

// written is what came of one plan, by name.
type written map[string][]byte

func makeOf(t *testing.T, p *presets.Plan) written {
	t.Helper()
	made, err := papers.Make(p, day)
	require.NoError(t, err)
	require.Equal(t, papers.PageFile, made[0].Name)
	w := written{}
	for _, f := range made {
		require.NotContains(t, w, f.Name, "a file is made once")
		w[f.Name] = f.Data
	}
	return w
}

// rows reads a table, each row by its heads.
func (w written) rows(t *testing.T, name string) []map[string]string {
	t.Helper()
	require.Contains(t, w, name)
	all, err := csv.NewReader(bytes.NewReader(w[name])).ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(all), 1, name)
	var rows []map[string]string
	for _, record := range all[1:] {
		row := map[string]string{}
		for i, head := range all[0] {
			row[head] = record[i]
		}
		rows = append(rows, row)
	}
	return rows
}

func figure(t *testing.T, text string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(text, 64)
	require.NoError(t, err)
	return v
}

func TestThePageIsWellFormedAndStandsAlone(t *testing.T) {
	for _, name := range shipped {
		t.Run(name, func(t *testing.T) {
			page := makeOf(t, readPlan(t, name))[papers.PageFile]
			d := xml.NewDecoder(bytes.NewReader(page))
			for {
				token, err := d.Token()
				if errors.Is(err, io.EOF) {
					break
				}
				require.NoError(t, err)
				start, ok := token.(xml.StartElement)
				if !ok {
					continue
				}
				require.NotContains(t, []string{"script", "link", "img", "iframe", "object", "image", "a", "base"}, start.Name.Local)
				for _, a := range start.Attr {
					if start.Name.Local == "use" && strings.HasPrefix(a.Value, "#") {
						continue
					}
					require.NotContains(t, []string{"src", "href", "xmlns"}, a.Name.Local)
				}
			}
			text := string(page)
			require.NotContains(t, text, "://")
			require.NotContains(t, text, "@import")
			require.Equal(t, strings.Count(text, "url("), strings.Count(text, "url(#"), "only what is in the file is referred to")
			require.Contains(t, text, "breakers protect &lt;you&gt; &amp; nobody else")
			require.Contains(t, text, "breakers do; local codes and a licensed electrician decide")
			require.Contains(t, text, "2026-11-25")
			require.NotContains(t, text, "ZgotmplZ", "nothing was taken for unsafe")
		})
	}
}

func TestWhatIsReferredToIsThere(t *testing.T) {
	page := string(makeOf(t, readPlan(t, "demo"))[papers.PageFile])
	found := regexp.MustCompile(`(?:url\(#|href="#)([a-z0-9]+)[")]`).FindAllStringSubmatch(page, -1)
	require.Greater(t, len(found), 500, "arrows and hatches")
	seen := map[string]bool{}
	for _, m := range found {
		if !seen[m[1]] {
			require.Equal(t, 1, strings.Count(page, `id="`+m[1]+`"`), m[1])
		}
		seen[m[1]] = true
	}
}

func TestTheSamePlanGivesTheSameBytes(t *testing.T) {
	for _, name := range shipped {
		require.Equal(t, makeOf(t, readPlan(t, name)), makeOf(t, readPlan(t, name)), name)
	}
}

// chapters cuts the page's sections apart, by their titles.
func chapters(page []byte) map[string]string {
	all := map[string]string{}
	for _, text := range strings.Split(string(page), "<section>")[1:] {
		title := regexp.MustCompile(`<h2>(.*?)</h2>`).FindStringSubmatch(text)[1]
		all[title] = text
	}
	return all
}

// drawn is one panel's words in an elevation: where they begin on their part, and the part.
type drawn struct {
	x, y float64
	part int
}

var words = regexp.MustCompile(`<g class="w" data-panel="([^"]+)"><text class="a" x="([0-9.]+)" y="([0-9.]+)"`)

func panelsIn(t *testing.T, chapter string) map[string]drawn {
	t.Helper()
	all := map[string]drawn{}
	for part, svg := range strings.Split(chapter, "<svg")[1:] {
		for _, m := range words.FindAllStringSubmatch(svg, -1) {
			require.NotContains(t, all, m[1], "a panel is drawn once")
			all[m[1]] = drawn{figure(t, m[2]), figure(t, m[3]), part}
		}
	}
	return all
}

func TestElevationsHaveEveryPanelOnceAndTheBackIsTheFrontMirrored(t *testing.T) {
	for _, name := range shipped {
		p := readPlan(t, name)
		all := chapters(makeOf(t, p)[papers.PageFile])
		for wall, w := range p.Rig.Walls {
			for _, by := range []string{"circuit", "data run"} {
				t.Run(name+" "+w.Name+" "+by, func(t *testing.T) {
					front := panelsIn(t, all[fmt.Sprintf("Wall %s by %s, seen from the FRONT", w.Name, by)])
					back := panelsIn(t, all[fmt.Sprintf("Wall %s by %s, seen from the BACK", w.Name, by)])
					n := 0
					for i, panel := range p.Rig.Panels {
						if panel.Wall == wall {
							n++
							require.Contains(t, front, p.Rig.PanelName(i))
							require.Contains(t, back, p.Rig.PanelName(i))
						}
					}
					require.Len(t, front, n)
					require.Len(t, back, n)
					requireMirrored(t, p.Rig, wall, front, back)
				})
			}
		}
	}
}

// requireMirrored compares the panels of a wall by pairs in one row: what is further right in the front's part is further left in the back's, by the same.
func requireMirrored(t *testing.T, r *rig.Rig, wall int, front, back map[string]drawn) {
	t.Helper()
	last, pairs := -1, 0
	for i, panel := range r.Panels {
		if panel.Wall != wall {
			continue
		}
		if f, b := front[r.PanelName(i)], back[r.PanelName(i)]; last >= 0 {
			lf, lb := front[r.PanelName(last)], back[r.PanelName(last)]
			if f.part == lf.part {
				require.Equal(t, b.part, lb.part)
				require.InDelta(t, f.x-lf.x, lb.x-b.x, 0.021, "columns run the other way")
				require.InDelta(t, f.y-lf.y, b.y-lb.y, 0.021, "rows run the same way")
				pairs++
			}
		}
		last = i
	}
	require.Positive(t, pairs)
	left, right := front[r.Walls[wall].Name+" C1R1"], front[r.Walls[wall].Name+" C2R1"]
	require.Greater(t, right.x, left.x, "C1 is at the left seen from the front")
}

func TestSchedulesHaveEveryPanelOnce(t *testing.T) {
	for _, name := range shipped {
		p := readPlan(t, name)
		w := makeOf(t, p)
		for _, file := range []string{"circuits.csv", "data-runs.csv"} {
			t.Run(name+" "+file, func(t *testing.T) {
				seen := map[string]bool{}
				for _, row := range w.rows(t, file) {
					list := row["panels in feeding order"] + row["panels in order"]
					for _, panel := range strings.Split(list, "; ") {
						require.False(t, seen[panel], panel)
						seen[panel] = true
					}
				}
				for i := range p.Rig.Panels {
					require.True(t, seen[p.Rig.PanelName(i)], p.Rig.PanelName(i))
				}
				require.Len(t, seen, len(p.Rig.Panels))
			})
		}
	}
}

func TestTheScheduleIsThePowerModels(t *testing.T) {
	for _, name := range shipped {
		t.Run(name, func(t *testing.T) {
			p := readPlan(t, name)
			worst := p.Power.Worst(p.Full(), nil)
			var flow power.Flow
			p.Power.Flow(p.Full(), &flow)
			var watts, want units.Watts
			for i, row := range makeOf(t, p).rows(t, "circuits.csv") {
				c := p.Rig.Circuits[i]
				require.Equal(t, c.Name, row["circuit"])
				at := slices.IndexFunc(p.Power.Conductors(), func(k rig.Conductor) bool { return k.Circuit == i })
				require.InDelta(t, float64(worst[at]), figure(t, row["full white A"]), 5e-5)
				require.LessOrEqual(t, figure(t, row["limit A"]), float64(p.Power.Conductors()[at].Limit)+5e-5)
				require.Equal(t, figure(t, row["full white A"]) > figure(t, row["limit A"]), row["over"] == "over")
				watts += units.Watts(figure(t, row["full white W"]))
				if last := row["volts at last panel"]; c.Home != nil {
					require.InDelta(t, float64(flow.Panel[c.Panels[len(c.Panels)-1]].Volts), figure(t, last), 0.051)
				} else {
					require.Empty(t, last, "nothing is said of a way that the rig does not describe")
				}
			}
			for _, panel := range p.Rig.Panels {
				want += p.Rig.PanelTypes[panel.Type].White
			}
			require.InDelta(t, float64(want), float64(watts), 1e-3)
		})
	}
}

func TestBoardsHaveEveryPoleOnItsLeg(t *testing.T) {
	for _, name := range shipped {
		t.Run(name, func(t *testing.T) {
			p := readPlan(t, name)
			w := makeOf(t, p)
			rows := w.rows(t, "boards.csv")
			taken := 0
			for _, b := range p.Rig.Boards {
				for pole := 1; pole <= b.Poles; pole++ {
					row := rows[0]
					rows = rows[1:]
					require.Equal(t, b.Name, row["board"])
					require.Equal(t, strconv.Itoa(pole), row["pole"])
					require.Equal(t, fmt.Sprintf("L%d", b.LegOf(pole, p.Rig.Supply.System)+1), row["leg"])
					if row["circuit"] != "" {
						at := slices.IndexFunc(p.Rig.Circuits, func(c rig.Circuit) bool { return c.Name == row["circuit"] })
						require.Contains(t, p.Rig.Circuits[at].Poles, pole)
						taken++
					}
				}
			}
			require.Empty(t, rows)
			poles := 0
			for _, c := range p.Rig.Circuits {
				poles += len(c.Poles)
			}
			require.Equal(t, poles, taken)
		})
	}
}

func TestADirectoryHasOddPolesAtTheLeft(t *testing.T) {
	text := chapters(makeOf(t, readPlan(t, "small"))[papers.PageFile])["Board directories"]
	row := regexp.MustCompile(`<tr><td>K1[^\n]*</tr>`).FindString(text)
	require.Contains(t, row, `<td>20 A, 30 mA</td><td>L1</td><td class="r">1</td><td>2</td><td>L1</td><td>20 A, 30 mA</td><td>K2: back C3R1..C4R3, 6 panels</td>`)
	require.Contains(t, text, `<td>″</td><td>L2</td><td class="r">3</td><td>4</td><td>L2</td><td>″</td>`)
	require.Contains(t, text, "load fan")
}

func TestCablesAddUp(t *testing.T) {
	for _, name := range shipped {
		t.Run(name, func(t *testing.T) {
			p := readPlan(t, name)
			w := makeOf(t, p)
			pieces, metres, want, length := 0, 0.0, 0, 0.0
			for _, row := range w.rows(t, "cable-counts.csv") {
				pieces += int(figure(t, row["pieces"]))
				if row["all m"] != "not given" {
					metres += figure(t, row["all m"])
				}
			}
			run := func(r *rig.Run, n int) {
				if want += n; r != nil {
					length += float64(r.Length) * float64(n)
				}
			}
			for _, b := range p.Rig.Boards {
				run(b.Feeder, 1)
			}
			for _, c := range p.Rig.Circuits {
				run(c.Home, 1)
				run(c.Link, len(c.Panels)-1)
			}
			for _, d := range p.Rig.DataRuns {
				run(nil, len(d.Panels))
			}
			require.Equal(t, want, pieces)
			require.InDelta(t, length, metres, 1e-6)
			listed := 0
			for _, row := range w.rows(t, "cables.csv") {
				listed += int(figure(t, row["pieces"]))
			}
			require.Equal(t, want, listed)
		})
	}
}

func TestPresetsComeTheTightestFirst(t *testing.T) {
	p := readPlan(t, "demo")
	rows := makeOf(t, p).rows(t, "presets.csv")
	require.Len(t, rows, len(p.Book.Presets))
	require.Equal(t, "refused", rows[0]["verdict"])
	before := 1e9
	for _, row := range rows {
		share := figure(t, row["of the limit %"])
		require.LessOrEqual(t, share, before)
		before = share
		require.InDelta(t, figure(t, row["limit A"])-figure(t, row["A"]), figure(t, row["headroom A"]), 0.11)
	}
}

func TestALookOnCreditIsMarkedBesideItsFullWhite(t *testing.T) {
	p := readPlan(t, "demo")
	p.Rig.Credit = &rig.Decision{Reason: "measured", By: "R. Ames"}
	for i := range p.Rig.Devices {
		p.Rig.Devices[i].Class = rig.Reporting // a silent one gives no credit
	}
	for i := range p.Book.Presets[0].Zones {
		p.Book.Presets[0].Zones[i].Content = &presets.Content{Red: 0.2, Green: 0.3, Blue: 0.4}
	}
	p = presets.NewPlan(p.Rig, p.Book)
	v := presets.Check(p, &p.Book.Presets[0], presets.Conditions{})
	require.NotNil(t, v.Credit)
	marked := 0
	for _, row := range makeOf(t, p).rows(t, "presets.csv") {
		if row["number"] != "1" {
			require.NotContains(t, row["verdict"], "CREDIT")
			require.Equal(t, "the same", row["if the picture is full white"])
			continue
		}
		marked++
		require.Equal(t, "admitted ON CREDIT", row["verdict"])
		require.Contains(t, row["if the picture is full white"], fmt.Sprintf("%.1f of ", float64(v.Credit.Full[v.Credit.Highest])))
		require.Greater(t, float64(v.Credit.Full[v.Credit.Highest]), figure(t, row["A"]))
	}
	require.Equal(t, 1, marked)
}

func TestFindingsAreAllInTheFile(t *testing.T) {
	for _, name := range shipped {
		t.Run(name, func(t *testing.T) {
			p := readPlan(t, name)
			var want []string
			for _, f := range p.Findings() {
				want = append(want, "site|"+string(f.Code)+"|"+f.Sentence)
			}
			for i, preset := range p.Book.Presets {
				for _, f := range presets.Check(p, &p.Book.Presets[i], presets.Conditions{}).Findings {
					want = append(want, fmt.Sprintf("preset %d %s|%s|%s", preset.Number, preset.Name, f.Code, f.Sentence))
				}
			}
			made, err := papers.Make(p, papers.Options{Warnings: []site.Problem{{Code: "odd", File: "rig.yaml", Line: 4, Sentence: "it is odd", Hint: "even it"}}})
			require.NoError(t, err)
			var got []string
			page := ""
			for _, f := range made {
				switch f.Name {
				case papers.PageFile:
					page = html.UnescapeString(string(f.Data))
				case "findings.csv":
					for _, row := range (written{f.Name: f.Data}).rows(t, f.Name) {
						got = append(got, row["of"]+"|"+row["code"]+"|"+row["sentence"])
					}
				}
			}
			require.Equal(t, append(want, "site|odd|it is odd"), got)
			require.Contains(t, page, "it is odd")
			for _, w := range want[:min(len(want), 3)] {
				require.Contains(t, page, w[strings.LastIndex(w, "|")+1:])
			}
		})
	}
}

func TestTheProvingListSaysWhoProvedWhat(t *testing.T) {
	p := readPlan(t, "small")
	made, err := papers.Make(p, papers.Options{Proved: []string{"", "J. Moss 2026-11-20"}})
	require.NoError(t, err)
	list := chapters(made[0].Data)["Proving the circuits"]
	require.Regexp(t, `<td>K1</td>(<td[^>]*>[^<]*</td>){4}<td></td>`, list)
	require.Regexp(t, `<td>K2</td>(<td[^>]*>[^<]*</td>){4}<td>J. Moss 2026-11-20</td>`, list)
	for _, f := range made {
		if f.Name == "circuits.csv" {
			require.Equal(t, "J. Moss 2026-11-20", (written{f.Name: f.Data}).rows(t, f.Name)[1]["proved"])
		}
	}
}

func TestHostileNamesDoNoHarm(t *testing.T) {
	r := rigtest.Wye()
	r.Name = `x"</style><script>alert(1)</script>`
	r.Circuits[0].Name = "=1+1"
	r.Walls[0].Name = "<b>&"
	w := makeOf(t, presets.NewPlan(r, nil))
	page := string(w[papers.PageFile])
	require.NotContains(t, page, "<script")
	require.NotContains(t, page, "<b>")
	require.Equal(t, 1, strings.Count(page, "</style>"))
	require.Equal(t, "'=1+1", w.rows(t, "circuits.csv")[0]["circuit"], "no spreadsheet takes a name for a formula")
}

func TestRigsOfEveryKind(t *testing.T) {
	for _, c := range []struct {
		name string
		rig  *rig.Rig
	}{{"wye", rigtest.Wye()}, {"split phase", rigtest.SplitPhase()}, {"delta", rigtest.Delta()}, {"feeder tree", rigtest.Tree()}} {
		t.Run(c.name, func(t *testing.T) {
			p := presets.NewPlan(c.rig, nil)
			w := makeOf(t, p)
			require.Len(t, w.rows(t, "panels.csv"), len(c.rig.Panels))
			require.NotContains(t, string(w[papers.PageFile]), "NaN")
			require.NotContains(t, string(w[papers.PageFile]), "Inf")
		})
	}
}
