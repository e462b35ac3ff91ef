package trial_test

import (
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets"
	"lookgate/presets/engine"
	"lookgate/presets/rig/rigtest"
	"lookgate/presets/site"
	"lookgate/presets/trial"
)

// rewrite puts what came in the place of what was expected. Commit a rewritten scenario only if you can say why it changed.
var rewrite = flag.Bool("rewrite", false, "rewrite the scenarios in testdata/scenarios with what came out")

const scenarios = "../../testdata/scenarios"

// loadSite reads one of the sites in testdata.
func loadSite(name string) (*presets.Plan, error) {
	files := map[string][]byte{}
	for _, file := range site.Files {
		text, err := os.ReadFile(filepath.Join("../../testdata/sites", trial.SiteFolder(name), file))
		if err != nil {
			return nil, err
		}
		files[file] = text
	}
	return trial.SitePlan(name, files)
}

func TestScenarios(t *testing.T) {
	names, err := filepath.Glob(filepath.Join(scenarios, "*.txt"))
	require.NoError(t, err)
	require.NotEmpty(t, names)
	for _, name := range names {
		t.Run(strings.TrimSuffix(filepath.Base(name), ".txt"), func(t *testing.T) {
			text, err := os.ReadFile(name)
			require.NoError(t, err)
			got, ok := trial.Play(string(text), loadSite)
			if *rewrite && got != string(text) {
				require.NoError(t, os.WriteFile(name, []byte(got), 0o644))
				_, ok = trial.Play(got, loadSite)
			}
			if !ok {
				require.Equal(t, string(text), got)
				t.Fatal("it cannot be played, or what must not be happened: see the lines in capitals")
			}
		})
	}
}

// played gives how each verb was answered and ended in all scenarios.
func played(t *testing.T) map[engine.Verb]map[string]bool {
	names, err := filepath.Glob(filepath.Join(scenarios, "*.txt"))
	require.NoError(t, err)
	got := map[engine.Verb]map[string]bool{}
	for _, name := range names {
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		for _, m := range regexp.MustCompile(`(?m)^ .* #\d+ (\S+) (accepted|refused|superseded)\b`).FindAllStringSubmatch(string(text), -1) {
			verb := engine.Verb(m[1])
			if got[verb] == nil {
				got[verb] = map[string]bool{}
			}
			got[verb][m[2]] = true
		}
	}
	return got
}

const endsAtOnce = "it ends as soon as it is accepted, so nothing can take its place"

// never says which ways a command cannot go, and why.
var never = map[engine.Verb]map[string]string{
	engine.Arm:        {"superseded": endsAtOnce},
	engine.CircuitOut: {"superseded": endsAtOnce},
	engine.CircuitIn:  {"superseded": endsAtOnce},
	engine.LockedOff:  {"superseded": endsAtOnce},
	engine.Attest:     {"superseded": endsAtOnce},
	engine.Prove:      {"superseded": endsAtOnce},
	engine.Query:      {"superseded": endsAtOnce, "refused": "it changes nothing, and so there is nothing against it"},
	engine.ReloadSite: {"superseded": endsAtOnce},
}

func TestEveryVerbIsPlayedInEveryWay(t *testing.T) {
	got := played(t)
	for _, verb := range engine.Verbs {
		for _, way := range []string{"accepted", "refused", "superseded"} {
			t.Run(string(verb)+" "+way, func(t *testing.T) {
				if why := never[verb][way]; why != "" {
					require.False(t, got[verb][way], "a scenario has it, although %s", why)
					return
				}
				require.True(t, got[verb][way], "no scenario has it; write one")
			})
		}
	}
	require.Len(t, got, len(engine.Verbs), "a scenario prints a verb that is none")
}

const twoSides = `rig: split-phase 120/240 V
panel: 12 W black, 120 W white
board A: main 16 A
circuit A1: breaker 20 A, on L1, 12 panels
circuit A2: breaker 20 A, on L1, 12 panels
device p1: numbered, restart 0 %
output left: on p1, circuit A1
output right: on p1, circuit A2
preset 1 one: left 100 %
`

// playTwice plays a text, and plays what came out again, as one that rewrites would.
func playTwice(text string) (string, bool) {
	once, _ := trial.Play(text, loadSite)
	return trial.Play(once, loadSite)
}

func TestPlayIsTheSameEachTime(t *testing.T) {
	once, ok := trial.Play(twoSides+"begin\nbooth: recall 1\nwait 1s\n", loadSite)
	require.False(t, ok, "what came was not expected")
	again, ok := trial.Play(once, loadSite)
	require.True(t, ok)
	require.Equal(t, once, again)
	require.Contains(t, again, "#1 recall on after")
}

func TestPlayKeepsCommentsAndEmptyLines(t *testing.T) {
	text := "# first\n" + twoSides + "\n# here it begins\nbegin\n    0.000 s  an old line\n\n# and ends\n"
	got, _ := trial.Play(text, loadSite)
	require.Contains(t, got, "# first\n")
	require.Contains(t, got, "\n\n# here it begins\nbegin\n")
	require.Contains(t, got, "\n\n# and ends\n")
	require.NotContains(t, got, "an old line")
}

func TestWhatCannotBePlayedNeverPasses(t *testing.T) {
	rows := []struct{ name, text, says string }{
		{"no begin", twoSides, ""},
		{"a command that is none", twoSides + "begin\nbooth: juggle 3\n", "juggle 3"},
		{"an event that is none", twoSides + "begin\nthe roof falls in\n", "the roof falls in"},
		{"a device that is not there", twoSides + "begin\ndevice p9 restarts\n", "device p9 restarts"},
		{"a time that is none", twoSides + "begin\nwait long\n", "long"},
		{"a time that is over", twoSides + "begin\nwait 2s\nat 1s\n", "1s"},
		{"a packet later than it can live", twoSides + "begin\nthe next packet to p1 is late by 3s\n", "arrives within 200ms or never"},
		{"a conductor that is not there", twoSides + "begin\ndraw leg Z L1\n", "leg Z L1"},
		{"a head with a figure that is none", strings.Replace(twoSides, "main 16 A", "main much", 1) + "begin\n", `board A: "much" is no figure in A`},
		{"a head line that is none", "moon: full\n" + twoSides + "begin\n", `"moon: full" is no line of a head`},
		{"a circuit on a board that is not there", twoSides + "circuit B1: breaker 20 A, 3 panels, board B\nbegin\n", "circuit B1: there is no such board"},
		{"a plant with panels that nothing levels", strings.Replace(twoSides, "output right", "# output right", 1) + "begin\n", "no output"},
		{"a site that is not there", "site: nowhere\nbegin\n", "nowhere"},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			got, ok := playTwice(r.text)
			require.False(t, ok)
			require.Contains(t, got, r.says)
			if r.says != "" {
				require.Contains(t, got, "THIS CANNOT BE PLAYED")
			}
		})
	}
}

// TestPlayTellsAnOverrun gives the daemon a power model of a larger main than the plant has.
func TestPlayTellsAnOverrun(t *testing.T) {
	load := func(string) (*presets.Plan, error) {
		r := rigtest.SplitPhase()
		full := []presets.ZoneLevel{{Zone: 0, Level: 1, Cap: 1}, {Zone: 1, Level: 1, Cap: 1}}
		plan := presets.NewPlan(r, &presets.Book{Presets: []presets.Preset{{Number: 1, Name: "full", Zones: full}}})
		smaller := *r
		smaller.Boards = slices.Clone(r.Boards)
		smaller.Boards[0].Main = 15
		plan.Rig = &smaller
		return plan, nil
	}
	text := "site: deceived\nbegin\nbooth: recall 1\nwait 5s\ndraw leg H L1\n"
	once, _ := trial.Play(text, load)
	got, ok := trial.Play(once, load)
	require.Equal(t, once, got)
	require.False(t, ok, "no rewriting makes an overrun pass")
	require.Contains(t, got, "THIS MUST NOT BE: leg H L1 carries ")
	require.Regexp(t, `leg H L1 true│.*▲.*│ [0-9.]+ A of 12.0 A \(!\)`, got)
}
