package daemon

import (
	"fmt"
	"strings"

	"lookgate/presets/engine"
	"lookgate/presets/finding"
	"lookgate/presets/units"
)

// maxTold is how many findings or outputs a line of the record names; the payload has them all.
const maxTold = 3

// commandText says a command as a person would: recall 12 "night" at 62 %.
func (c *chronicle) commandText(cmd engine.Command) string {
	words := []string{string(cmd.Verb)}
	add := func(format string, args ...any) { words = append(words, fmt.Sprintf(format, args...)) }
	switch cmd.Verb {
	case engine.Recall, engine.Arm:
		if cmd.Preset != 0 {
			add("%d", cmd.Preset)
		}
		if name := c.presetName(cmd); name != "" {
			add("%q", name)
		}
	case engine.Level:
		add("%v", cmd.Level)
	case engine.StepBy:
		add("%v", cmd.Stops)
	case engine.ZoneLevel:
		add("%s %v", cmd.Target, cmd.Level)
	case engine.Identify:
		add("%s %s", cmd.Part, cmd.Target)
	default:
		if cmd.Target != "" {
			add("%s", cmd.Target)
		}
	}
	if cmd.HasLevel && cmd.Verb != engine.Level && cmd.Verb != engine.ZoneLevel {
		add("at %v", cmd.Level)
	}
	if cmd.Off {
		add("off")
	}
	if cmd.By != "" {
		add("by %s", cmd.By)
	}
	return strings.Join(words, " ")
}

func (c *chronicle) presetName(cmd engine.Command) string {
	if cmd.Preset == 0 {
		return cmd.Target
	}
	if p := c.plan.Book.ByNumber(cmd.Preset); p != nil {
		return p.Name
	}
	return ""
}

// answerText says a decision with its numbers: refused: leg-over leg A L2 61.3 A of 48 A.
func answerText(a *engine.Answer) string {
	if len(a.Findings) == 0 {
		return string(a.Status)
	}
	var words []string
	for _, f := range a.Findings[:min(maxTold, len(a.Findings))] {
		words = append(words, findingText(f))
	}
	return string(a.Status) + ": " + strings.Join(words, "; ") + more(len(a.Findings))
}

func findingText(f finding.Finding) string {
	text := string(f.Code) + " " + f.Place.String()
	if f.Limit.Unit != units.None {
		return text + fmt.Sprintf(" %v of %v", f.Computed, f.Limit)
	}
	return text + ", " + f.Sentence
}

// outcomeText says how a command ended: on after 0.42 s.
func outcomeText(o *engine.Outcome) string {
	text := fmt.Sprintf("%s after %.2f s", o.End, o.Took.Seconds())
	if o.Resumed {
		text = fmt.Sprintf("%s, found %.2f s after the start: lookgate had ended while it ran", o.End, o.Took.Seconds())
	}
	var words []string
	for _, s := range o.Short[:min(maxTold, len(o.Short))] {
		words = append(words, fmt.Sprintf("%s stands between %v and %v, wanted %v", s.Output, s.Low, s.High, s.Wanted))
	}
	if len(words) > 0 {
		text += "; " + strings.Join(words, "; ") + more(len(o.Short))
	}
	if len(o.Assumed) > 0 {
		text += "; assumed: " + strings.Join(o.Assumed[:min(maxTold, len(o.Assumed))], ", ") + more(len(o.Assumed))
	}
	return text
}

func more(n int) string {
	if n <= maxTold {
		return ""
	}
	return fmt.Sprintf(" and %d more", n-maxTold)
}

func eventText(e *engine.Event) string {
	text := e.Place.String() + " " + e.Sentence
	if e.Kind == "clear" {
		return "over: " + text
	}
	if e.Do != "" {
		text += "; " + e.Do
	}
	return text
}
