package main

import (
	"fmt"
	"strings"
	"time"

	"lookgate/daemon"
	"lookgate/presets/engine"
	"lookgate/presets/rig"
)

// provedReport is one circuit: whether an engineer saw its panels go dark, who and when.
type provedReport struct {
	Circuit string `json:"circuit"`
	Proved  bool   `json:"proved"`
	By      string `json:"by,omitempty"`
	Station string `json:"station,omitempty"`
	When    string `json:"when,omitempty"` // RFC 3339, UTC
}

// readProved reads from a site's state folder, where there is one, which circuits were proved as they are now. The folder is only read.
func readProved(folder string, r *rig.Rig) ([]provedReport, error) {
	proofs, err := daemon.ReadProved(stateOf(folder))
	list := make([]provedReport, len(r.Circuits))
	for i, p := range engine.Proved(r, proofs) {
		list[i] = provedReport{Circuit: r.Circuits[i].Name}
		if p == nil {
			continue
		}
		list[i].Proved, list[i].By, list[i].Station = true, p.By, p.Station
		if p.When > 0 {
			list[i].When = time.Unix(p.When, 0).UTC().Format(time.RFC3339)
		}
	}
	return list, err
}

// drawProved counts what nobody has proved, and with all names every circuit.
func drawProved(list []provedReport, all bool) string {
	var b strings.Builder
	var not []string
	for _, c := range list {
		if !c.Proved {
			not = append(not, c.Circuit)
			continue
		}
		if all {
			b.WriteString(wrapped(c.sentence(), "  ", "    "))
		}
	}
	if len(not) == 0 {
		b.WriteString(wrapped(fmt.Sprintf("all of %s are proved: their breakers were opened and the panels seen to go dark", count(len(list), "circuit")), "  ", "    "))
		return b.String()
	}
	words := fmt.Sprintf("unproved circuits, whose breakers nobody has opened to see which panels go dark: %d of %d", len(not), len(list))
	if all {
		words += ": " + strings.Join(not, ", ")
	}
	b.WriteString(wrapped(words, "  ", "    "))
	return b.String()
}

func (c provedReport) sentence() string {
	words := "circuit " + c.Circuit + " is proved"
	if c.By != "" {
		words += " by " + c.By
	}
	words += ", said at " + c.Station
	if c.When != "" {
		words += " at " + c.When
	}
	return words
}
