package main

import (
	"fmt"
	"path/filepath"
	"strings"

	"lookgate/daemon/files"
	"lookgate/presets"
	"lookgate/presets/site"
	"lookgate/presets/trial"
)

func playCommand() subcommand {
	return subcommand{"play", "FILE [-rewrite]", "play a scenario on a simulated wall and hold it to what it expects", play}
}

// scenarioLimit bounds a scenario file.
const scenarioLimit = 1 << 20

// play plays a scenario. It prints what came out where that is what the file expects, and how the two differ where it is not.
func play(args []string, s streams) int {
	f := options(playCommand(), s)
	rewrite := f.Bool("rewrite", false, "put what came out into the file, in the place of what it expects")
	sites := f.String("sites", "", "folder of the sites that scenarios name; where none is given, the folder \"sites\" beside that of the scenario")
	plain, status, ok := parse(f, args, 1)
	if !ok {
		return status
	}
	name := plain[0]
	text, err := files.ReadWhole(name, scenarioLimit)
	if err != nil {
		fmt.Fprintf(s.err, "%v\n", err)
		return exitBroken
	}
	if *sites == "" {
		*sites = filepath.Join(filepath.Dir(name), "..", "sites")
	}
	load := func(site string) (*presets.Plan, error) { return sitePlan(*sites, site) }
	got, ok := trial.Play(string(text), load)
	if *rewrite && got != string(text) {
		if err := files.Replace(name, []byte(got)); err != nil {
			fmt.Fprintf(s.err, "%v\n", err)
			return exitBroken
		}
		text = []byte(got)
		got, ok = trial.Play(got, load)
	}
	return toldPlay(name, string(text), got, ok, s)
}

// toldPlay prints what a play came to.
func toldPlay(name, expected, got string, ok bool, s streams) int {
	switch {
	case got != expected:
		fmt.Fprint(s.out, lineDiff(expected, got))
		fmt.Fprintf(s.err, "%s: it went otherwise than the file expects: - is expected, + is what came\n"+
			"if what came is right, play it again with -rewrite\n", name)
		return exitRefused
	case !ok:
		fmt.Fprint(s.out, got)
		fmt.Fprintf(s.err, "%s: something in it cannot be played, or must not be\nlook for the lines in capitals; rewriting does not mend them\n", name)
		return exitRefused
	}
	fmt.Fprint(s.out, got)
	return exitOK
}

// sitePlan reads a site that a scenario names.
func sitePlan(folder, name string) (*presets.Plan, error) {
	contents := map[string][]byte{}
	for _, file := range site.Files {
		text, err := files.ReadWhole(filepath.Join(folder, filepath.Base(trial.SiteFolder(name)), file), fileLimit)
		if err != nil {
			return nil, err
		}
		contents[file] = text
	}
	return trial.SitePlan(name, contents)
}

// around is how many lines that are the same stand around those that differ.
const around = 3

// lineDiff gives the lines that differ: "-" before what only the first has, "+" before what only the second has. It takes out the same lines at both ends and
// finds the longest common part of the rest.
func lineDiff(a, b string) string {
	before, after := strings.Split(strings.TrimSuffix(a, "\n"), "\n"), strings.Split(strings.TrimSuffix(b, "\n"), "\n")
	var all []string
	i, j := 0, 0
	common := commonParts(before, after)
	for i < len(before) || j < len(after) {
		switch {
		case i < len(before) && j < len(after) && before[i] == after[j]:
			all = append(all, "  "+before[i])
			i, j = i+1, j+1
		case j == len(after) || i < len(before) && common[i+1][j] >= common[i][j+1]:
			all = append(all, "- "+before[i])
			i++
		default:
			all = append(all, "+ "+after[j])
			j++
		}
	}
	return shortened(all)
}

// commonParts gives, for each pair of lines, how many lines are common to what follows from them.
func commonParts(a, b []string) [][]int {
	n := make([][]int, len(a)+1)
	for i := range n {
		n[i] = make([]int, len(b)+1)
	}
	for i := len(a) - 1; i >= 0; i-- {
		for j := len(b) - 1; j >= 0; j-- {
			if a[i] == b[j] {
				n[i][j] = n[i+1][j+1] + 1
			} else {
				n[i][j] = max(n[i+1][j], n[i][j+1])
			}
		}
	}
	return n
}

// shortened leaves out what is the same, but for a few lines around what differs.
func shortened(lines []string) string {
	keep := make([]bool, len(lines))
	for i, l := range lines {
		if l[0] != ' ' {
			for k := max(0, i-around); k <= min(len(lines)-1, i+around); k++ {
				keep[k] = true
			}
		}
	}
	var b strings.Builder
	for i, l := range lines {
		switch {
		case keep[i]:
			b.WriteString(strings.TrimRight(l, " ") + "\n")
		case i > 0 && keep[i-1]:
			b.WriteString("...\n")
		}
	}
	return b.String()
}
