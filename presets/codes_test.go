package presets_test

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets"
	"lookgate/presets/cable"
	"lookgate/presets/finding"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// pair is one finding at its edge: a rig and preset that just pass, and the same with one figure a hair further. The finding must be absent here, present
// there, and gone again after each of its remedies.
type pair struct {
	name  string
	code  finding.Code
	place finding.Place
	says  string // words of the sentence, where several findings share code and place
	site  bool   // told of the site as a whole, not of a preset
	set   func(r *rig.Rig, p *presets.Preset, over bool)
	now   bool // a command for now must be among the remedies
}

// atThePlant are remedies that people carry out with their hands and meters: nothing in a rig tells that it was done.
var atThePlant = []string{presets.NeutralPractice, "have it measured with the panels off and the other loads on"}

// pick gives the figure that passes or the one a hair further.
func pick[T any](over bool, passes, fails T) T {
	if over {
		return fails
	}
	return passes
}

var pairs = []pair{
	{name: "a circuit at its breaker", code: finding.CircuitOver, place: finding.Place{Kind: "circuit", Name: "A1"}, now: true,
		set: func(r *rig.Rig, _ *presets.Preset, over bool) {
			r.PanelTypes[0].White = pick[units.Watts](over, 100, 100.01)
		}},
	{name: "a circuit at its breaker, by its caps alone", code: finding.CircuitOver, place: finding.Place{Kind: "circuit", Name: "A1"}, now: true,
		set: func(r *rig.Rig, p *presets.Preset, over bool) {
			r.PanelTypes[0].White = 200
			p.Zones[0].Level, p.Zones[0].Cap = 0.25, pick[units.Level](over, 0.5, 0.501)
			p.Zones[1].Level = 0.5
		}},
	{name: "a circuit above its continuous limit for as long as its rig allows", code: finding.AboveTime, place: finding.Place{Kind: "circuit", Name: "A1"}, now: true,
		set: func(r *rig.Rig, p *presets.Preset, over bool) {
			r.PanelTypes[0].White = 110
			for i := range r.Circuits {
				r.Circuits[i].Above = &rig.AboveContinuous{For: 45 * time.Minute, Rest: 30 * time.Minute}
			}
			p.Above = pick(over, 45*time.Minute, 45*time.Minute+1)
		}},
	{name: "a circuit at its breaker's rating for a while", code: finding.CircuitOver, place: finding.Place{Kind: "circuit", Name: "A1"}, now: true,
		set: func(r *rig.Rig, p *presets.Preset, over bool) {
			r.PanelTypes[0].White = pick[units.Watts](over, 125, 125.01)
			for i := range r.Circuits {
				r.Circuits[i].Above = &rig.AboveContinuous{For: 45 * time.Minute, Rest: 30 * time.Minute}
			}
			p.Above = 30 * time.Minute
		}},
	{name: "a home run that an exception lets stand behind a larger breaker", code: finding.CableOver, place: finding.Place{Kind: "home run", Name: "A1"}, now: true,
		set: func(r *rig.Rig, _ *presets.Preset, over bool) {
			r.Circuits[0].HomeRun, r.Circuits[0].Exception = 14, &rig.Decision{Reason: "short run", By: "R. Ames"}
			r.PanelTypes[0].White = pick[units.Watts](over, 87.5, 87.51)
		}},
	{name: "a feeder that an exception lets stand behind a larger main", code: finding.CableOver, place: finding.Place{Kind: "feeder", Name: "A L1"}, now: true,
		set: func(r *rig.Rig, _ *presets.Preset, over bool) {
			r.Boards[0].Carries, r.Boards[0].Exception = pick[units.Amps](over, 32, 31.99), &rig.Decision{Reason: "as found", By: "R. Ames"}
		}},
	{name: "a leg of a board", code: finding.LegOver, place: finding.Place{Kind: "leg", Name: "A L1"}, now: true,
		set: func(r *rig.Rig, _ *presets.Preset, over bool) { r.Boards[0].Main = pick[units.Amps](over, 32, 31.99) }},
	{name: "a leg of the supply", code: finding.LegOver, place: finding.Place{Kind: "supply leg", Name: "service L1"}, now: true,
		set: func(r *rig.Rig, _ *presets.Preset, over bool) {
			r.Supply.Main, r.Supply.Factor = pick[units.Amps](over, 40, 39.99), 0.8
		}},
	{name: "the neutral of a board", code: finding.NeutralOver, place: finding.Place{Kind: "neutral", Name: "A N"}, now: true,
		set: func(r *rig.Rig, _ *presets.Preset, over bool) {
			r.Boards[0].Neutral = pick[units.Amps](over, 32, 31.99)
		}},
	{name: "the neutral of the supply", code: finding.NeutralOver, place: finding.Place{Kind: "supply neutral", Name: "service N"}, now: true,
		set: func(r *rig.Rig, _ *presets.Preset, over bool) { r.Supply.Neutral = pick[units.Amps](over, 32, 31.99) }},
	{name: "a circuit that loses what it may", code: finding.DropOver, place: finding.Place{Kind: "circuit", Name: "A1"},
		set: func(r *rig.Rig, _ *presets.Preset, over bool) {
			withCable(r)
			r.Circuits[0].Home = &rig.Run{Length: pick[units.Metres](over, 18.9, 19.1)}
		}},
	{name: "a way that loses what it may, its feeder counted", code: finding.DropTotal, place: finding.Place{Kind: "circuit", Name: "A1"},
		set: func(r *rig.Rig, _ *presets.Preset, over bool) {
			withCable(r)
			r.Boards[0].Feeder = &rig.Run{Cable: 1, Length: pick[units.Metres](over, 69, 71)}
			r.Circuits[0].Home = &rig.Run{Length: 10}
		}},
	{name: "a circuit at the end of what its cables can bring", code: finding.Collapse, place: finding.Place{Kind: "circuit", Name: "A1"}, now: true,
		set: func(r *rig.Rig, _ *presets.Preset, over bool) {
			withCable(r)
			r.Circuits[0].Home = &rig.Run{Length: pick[units.Metres](over, 163, 164)}
		}},
	{name: "a picture that is said to be darker than white", code: finding.OnCredit, place: finding.Place{Kind: "preset", Name: "full"},
		set: func(r *rig.Rig, p *presets.Preset, over bool) {
			r.Credit = &rig.Decision{Reason: "measured", By: "R. Ames"}
			if over {
				p.Zones[0].Content = &presets.Content{Red: 0.5, Green: 0.5, Blue: 0.5}
			}
		}},
	{name: "a circuit at its breaker, by what its picture is said to draw", code: finding.CircuitOver, place: finding.Place{Kind: "circuit", Name: "A1"}, now: true,
		set: func(r *rig.Rig, p *presets.Preset, over bool) {
			r.Credit = &rig.Decision{Reason: "measured", By: "R. Ames"}
			r.PanelTypes[0].White = 200
			c := pick[units.Share](over, 0.5, 0.5001)
			p.Zones[0].Content, p.Zones[1].Content = &presets.Content{Red: c, Green: c, Blue: c}, &presets.Content{Red: 0.5, Green: 0.5, Blue: 0.5}
		}},
	{name: "a breaker as large as its home run, of the site", code: finding.BreakerOverRun, place: finding.Place{Kind: "circuit", Name: "A1"}, site: true,
		set: func(r *rig.Rig, _ *presets.Preset, over bool) {
			r.Circuits[0].HomeRun = pick[units.Amps](over, 20, 19.99)
		}},
	{name: "a breaker as large as its jumpers, under a preset", code: finding.BreakerOverRun, place: finding.Place{Kind: "circuit", Name: "A1"},
		set: func(r *rig.Rig, _ *presets.Preset, over bool) {
			r.Circuits[0].Jumper = pick[units.Amps](over, 20, 19.99)
		}},
	{name: "a breaker as large as its panels' feed-through", code: finding.BreakerOverRun, place: finding.Place{Kind: "circuit", Name: "A1"},
		set: func(r *rig.Rig, _ *presets.Preset, over bool) {
			r.PanelTypes[0].FeedThrough = pick[units.Amps](over, 20, 19.99)
		}},
	{name: "all devices restarting at once", code: finding.RestartOver, place: finding.Place{Kind: "circuit", Name: "A1"}, site: true,
		set: func(r *rig.Rig, _ *presets.Preset, over bool) {
			r.Devices[0].Restart, r.Devices[1].Restart = 1, 1
			r.PanelTypes[0].White = pick[units.Watts](over, 100, 100.01)
		}},
	{name: "one device restarting beside a preset", code: finding.RestartLoad, place: finding.Place{Kind: "leg", Name: "A L1"}, now: true,
		set: func(r *rig.Rig, p *presets.Preset, over bool) {
			r.Devices[1].Restart, r.Boards[0].Main = 0.5, pick[units.Amps](over, 24, 23.99)
			p.Zones = p.Zones[:1]
		}},
	{name: "a displacement that matters", code: finding.Unassessed, place: finding.Place{Kind: "panel type", Name: "p1"}, site: true,
		set: func(r *rig.Rig, _ *presets.Preset, over bool) {
			r.PanelTypes[0].DisplacementKnown, r.PanelTypes[0].PF = false, pick[units.Share](over, 1, 0.999)
		}},
	{name: "a displacement of another load that matters", code: finding.Unassessed, place: finding.Place{Kind: "load", Name: "fans"}, site: true,
		set: func(r *rig.Rig, _ *presets.Preset, over bool) {
			r.Loads = []rig.OtherLoad{{Name: "fans", Legs: []int{0}, Current: 1, PF: pick[units.Share](over, 1, 0.999)}}
		}},
	{name: "one step of light for an automatic zone", code: finding.AutoDark, place: finding.Place{Kind: "zone", Name: "zone2"}, now: true,
		set: func(r *rig.Rig, p *presets.Preset, over bool) {
			p.Zones[1].Auto, r.Boards[0].Main = true, pick[units.Amps](over, 16.02, 16.01)
		}},
	{name: "a window at the raster's edge", code: finding.WindowOutside, place: finding.Place{Kind: "window", Name: "1 (plate on bay)"},
		set: func(_ *rig.Rig, p *presets.Preset, over bool) { p.Windows[0].Width = pick(over, 400, 401) }},
	{name: "a window at a processor's edge", code: finding.SourceNotThere, place: finding.Place{Kind: "processor", Name: "proc2"},
		set: func(_ *rig.Rig, p *presets.Preset, over bool) {
			p.Windows[0].Source, p.Windows[0].Width = 1, pick(over, 200, 201)
		}},
	{name: "a data run that fills its port", code: finding.DataRunOver, place: finding.Place{Kind: "data run", Name: "run1"},
		set: func(r *rig.Rig, _ *presets.Preset, over bool) {
			// 12 panels of 10 000 px at 24 bits, 60 times a second
			r.Processors[0].Port, r.Processors[0].Usable = pick[units.BitsPerSecond](over, 172_800_000, 172_799_999), 1
			r.Processors[0].Wire = []rig.WireDepth{{Depth: 8, Bits: 24}, {Depth: 6, Bits: 18}}
		}},
}

// withCable gives the bench two cables, and panels of 0.6 A.
func withCable(r *rig.Rig) {
	small, _ := cable.ParseSize("2.5 mm²")
	large, _ := cable.ParseSize("16 mm²")
	r.PanelTypes[0].White = 60
	r.Cables = []rig.Cable{
		{Name: "h25", Size: small, Stranding: cable.Class5, At: 20, Rating: 24, Ambient: 1, Grouping: 1},
		{Name: "h160", Size: large, Stranding: cable.Class5, At: 20, Rating: 80, Ambient: 1, Grouping: 1},
	}
}

// codesElsewhere are the codes that no check of a plan can give, with the folders whose tests bring each about.
var codesElsewhere = map[finding.Code][]string{
	finding.UnknownPreset:   {"testdata/scenarios", "presets/engine"},
	finding.UnknownZone:     {"testdata/scenarios", "presets/engine"},
	finding.UnknownCircuit:  {"testdata/scenarios", "presets/engine"},
	finding.UnknownOutput:   {"testdata/scenarios", "presets/engine"},
	finding.UnknownRun:      {"testdata/scenarios", "presets/engine"},
	finding.UnknownPanel:    {"testdata/scenarios", "presets/engine"},
	finding.LookThere:       {"testdata/scenarios", "presets/engine"},
	finding.BadLevel:        {"protocols/osc", "protocols/ws"},
	finding.BadArguments:    {"protocols/osc", "protocols/ws"},
	finding.AboveCap:        {"testdata/scenarios", "presets/engine"},
	finding.NothingArmed:    {"testdata/scenarios", "presets/engine"},
	finding.NothingBefore:   {"testdata/scenarios", "presets/engine"},
	finding.NoLook:          {"testdata/scenarios", "presets/engine"},
	finding.EngineerOnly:    {"testdata/scenarios", "presets/engine"},
	finding.NotLockedOff:    {"testdata/scenarios", "presets/engine"},
	finding.LitPanelsMove:   {"testdata/scenarios", "presets/engine"},
	finding.SiteBroken:      {"daemon"},
	finding.NotSupportedYet: {"protocols/osc"},
	finding.NoWorklight:     {"testdata/scenarios", "presets/engine"},
	finding.WouldDip:        {"testdata/scenarios", "presets/engine"},
	finding.DiskFailed:      {"testdata/scenarios", "presets/engine", "daemon"},
	finding.Busy:            {"daemon"},
}

// TestEveryCodeHasItsPlace fails for a code that nothing tests.
func TestEveryCodeHasItsPlace(t *testing.T) {
	for _, row := range finding.Codes {
		_, elsewhere := codesElsewhere[row.Code]
		here := slices.ContainsFunc(slices.Concat(pairs, supplyPairs), func(p pair) bool { return p.code == row.Code })
		require.True(t, here != elsewhere, "%s needs a pair just under and just over its limit here, or the place that tests it; not both", row.Code)
	}
	for code := range codesElsewhere {
		_, known := finding.Of(code)
		require.True(t, known, code)
	}
}

// TestCodesElsewhereAreTestedThere looks for each code in the tests and fixtures of the folders that are said to test it, by its own letters or by
// the name of its constant. It waits for the scenarios: until that folder stands, codes whose place it is are only listed.
func TestCodesElsewhereAreTestedThere(t *testing.T) {
	names := constantsOf(t)
	_, err := os.Stat("../testdata/scenarios")
	scenarios := err == nil
	for _, row := range finding.Codes {
		places, elsewhere := codesElsewhere[row.Code]
		if !elsewhere || slices.ContainsFunc(places, func(folder string) bool {
			return mentions(t, "../"+folder, string(row.Code), "finding."+names[row.Code])
		}) {
			continue
		}
		if !scenarios && slices.Contains(places, "testdata/scenarios") {
			t.Logf("%s waits for a scenario", row.Code)
			continue
		}
		t.Errorf("%s is tested in none of %v", row.Code, places)
	}
}

// constantsOf reads the names of the codes' constants out of their source.
func constantsOf(t *testing.T) map[finding.Code]string {
	text, err := os.ReadFile("finding/codes.go")
	require.NoError(t, err)
	names := map[finding.Code]string{}
	for _, m := range regexp.MustCompile(`(?m)^\s+(\w+)\s+Code = "([a-z-]+)"`).FindAllStringSubmatch(string(text), -1) {
		names[finding.Code(m[2])] = m[1]
	}
	require.Len(t, names, len(finding.Codes))
	return names
}

// mentions reports whether a test or fixture below a folder holds one of the words. Shipped code does not count.
func mentions(t *testing.T, folder string, words ...string) bool {
	found := false
	err := filepath.WalkDir(folder, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || found || strings.HasSuffix(path, ".go") && !strings.HasSuffix(path, "_test.go") {
			return nil // a folder that is not there mentions nothing
		}
		text, err := os.ReadFile(path)
		for _, w := range words {
			found = found || regexp.MustCompile(regexp.QuoteMeta(w)+`\b`).Match(text)
		}
		return err
	})
	require.NoError(t, err)
	return found
}

// look gives the findings that the pair is about.
func (p pair) look(r *rig.Rig, preset *presets.Preset) []finding.Finding {
	plan := presets.NewPlan(r, nil)
	if p.site {
		return plan.Findings()
	}
	return presets.Check(plan, preset, presets.Conditions{}).Findings
}

func (p pair) find(fs []finding.Finding) (finding.Finding, bool) {
	i := slices.IndexFunc(fs, func(f finding.Finding) bool {
		return f.Code == p.code && f.Place == p.place && strings.Contains(f.Sentence, p.says)
	})
	if i < 0 {
		return finding.Finding{}, false
	}
	return fs[i], true
}

func TestEveryCodeUnderAndOverItsLimit(t *testing.T) {
	for _, p := range slices.Concat(pairs, supplyPairs) {
		t.Run(p.name, func(t *testing.T) {
			r, preset := bench(), full()
			p.set(r, preset, false)
			_, found := p.find(p.look(r, preset))
			require.False(t, found, "just under: %v", p.look(r, preset))

			r, preset = bench(), full()
			p.set(r, preset, true)
			f, found := p.find(p.look(r, preset))
			require.True(t, found, "just over: %v", p.look(r, preset))
			row, _ := finding.Of(p.code)
			require.Equal(t, row.Severity, f.Severity)
			require.NotEmpty(t, f.Sentence)
			require.NotEmpty(t, f.Remedies)
			require.Equal(t, p.now, slices.ContainsFunc(f.Remedies, func(m finding.Remedy) bool { return m.When == finding.Now }))
			for _, m := range f.Remedies {
				requireHelps(t, p, r, preset, f, m)
			}
		})
	}
}

// requireHelps does what a remedy says: a command for now must be admitted as a whole, anything later must take the finding away.
func requireHelps(t *testing.T, p pair, r *rig.Rig, preset *presets.Preset, f finding.Finding, m finding.Remedy) {
	if m.When == finding.Now {
		require.Equal(t, "recall", m.Do.Verb)
		require.Equal(t, preset.Name, m.Do.Target)
		require.True(t, presets.Check(presets.NewPlan(r, nil), preset, presets.Conditions{Scale: *m.Do.Level}).Admitted, m.Words)
		return
	}
	if slices.Contains(atThePlant, m.Words) {
		return
	}
	h := hands{rig: copied(t, r), preset: copiedPreset(preset), place: f.Place}
	h.doLater(t, m.Words)
	after, still := p.find(p.look(h.rig, h.preset))
	require.False(t, still, "%s: %v", m.Words, after)
}
