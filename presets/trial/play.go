package trial

import (
	"fmt"
	"strings"
	"time"

	"lookgate/presets"
)

// Play plays a scenario and gives its text again with what came out. It is ok where that is the text that was given, and nothing in it went against what must
// always hold.
//
// A scenario is lines. First comes the head: a plant and a book in a few lines (see playHead), or "site: NAME", which load gives. The line "begin" starts the
// daemon and lets it get to know the wall; "begin cold" starts it and nothing more. Then come commands ("booth: recall 2"), events ("circuit A1 trips"), times
// ("wait 2s", "at 3.5s") and questions ("show", "draw leg A L1"). What is indented below a line is everything that followed, up to the next line. Comments
// begin with # and stay, as empty lines do. A reload hands load the name of the site with what was edited in it: "demo with rig.yaml: main_a: 100 = main_a: 90".
func Play(text string, load func(site string) (*presets.Plan, error)) (rewritten string, ok bool) {
	p := &player{load: load}
	var out []string
	for line := range strings.SplitSeq(strings.TrimRight(text, "\n"), "\n") {
		words := strings.TrimSpace(line)
		if words != "" && strings.HasPrefix(line, " ") {
			continue // what was expected; what came stands there already
		}
		out = append(out, line)
		if words != "" && !strings.HasPrefix(words, "#") {
			out = append(out, p.line(words)...)
		}
	}
	rewritten = strings.Join(out, "\n") + "\n"
	return rewritten, rewritten == text && !p.bad && p.begun
}

// playSkip is how long the daemon gets to know the wall before a scenario begins.
const playSkip = 3 * time.Second

// line plays one line and gives what followed, indented.
func (p *player) line(words string) []string {
	switch {
	case p.begun:
		p.play(words)
	case words == "begin" || words == "begin cold":
		p.begin(words == "begin cold")
	default:
		p.head = append(p.head, words)
	}
	lines := p.tell()
	for i, l := range lines {
		lines[i] = "    " + l
	}
	return lines
}

// begin makes the plant of the head and starts the daemon.
func (p *player) begin(cold bool) {
	plan, err := p.read(nil)
	if err != nil {
		p.cannot("%v", err)
		return
	}
	p.begun = true
	p.build(plan)
	p.start()
	if cold {
		return
	}
	p.until(p.now + playSkip)
	p.tale, p.history, p.marks = nil, nil, nil
	p.zero, p.drawn = p.now, p.now
	p.observe()
	p.sayKnown()
}

// read gives the plan of the head with edits in it.
func (p *player) read(edits []string) (*presets.Plan, error) {
	for _, line := range p.head {
		if name, is := strings.CutPrefix(line, "site:"); is {
			name = strings.TrimSpace(name)
			if len(edits) > 0 {
				name += " with " + strings.Join(edits, "; ")
			}
			return p.load(name)
		}
	}
	return playPlan(edited(p.head, edits))
}

// edited puts each edit in the place of the line of the same beginning.
func edited(lines, edits []string) []string {
	out := append([]string(nil), lines...)
	for _, e := range edits {
		found := false
		for i := range out {
			if playLineOf(out[i]) == playLineOf(e) {
				out[i], found = e, true
			}
		}
		if !found {
			out = append(out, e)
		}
	}
	return out
}

// cannot says that a line cannot be played. No rewriting makes such a scenario pass.
func (p *player) cannot(format string, args ...any) {
	p.bad = true
	p.add(playEntry{text: "THIS CANNOT BE PLAYED", under: strings.Split(fmt.Sprintf(format, args...), "\n")})
}

// broken says that something that must always hold does not.
func (p *player) broken(format string, args ...any) {
	p.bad = true
	p.add(playEntry{text: "THIS MUST NOT BE: " + fmt.Sprintf(format, args...)})
}
