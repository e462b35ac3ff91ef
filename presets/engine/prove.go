package engine

import (
	"fmt"
	"hash/fnv"
	"slices"
	"unicode"
	"unicode/utf8"

	"lookgate/presets/finding"
	"lookgate/presets/rig"
)

// Proof is an engineer's word that a circuit is built as the rig has it: its breaker was opened, and its panels and no others went dark.
type Proof struct {
	Circuit string `json:"circuit"`
	By      string `json:"by,omitempty"` // who did it, where the station says it
	Station string `json:"station"`
	When    int64  `json:"when"`  // seconds since 1970 UTC, by the clock of whoever handed the command in; 0 where nobody knows
	Print   string `json:"print"` // of what was proved, see [Prints]
}

// Prints gives for each circuit a short text that changes with its board, its poles and its panels: what was proved of one that has another is not worth anything.
func Prints(r *rig.Rig) []string {
	prints := make([]string, len(r.Circuits))
	for i, c := range r.Circuits {
		names := make([]string, 0, len(c.Panels))
		for _, p := range c.Panels {
			names = append(names, r.PanelName(p))
		}
		slices.Sort(names)
		h := fnv.New64a()
		fmt.Fprintf(h, "%q %v %q", r.Boards[c.Board].Name, c.Poles, names)
		prints[i] = fmt.Sprintf("%016x", h.Sum64())
	}
	return prints
}

// Proved gives for each of the rig's circuits its proof, nil for those that nobody proved as they are.
func Proved(r *rig.Rig, proofs []Proof) []*Proof {
	proved := make([]*Proof, len(r.Circuits))
	if len(proofs) == 0 {
		return proved
	}
	prints := Prints(r)
	for i, c := range r.Circuits {
		k := slices.IndexFunc(proofs, func(p Proof) bool { return p.Circuit == c.Name && p.Print == prints[i] })
		if k >= 0 {
			p := proofs[k]
			proved[i] = &p
		}
	}
	return proved
}

// maxBy is how long the name of who proved a circuit may be, in characters.
const maxBy = 60

// prove takes an engineer's word that a circuit feeds the panels that the rig says, or takes the word back.
func (e *Engine) prove(c Command) {
	i := slices.Index(e.circuitNames, c.Target)
	switch {
	case !c.Engineer:
		e.refuse(c, finding.New(finding.EngineerOnly, verbPlace(c), "only an engineer's station may say that a circuit is proved"))
	case i < 0:
		e.refuse(c, unknown(finding.UnknownCircuit, "circuit", c.Target))
	case c.Off && e.proofs[i] == nil:
		e.refuse(c, finding.New(finding.NotLockedOff, finding.Place{Kind: "circuit", Name: c.Target}, "is not proved"))
	case !goodName(c.By):
		f := finding.New(finding.BadArguments, verbPlace(c), "the name of who proved it cannot be shown")
		f.Remedies = []finding.Remedy{{When: finding.Later, Words: fmt.Sprintf("send up to %d printable characters, or no name", maxBy)}}
		e.refuse(c, f)
	case e.sick != "":
		e.failCommand(c, e.sick)
	default:
		e.proofs[i] = nil
		if !c.Off {
			e.proofs[i] = &Proof{Circuit: c.Target, By: c.By, Station: c.Station, When: c.Clock, Print: Prints(e.plan.Rig)[i]}
		}
		e.gate.dirty = true
		e.done(c, nil)
	}
}

func goodName(s string) bool {
	return utf8.RuneCountInString(s) <= maxBy && utf8.ValidString(s) && !slices.ContainsFunc([]rune(s), func(c rune) bool { return !unicode.IsPrint(c) })
}

// keptProofs lists what is proved.
func (e *Engine) keptProofs() []Proof {
	var list []Proof
	for _, p := range e.proofs {
		if p != nil {
			list = append(list, *p)
		}
	}
	return list
}

// unproved tells of circuits that were proved before a reload and are others now.
func (e *Engine) unproved(before []Proof) {
	for i, name := range e.circuitNames {
		was := slices.ContainsFunc(before, func(p Proof) bool { return p.Circuit == name })
		if was && e.proofs[i] == nil {
			e.out.Events = append(e.out.Events, Event{Kind: "note", Place: finding.Place{Kind: "circuit", Name: name},
				Sentence: "is not proved any more: its board, its poles or its panels are others now", Do: "open its breaker, see which panels go dark, and say so"})
		}
	}
}

// ProofView is who proved a circuit, and when.
type ProofView struct {
	By      string `json:"by,omitempty"`
	Station string `json:"station"`
	When    int64  `json:"when"` // seconds since 1970 UTC; 0 where nobody knows
}

func (e *Engine) proofView(circuit int) *ProofView {
	p := e.proofs[circuit]
	if p == nil {
		return nil
	}
	return &ProofView{p.By, p.Station, p.When}
}
