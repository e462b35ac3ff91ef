package trial

import (
	"fmt"
	"strings"
	"time"

	"lookgate/presets/engine"
	"lookgate/presets/finding"
	"lookgate/presets/plant"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// playEntry is one line of what followed: a sentence, or what one device was sent, did or told at one moment.
type playEntry struct {
	at    time.Duration
	until time.Duration // of several that were told as one
	times int
	kind  string // "to", "does", "tells", or empty for a sentence
	who   string
	parts []playPart
	text  string
	under []string // further lines
}

// playPart is one value: "left 60 %".
type playPart struct {
	name  string
	level units.Level // where word is empty
	word  string
	from  units.Level // of several that were told as one: the first
	moved bool        // it is several
	note  string      // what became of its packet
}

func (p *player) add(e playEntry) {
	e.at, e.until, e.times = p.now, p.now, 1
	p.tale = append(p.tale, e)
}

func (p *player) say(format string, args ...any) {
	p.add(playEntry{text: fmt.Sprintf(format, args...)})
}

// part adds a value to the entry of the same kind and device at this moment, or begins one.
func (p *player) part(kind, who string, part playPart) {
	for i := len(p.tale) - 1; i >= 0 && p.tale[i].at == p.now && p.tale[i].kind == kind; i-- {
		if p.tale[i].who == who {
			p.tale[i].parts = append(p.tale[i].parts, part)
			return
		}
	}
	p.add(playEntry{kind: kind, who: who, parts: []playPart{part}})
}

// packetPart gives the words for what a packet sets.
func (p *player) packetPart(k plant.Packet) playPart {
	part := playPart{name: p.truth.Outputs[k.Output].Name}
	switch k.Kind {
	case plant.SetLevel:
		part.level = k.Level
	case plant.SetBlack:
		part.word = "black"
		if !k.Black {
			part.word = "not black"
		}
	case plant.SetPicture:
		part.name, part.word = "layout", p.pictureWord(k.Picture)
	case plant.Ask:
		part.name, part.word = "what", "do you hold?"
	}
	return part
}

func (p *player) pictureWord(k plant.Picture) string {
	if k.Layout <= 0 || k.Mode <= 0 || k.Mode > len(p.plan.Rig.Modes) {
		return "none"
	}
	return fmt.Sprintf("%d in %s", k.Layout, p.plan.Rig.Modes[k.Mode-1].Name)
}

func (p *player) device(d int) string { return p.truth.Devices[d].Name }

// sayPacket tells a packet. Questions are told only where a person asked.
func (p *player) sayPacket(k plant.Packet, lost, late bool) {
	if k.Kind == plant.Ask && !p.asked {
		return
	}
	part := p.packetPart(k)
	switch {
	case lost:
		part.note = " (lost on the way)"
	case late:
		part.note = " (will be late)"
	}
	p.part("to", p.device(k.Device), part)
}

// deeds tells what the plant did.
func (p *player) deeds() {
	for _, e := range p.plant.TakeLog() {
		p.deed(e)
	}
}

func (p *player) deed(e plant.Entry) {
	switch e.What {
	case plant.Applied:
		if e.Packet.Kind != plant.Ask {
			p.part("does", p.device(e.Index), p.packetPart(e.Packet))
		}
	case plant.Stale, plant.Deaf, plant.Unheard:
		if e.Packet.Kind != plant.Ask {
			part := p.packetPart(e.Packet)
			why := map[plant.What]string{plant.Stale: "drops as older than what it did", plant.Deaf: "is starting and does not hear",
				plant.Unheard: "restarted before it did"}[e.What]
			p.say("%s %s: %s", p.device(e.Index), why, part)
		}
	case plant.Restarted:
		p.say("%s restarts at its restart level of %v", p.device(e.Index), p.truth.Devices[e.Index].Restart)
	case plant.Booted:
		p.say("%s has started and hears again", p.device(e.Index))
	case plant.Tripped:
		p.say("circuit %s: its breaker trips", p.truth.Circuits[e.Index].Name)
	case plant.Closed:
		p.say("circuit %s: somebody closes its breaker", p.truth.Circuits[e.Index].Name)
	case plant.Opened:
		p.say("circuit %s: somebody opens its breaker%s", p.truth.Circuits[e.Index].Name,
			map[bool]string{true: " and locks it", false: ""}[p.plant.Breaker(e.Index) == plant.Locked])
	}
}

// sayReport tells a report that says something else than the one before.
func (p *player) sayReport(r plant.Report) {
	var parts []playPart
	for o, k := 0, 0; o < len(p.truth.Outputs); o++ {
		if p.truth.Outputs[o].Device != r.Device {
			continue
		}
		part := playPart{name: p.truth.Outputs[o].Name, level: r.Levels[k]}
		if r.Black[k] {
			part.word = fmt.Sprintf("black (%v under it)", r.Levels[k])
		}
		parts = append(parts, part)
		k++
	}
	parts = append(parts, playPart{name: "layout", word: p.pictureWord(r.Picture)})
	if told := words(parts); told != p.devices[r.Device].told {
		p.devices[r.Device].told = told
		p.add(playEntry{kind: "tells", who: p.device(r.Device), parts: parts})
	}
}

// sayAnswer tells an answer with every finding and remedy.
func (p *player) sayAnswer(a engine.Answer) {
	e := playEntry{text: fmt.Sprintf("#%d %s %s", a.ID, a.Verb, a.Status)}
	for _, f := range a.Findings {
		e.under = append(e.under, findingLines(f)...)
	}
	p.add(e)
}

func findingLines(f finding.Finding) []string {
	lines := wrap(fmt.Sprintf("%s, %v: %s", f.Code, f.Place, f.Sentence), 2)
	for _, r := range f.Remedies {
		for _, l := range wrap(string(r.When)+": "+r.Words, 2) {
			lines = append(lines, "  "+l)
		}
	}
	return lines
}

// sayEvent tells an alarm, its end, or a note.
func (p *player) sayEvent(e engine.Event) {
	kind := map[string]string{"alarm": "ALARM", "clear": "alarm over"}[e.Kind]
	if kind == "" {
		kind = e.Kind
	}
	entry := playEntry{text: fmt.Sprintf("%s, %v: %s", kind, e.Place, e.Sentence)}
	if e.Do != "" {
		entry.under = wrap("do: "+e.Do, 2)
	}
	p.add(entry)
}

// sayOutcome tells how a command ended.
func (p *player) sayOutcome(o engine.Outcome) {
	e := playEntry{text: fmt.Sprintf("#%d %s %s", o.ID, o.Verb, o.End)}
	switch {
	case o.Resumed:
		e.text += fmt.Sprintf(", found %.3f s after the start: the daemon had died while it ran", o.Took.Seconds())
	case o.Took > 0:
		e.text += fmt.Sprintf(" after %.3f s", o.Took.Seconds())
	}
	for _, r := range o.Short {
		e.under = append(e.under, fmt.Sprintf("%s is wanted at %v and may stand from %v to %v", r.Output, r.Wanted, r.Low, r.High))
	}
	if len(o.Assumed) > 0 {
		e.under = append(e.under, "assumed, since its device cannot tell: "+strings.Join(o.Assumed, ", "))
	}
	p.add(e)
}

// sayKnown tells what the daemon knows when a scenario begins.
func (p *player) sayKnown() {
	known := map[string]string{}
	var states, parts []string
	for i, o := range p.engine.View().Outputs {
		text := fmt.Sprintf("%s %v", o.Name, o.Low)
		if o.Low != o.High {
			text = fmt.Sprintf("%s %v to %v", o.Name, o.Low, o.High)
		}
		if d := p.plan.Rig.Devices[p.plan.Rig.Outputs[i].Device]; d.Class != rig.Silent && o.State == "confirmed" {
			text = fmt.Sprintf("%s %v", o.Name, p.plant.State(p.trueOutput(i)))
		}
		if known[o.State] == "" {
			states = append(states, o.State)
			known[o.State] = text
		} else {
			known[o.State] += ", " + text
		}
	}
	for _, s := range states {
		parts = append(parts, s+": "+known[s])
	}
	p.say("%s", strings.Join(parts, "; "))
}

// tell gives the lines of what followed and forgets it.
func (p *player) tell() []string {
	var lines []string
	for _, e := range folded(p.tale) {
		if e.kind == "plain" {
			lines = append(lines, e.under...)
			continue
		}
		text := fmt.Sprintf("%8.3f s  %v", (e.at - p.zero).Seconds(), e)
		if e.times > 1 {
			text += fmt.Sprintf(" (%d times until %.3f s)", e.times, (e.until - p.zero).Seconds())
		}
		lines = append(lines, wrap(text, 14)...)
		for _, u := range e.under {
			lines = append(lines, strings.Repeat(" ", 14)+u)
		}
	}
	p.tale = nil
	return lines
}

// String gives the entry's sentence.
func (e playEntry) String() string {
	text := map[string]string{"": e.text, "to": "to " + e.who + ": ", "does": e.who + " does: ", "tells": e.who + " tells: "}[e.kind]
	return text + words(e.parts)
}

func words(parts []playPart) string {
	var out []string
	for _, p := range parts {
		out = append(out, p.String())
	}
	return strings.Join(out, ", ")
}

// String gives the value's words.
func (p playPart) String() string {
	switch {
	case p.word != "":
		return p.name + " " + p.word + p.note
	case p.moved:
		return fmt.Sprintf("%s %v ... %v%s", p.name, p.from, p.level, p.note)
	}
	return fmt.Sprintf("%s %v%s", p.name, p.level, p.note)
}

// wrapAt is how wide a line may be.
const wrapAt = 100

// wrap breaks a line at words; what follows is indented so far.
func wrap(text string, indent int) []string {
	var lines []string
	for len([]rune(text)) > wrapAt {
		runes := []rune(text)
		cut := wrapAt
		for cut > indent+20 && runes[cut] != ' ' {
			cut--
		}
		lines = append(lines, strings.TrimRight(string(runes[:cut]), " "))
		text = strings.Repeat(" ", indent) + strings.TrimLeft(string(runes[cut:]), " ")
	}
	return append(lines, text)
}
