package main

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"lookgate/presets"
	"lookgate/presets/power"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

func orderCommand() subcommand {
	return subcommand{"order", "SITE [-circuit NAME] [-json]", "in which order to close breakers, or how to bring one circuit back", order}
}

// orderReport is what order prints.
type orderReport struct {
	Site     string        `json:"site"`
	StepW    float64       `json:"generatorStepWatts"` // 0 where none is known
	SettleS  float64       `json:"settleSeconds"`
	Steps    []closeReport `json:"steps"`
	Trips    []string      `json:"ownBreakerMayTrip"` // circuits, whatever the order
	Cautions []string      `json:"cautions"`

	plan  *presets.Plan
	order power.Order
}

// closeReport is one breaker to close, with names in place of indexes.
type closeReport struct {
	Circuit  string  `json:"circuit"`
	Board    string  `json:"board"`
	Poles    []int   `json:"poles"`
	Panels   int     `json:"panels"`
	AtS      float64 `json:"atSeconds"`
	LoadW    float64 `json:"loadWatts"`
	StepOver bool    `json:"moreThanTheGeneratorTakes"`
	Surge    *surge  `json:"surge"` // null where no peak is known
}

// surge is what the main with the least room sees.
type surge struct {
	At      string  `json:"at"`
	BeforeA float64 `json:"beforeAmps"` // crest, like the other two
	PeakA   float64 `json:"peakAmps"`
	HoldsA  float64 `json:"holdsAmps"`
	Over    bool    `json:"mayTrip"`
}

// order is the subcommand: 0 where no main may trip and no step is more than the generator takes, 1 where one may or is, 2 where the site is broken.
func order(args []string, s streams) int {
	f := options(orderCommand(), s)
	asJSON := f.Bool("json", false, "print the same as data")
	name := f.String("circuit", "", "only this circuit, as it comes back after a trip with all others in")
	plain, status, ok := parse(f, args, 1)
	if !ok {
		return status
	}
	read, problems, err := readSite(plain[0])
	if err != nil {
		fmt.Fprintln(s.err, err)
		return exitBroken
	}
	if read == nil {
		return broken(problems, *asJSON, s)
	}
	plan := presets.NewPlan(read.Rig, read.Book)
	if *name != "" {
		return comeBack(plan, *name, *asJSON, s)
	}
	r := orderOf(plan)
	if *asJSON {
		printJSON(s, r)
	} else {
		fmt.Fprint(s.out, r.draw())
	}
	if slices.ContainsFunc(r.order.Steps, worrying) {
		return exitRefused
	}
	return exitOK
}

func worrying(c power.Closing) bool { return c.StepOver || c.Surge.Over() }

func orderOf(plan *presets.Plan) *orderReport {
	r := &orderReport{Site: plan.Rig.Name, Steps: []closeReport{}, Trips: trips(plan), Cautions: cautions[:1], plan: plan}
	r.order = plan.Power.Order(plan.Black())
	r.StepW, r.SettleS = float64(r.order.Step), r.order.Window.Seconds()
	for _, c := range r.order.Steps {
		r.Steps = append(r.Steps, closing(plan, c))
	}
	return r
}

// trips names the circuits whose own breakers may trip when they are closed.
func trips(plan *presets.Plan) []string {
	names := []string{}
	for _, s := range plan.Power.SwitchOns() {
		if s.Used > 1 {
			names = append(names, plan.Rig.Circuits[s.Circuit].Name)
		}
	}
	return names
}

func closing(plan *presets.Plan, c power.Closing) closeReport {
	of := plan.Rig.Circuits[c.Circuit]
	r := closeReport{Circuit: of.Name, Board: plan.Rig.Boards[of.Board].Name, Poles: of.Poles, Panels: len(of.Panels), AtS: c.At.Seconds(),
		LoadW: float64(c.Load), StepOver: c.StepOver}
	if at := c.Surge.Conductor; at >= 0 {
		r.Surge = &surge{placeOf(plan.Power.Conductors()[at]).String(), float64(c.Surge.Before), float64(c.Surge.Peak), float64(c.Surge.Holds), c.Surge.Over()}
	}
	return r
}

// draw prints the order as a list to work through.
func (r *orderReport) draw() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %s to close, one after the other\n\n", r.Site, count(len(r.Steps), "breaker"))
	b.WriteString(wrapped("First: every breaker below open, the wall blacked out, so that panels come up black, and all other loads on. Then the main of the supply, "+
		"then the mains of the boards, then:", "", ""))
	board := ""
	wide := r.widths()
	for i, c := range r.Steps {
		if c.Board != board {
			board = c.Board
			fmt.Fprintf(&b, "\nboard %s, %s\n", board, r.mainWords(board))
		}
		fmt.Fprintf(&b, "  %3d  %6s  %-*s  %-*s  %3d panels  %*s  %s\n", i+1, clock(c.AtS), wide.name, c.Circuit, wide.poles, poleWords(c.Poles), c.Panels, wide.load,
			units.Watts(c.LoadW).String(), c.surgeWords())
	}
	b.WriteString("\n" + r.notes() + "\n" + wrapped(cautions[0], "", ""))
	return b.String()
}

func (r *orderReport) mainWords(board string) string {
	at := slices.IndexFunc(r.plan.Rig.Boards, func(b rig.Board) bool { return b.Name == board })
	main := r.plan.Rig.Boards[at].Main
	low, _ := power.Instantaneous(rig.CurveB, main)
	return fmt.Sprintf("main %v, taken to hold pulses up to %v", main, low)
}

type orderWidths struct{ name, poles, load int }

func (r *orderReport) widths() (w orderWidths) {
	for _, c := range r.Steps {
		w.name, w.poles, w.load = max(w.name, len(c.Circuit)), max(w.poles, len(poleWords(c.Poles))), max(w.load, len(units.Watts(c.LoadW).String()))
	}
	return w
}

func poleWords(poles []int) string {
	words := "pole"
	if len(poles) > 1 {
		words = "poles"
	}
	for _, p := range poles {
		words += fmt.Sprintf(" %d", p)
	}
	return words
}

func waitWords(d time.Duration) string { return fmt.Sprintf("%.3g s", d.Seconds()) }

// clock gives minutes and seconds after the first breaker.
func clock(seconds float64) string {
	s := int(seconds + 0.999)
	return fmt.Sprintf("%d:%02d", s/60, s%60)
}

func (c closeReport) surgeWords() string {
	words := "pulse not known"
	if s := c.Surge; s != nil {
		words = fmt.Sprintf("%s: %.0f of %.0f A", s.At, s.PeakA, s.HoldsA)
		if s.Over {
			words += " ! MAY TRIP"
		}
	}
	if c.StepOver {
		words += " ! MORE THAN THE GENERATOR TAKES"
	}
	return words
}

// notes says what the list rests on, and what it does not help.
func (r *orderReport) notes() string {
	var notes []string
	add := func(form string, args ...any) { notes = append(notes, fmt.Sprintf(form, args...)) }
	add("Times are the earliest, from the first breaker; %s lie between any two. Go on only while everything that is on stays on.", waitWords(power.ClosingGap))
	switch g := r.plan.Rig.Supply; {
	case r.order.Step > 0 && r.order.Window > 0:
		add("The generator takes %v at once and settles in %s: no more than that comes on within that time.", r.order.Step, waitWords(r.order.Window))
	case r.order.Step > 0:
		add("The generator takes %v at once. How long it needs to settle is not known: wait after each step until its frequency and voltage stand still.", r.order.Step)
	case g.Origin == rig.Generator:
		add("What the generator takes at once is not known, and not assessed here.")
	}
	if slices.ContainsFunc(r.Steps, func(c closeReport) bool { return c.Surge != nil }) {
		add("Amps of pulses are crests: what is on already, and the panels' peaks together. A main's own curve is not in the rig, so it is taken to hold three times its " +
			"rating, which is the lowest that there is; and pulses count in full, however short they are.")
	}
	if slices.ContainsFunc(r.Steps, func(c closeReport) bool { return c.Surge == nil }) {
		add("Where the pulse is not known, the panels' inrush peak is missing in the rig, and whether mains hold is not assessed.")
	}
	if len(r.Trips) > 0 {
		add("No order helps a circuit's own breaker: it may trip on %s (see lookgate check).", strings.Join(r.Trips, ", "))
	}
	var b strings.Builder
	for _, n := range notes {
		b.WriteString(wrapped(n, "  · ", "    "))
	}
	return b.String()
}

// backReport is how one circuit comes back.
type backReport struct {
	Circuit  string      `json:"circuit"`
	Black    closeReport `json:"wallBlack"`
	Lit      closeReport `json:"wallLit"` // all others as bright as they may be, and its own panels at full white
	Own      ownReport   `json:"ownBreaker"`
	Outputs  []string    `json:"outputs"` // that its panels are part of
	Cautions []string    `json:"cautions"`
}

// ownReport is whether a circuit's own breaker holds when it is closed.
type ownReport struct {
	Known  bool `json:"known"`
	Holds  bool `json:"holds"`
	Panels int  `json:"panels"` // that it holds
}

// comeBack tells how a circuit comes back: 0 where it may be closed with the wall black, 1 where even then something may trip.
func comeBack(plan *presets.Plan, name string, asJSON bool, s streams) int {
	at := slices.IndexFunc(plan.Rig.Circuits, func(c rig.Circuit) bool { return c.Name == name })
	if at < 0 {
		fmt.Fprintf(s.err, "-circuit: the rig has no circuit %q\nwrite its name as rig.yaml has it\n", name)
		return exitUsage
	}
	black, lit, own := plan.Power.Return(at, plan.Black()), plan.Power.Return(at, plan.Full()), plan.Power.SwitchOns()[at]
	r := backReport{Circuit: name, Black: closing(plan, black), Lit: closing(plan, lit), Outputs: plan.OutputsOf(at), Cautions: cautions[:1],
		Own: ownReport{own.Basis != power.NotKnown, own.Basis != power.NotKnown && own.Used <= 1, own.Most}}
	if asJSON {
		printJSON(s, r)
	} else {
		fmt.Fprint(s.out, r.draw(worrying(lit)))
	}
	if worrying(black) || r.Own.Known && !r.Own.Holds {
		return exitRefused
	}
	return exitOK
}

// draw prints what to do, numbered.
func (r backReport) draw(worse bool) string {
	steps := []string{
		"Find out why it opened, and have that put right. A breaker that opens again at once stays open until somebody who may has looked at it.",
		fmt.Sprintf("Tell lookgate that it is out (/lookgate/circuit/%s/out, or the panel's button): that tells people, and changes nothing in what counts.", r.Circuit),
		fmt.Sprintf("Black out the zone of %s, which its panels are part of: they come back at the level that is held for them. %s", strings.Join(r.Outputs, ", "), r.lit(worse)),
	}
	if r.Own.Known && !r.Own.Holds {
		steps = append(steps, fmt.Sprintf("Its own breaker may trip on all %d panels and holds %d: part the chain behind that many where it can be, and join the rest once they are on.",
			r.Black.Panels, r.Own.Panels))
	}
	steps = append(steps, fmt.Sprintf("Close %s on board %s, %s: %s, %v.", r.Circuit, r.Black.Board, poleWords(r.Black.Poles), r.Black.surgeWords(), units.Watts(r.Black.LoadW)),
		fmt.Sprintf("Wait until its panels show black and steady, at least %s. Then tell lookgate that it is in, and end the blackout.", waitWords(power.ClosingGap)))
	var b strings.Builder
	fmt.Fprintf(&b, "circuit %s, %s: back after a trip, all others in\n\n", r.Circuit, count(r.Black.Panels, "panel"))
	for i, s := range steps {
		b.WriteString(wrapped(s, fmt.Sprintf("  %d  ", i+1), "     "))
	}
	if !r.Own.Known {
		b.WriteString("\n" + wrapped("Whether its own breaker holds is not assessed: neither the maker's panels a breaker nor peak and curve are in the rig.", "  · ", "    "))
	}
	return b.String() + "\n" + wrapped(cautions[0], "", "")
}

// lit says what it would be without the blackout.
func (r backReport) lit(worse bool) string {
	if r.Lit.Surge == nil {
		return "What it does under a bright look is not assessed."
	}
	words := "Without that"
	if !worse {
		words = "Even without that nothing may trip"
	}
	return fmt.Sprintf("%s, at the brightest: %s, %v.", words, r.Lit.surgeWords(), units.Watts(r.Lit.LoadW))
}
