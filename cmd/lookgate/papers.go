package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"lookgate/daemon/files"
	"lookgate/presets"
	"lookgate/presets/papers"
	"lookgate/presets/site"
)

func papersCommand() subcommand {
	return subcommand{"papers", "SITE -to FOLDER [-date DAY]", "papers for the crew: one page file that prints, and tables", makePapers}
}

// makePapers is the subcommand: 0 where the papers were written, 1 where they could not be, 2 where the site is broken.
func makePapers(args []string, s streams) int {
	f := options(papersCommand(), s)
	to := f.String("to", "", "the folder to write into; files of the same names are replaced")
	day := f.String("date", "", "the day that is printed, as 2006-01-31 (today's)")
	plain, status, ok := parse(f, args, 1)
	if !ok {
		return status
	}
	date, err := dayOf(*day)
	if err != nil {
		fmt.Fprintln(s.err, err)
		return exitUsage
	}
	plan, problems, status := planFor("papers", plain[0], *to, s)
	if plan == nil {
		return status
	}
	proved, err := readProved(plain[0], plan.Rig)
	if err != nil {
		fmt.Fprintln(s.err, err)
		return exitBroken
	}
	made, err := papers.Make(plan, papers.Options{Date: date, Cautions: cautions, Warnings: problems, Proved: provedWords(proved)})
	if err == nil {
		err = writePapers(*to, made)
	}
	if err != nil {
		fmt.Fprintln(s.err, err)
		return exitRefused
	}
	fmt.Fprintf(s.out, "%s prints on A4 and Letter; %s beside it\n\n", filepath.Join(*to, papers.PageFile), count(len(made)-1, "table"))
	fmt.Fprint(s.out, wrapped(cautions[0], "", ""))
	return exitOK
}

func writePapers(folder string, made []papers.File) error {
	write, err := folderWriter(folder)
	if err != nil {
		return err
	}
	for _, m := range made {
		if err := write(m.Name, m.Data); err != nil {
			return err
		}
	}
	return nil
}

// provedWords says in few words who proved each circuit, and on which day.
func provedWords(list []provedReport) []string {
	words := make([]string, len(list))
	for i, c := range list {
		if !c.Proved {
			continue
		}
		who := c.By
		if who == "" {
			who = c.Station
		}
		day, _, _ := strings.Cut(c.When, "T")
		words[i] = strings.TrimSpace(who + " " + day)
	}
	return words
}

// dayOf reads a day, or gives today's.
func dayOf(text string) (time.Time, error) {
	if text == "" {
		return time.Now(), nil
	}
	day, err := time.Parse(time.DateOnly, text)
	if err != nil {
		return day, fmt.Errorf("-date: %q is no day\nwrite it as year, month and day: 2006-01-31", text)
	}
	return day, nil
}

// planFor reads a site that files are to be made of, and makes sure that they have a folder to go to. Without a plan it has said why, and gives the exit status.
func planFor(command, folder, to string, s streams) (*presets.Plan, []site.Problem, int) {
	if to == "" {
		fmt.Fprintf(s.err, "-to: what is made needs a folder to go to\nname one: lookgate %s %s -to FOLDER\n", command, folder)
		return nil, nil, exitUsage
	}
	read, problems, err := readSite(folder)
	if err != nil {
		fmt.Fprintln(s.err, err)
		return nil, nil, exitBroken
	}
	if read == nil {
		return nil, nil, broken(problems, false, s)
	}
	return presets.NewPlan(read.Rig, read.Book), problems, exitOK
}

// folderWriter makes a folder where it is missing, and gives what writes files into it. A site's own folder is refused.
func folderWriter(folder string) (func(name string, data []byte) error, error) {
	if _, err := os.Stat(filepath.Join(folder, site.RigFile)); err == nil {
		return nil, fmt.Errorf("%s is a site's own folder\nname another one: a site's folder holds nothing else", folder)
	}
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return nil, fmt.Errorf("%w\nname a folder that can be made", err)
	}
	return func(name string, data []byte) error { return files.Replace(filepath.Join(folder, name), data) }, nil
}
