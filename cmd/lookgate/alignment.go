package main

import (
	"fmt"
	"strings"

	"lookgate/presets/alignment"
	"lookgate/presets/rig"
)

func alignmentCommand() subcommand {
	return subcommand{"alignment", "SITE -to FOLDER", "pictures for the walls, pixel by pixel, to hang and cable panels by", makeAlignment}
}

// makeAlignment is the subcommand: 0 where the pictures were written, 1 where they could not be, 2 where the site is broken.
func makeAlignment(args []string, s streams) int {
	f := options(alignmentCommand(), s)
	to := f.String("to", "", "the folder to write into; files of the same names are replaced")
	plain, status, ok := parse(f, args, 1)
	if !ok {
		return status
	}
	plan, _, status := planFor("alignment", plain[0], *to, s)
	if plan == nil {
		return status
	}
	var pictures []alignment.Picture
	write, err := folderWriter(*to)
	if err == nil {
		pictures, err = alignment.Make(plan, write)
	}
	if err != nil {
		fmt.Fprintln(s.err, err)
		return exitRefused
	}
	fmt.Fprint(s.out, tellPictures(plan.Rig, pictures, *to))
	return exitOK
}

// tellPictures lists what was written, and says at which level it may be shown.
func tellPictures(r *rig.Rig, pictures []alignment.Picture, folder string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s holds %s, and %s that lists them\n\n", folder, count(len(pictures), "picture"), alignment.Table)
	wide := 0
	for _, p := range pictures {
		wide = max(wide, len(p.File))
	}
	for _, p := range pictures {
		words := ""
		switch {
		case p.Zone >= 0:
			words = fmt.Sprintf("  BRIGHT: first set zone %s to %v at most, and all others dark", r.Zones[p.Zone].Name, p.Safe)
		case p.Loud():
			words = "  BRIGHT"
		}
		fmt.Fprintf(&b, "  %-*s  %5d x %-5d  mean %5.1f %%%s\n", wide, p.File, p.Width, p.Height, float64(p.Mean)*100, words)
	}
	b.WriteString("\n" + wrapped(fmt.Sprintf("Show each picture pixel for pixel: at its own size, not scaled, from the top left corner of its wall. At %v on all walls "+
		"together the plant carries any picture, full white too: stay at or below it. Means are of the light, at worst, over the wall's panels.", pictures[0].Safe), "", ""))
	return b.String() + "\n" + wrapped(cautions[0], "", "") + wrapped(cautions[1], "", "")
}
