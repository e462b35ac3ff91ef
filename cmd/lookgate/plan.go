package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"lookgate/daemon/files"
	"lookgate/presets/draft"
	"lookgate/presets/site"
)

func planCommand() subcommand {
	return subcommand{"plan", "BRIEF -to FOLDER [-why]", "plan circuits, boards, data runs and a first book from a short brief, as a site folder", plan}
}

// plan is the subcommand: 0 where a site was written, 1 where the brief cannot be planned or the folder is taken, 2 where the brief is broken.
func plan(args []string, s streams) int {
	f := options(planCommand(), s)
	to := f.String("to", "", "the folder to write the site into: a new one, or one that is empty")
	why := f.Bool("why", false, "say why it is planned so, and what binds")
	plain, status, ok := parse(f, args, 1)
	if !ok {
		return status
	}
	if *to == "" {
		fmt.Fprintf(s.err, "-to: the plan needs a folder to go to\nname one that does not exist yet: lookgate plan %s -to FOLDER\n", plain[0])
		return exitUsage
	}
	text, err := files.ReadWhole(plain[0], fileLimit)
	if err != nil {
		fmt.Fprintln(s.err, err)
		return exitBroken
	}
	brief, problems := site.ReadBrief(plain[0], text)
	for _, p := range problems {
		fmt.Fprintln(s.err, p)
	}
	if brief == nil {
		fmt.Fprintln(s.err, "\nnothing is planned: the brief has to be mended first")
		return exitBroken
	}
	d, err := draft.Make(brief)
	if err == nil {
		err = writePlan(*to, d)
	}
	if err != nil {
		fmt.Fprintln(s.err, err)
		return exitRefused
	}
	tellPlan(s, d, *to, *why)
	return exitOK
}

// writePlan writes the files of a plan into a folder that holds nothing yet.
func writePlan(folder string, d *draft.Draft) error {
	taken := fmt.Errorf("%s is there already, and not empty\nname a folder that does not exist yet: nothing is overwritten", folder)
	switch entries, err := os.ReadDir(folder); {
	case err == nil && len(entries) > 0:
		return taken
	case err != nil && !errors.Is(err, os.ErrNotExist):
		return taken
	}
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return fmt.Errorf("%w\nname a folder that can be made", err)
	}
	for _, name := range site.Files {
		if err := files.Replace(filepath.Join(folder, name), d.Files[name]); err != nil {
			return err
		}
	}
	return nil
}

// tellPlan says what was planned, and where it is.
func tellPlan(s streams, d *draft.Draft, folder string, why bool) {
	for _, line := range d.Summary {
		fmt.Fprint(s.out, wrapped(line, "", "  "))
	}
	if why {
		fmt.Fprintln(s.out)
		for _, line := range d.Why {
			fmt.Fprint(s.out, wrapped(line, "", "  "))
		}
	}
	fmt.Fprintf(s.out, "\n%s holds the site. Edit it as the plant is built; next: lookgate check %s\n\n", folder, folder)
	fmt.Fprint(s.out, wrapped(cautions[0], "", ""))
}
