package trial

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"lookgate/presets/engine"
	"lookgate/presets/plant"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// play plays one line after the head.
func (p *player) play(words string) {
	first, rest, _ := strings.Cut(words, " ")
	switch first {
	case "wait":
		p.wait(p.now, rest)
		return
	case "at":
		at, then, _ := strings.Cut(rest, " ")
		if p.wait(p.zero, at); then != "" {
			p.play(then)
		}
		return
	case "show":
		p.show()
		return
	case "draw":
		p.draw(rest)
		return
	}
	if station, command, is := strings.Cut(words, ": "); is && !strings.Contains(station, " ") {
		p.order(station, strings.ReplaceAll(command, " %", "%"))
	} else if !p.event(words) {
		p.cannot("nobody knows what %q means", words)
	}
	p.until(p.now)
	p.observe()
}

// wait lets time pass up to so long after a moment.
func (p *player) wait(from time.Duration, text string) {
	d, err := playTime(text)
	if err != nil || from+d < p.now {
		p.cannot("%q is no time from here on", text)
		return
	}
	p.until(from + d)
}

// order is a station's command.
func (p *player) order(station, text string) {
	c := engine.Command{ID: uint64(len(p.orders) + 1), Station: station, Engineer: station == "engineer"}
	first, rest, _ := strings.Cut(text, " ")
	o := playOrder{circuit: -1}
	if !p.readOrder(&c, &o, first, strings.TrimSpace(rest)) {
		p.cannot("nobody knows how to %q", text)
		return
	}
	p.marks = append(p.marks, playMark{p.now, fmt.Sprintf("#%d", c.ID)})
	if p.engine == nil {
		p.say("nobody answers")
		return
	}
	o.verb = c.Verb
	p.orders = append(p.orders, o)
	if c.Verb == engine.ReloadSite {
		p.reload(c, rest)
		return
	}
	p.step(c)
}

// readOrder reads a command's words.
func (p *player) readOrder(c *engine.Command, o *playOrder, first, rest string) bool {
	switch c.Verb = engine.Verb(first); c.Verb {
	case engine.Recall, engine.Arm:
		name, level, scaled := strings.Cut(rest, " at ")
		if scaled {
			c.HasLevel = true
			c.Level, scaled = playLevel(level)
			if !scaled {
				return false
			}
		}
		if n, err := strconv.Atoi(name); err == nil {
			c.Preset = n
		} else {
			c.Target = strings.Trim(name, `"`)
		}
		return name != ""
	case engine.Go, engine.Back, engine.Worklight, engine.Query:
		return rest == ""
	case engine.ReloadSite:
		return rest == "" || strings.HasPrefix(rest, "with ")
	case engine.Level:
		level, ok := playLevel(rest)
		c.Level = level
		return ok
	case engine.StepBy:
		stops, err := strconv.ParseFloat(rest, 64)
		c.Stops = units.Stops(stops)
		return err == nil
	case engine.Blackout:
		c.Target = rest
		if zone, off := strings.CutSuffix(" "+rest, " off"); off {
			c.Target, c.Off = strings.TrimSpace(zone), true
		}
		return true
	case engine.Identify, engine.Prove:
		return readAsBuilt(c, rest)
	}
	return p.readNamed(c, o, first, strings.Fields(rest))
}

// readAsBuilt reads the commands of who finds out how the plant is built.
func readAsBuilt(c *engine.Command, rest string) bool {
	if c.Verb == engine.Identify {
		part, name, named := strings.Cut(rest, " ")
		c.Part, c.Target = engine.Part(part), name
		return named
	}
	rest, c.By, _ = strings.Cut(rest, " by ")
	c.Target, c.Off = strings.CutSuffix(rest, " off")
	return c.Target != ""
}

// readNamed reads the commands that name a thing and then say what of it.
func (p *player) readNamed(c *engine.Command, o *playOrder, first string, words []string) bool {
	if len(words) != 2 {
		return false
	}
	c.Target = words[0]
	switch first + " " + words[1] {
	case "attest dark":
		c.Verb = engine.Attest
		return true
	case "circuit out":
		c.Verb = engine.CircuitOut
	case "circuit in":
		c.Verb = engine.CircuitIn
	case "circuit locked-off":
		c.Verb = engine.LockedOff
	default:
		level, ok := playLevel(words[1])
		c.Verb, c.Level = engine.ZoneLevel, level
		return ok && first == "zone"
	}
	p.atBoard(*c, o)
	return true
}

// atBoard is somebody at the board. Who opens or locks a breaker does it and then says so; who closes one or takes a lock off asks, and does it once told yes.
func (p *player) atBoard(c engine.Command, o *playOrder) {
	p.boarded = true
	i := slices.IndexFunc(p.truth.Circuits, func(k rig.Circuit) bool { return k.Name == c.Target })
	if i < 0 {
		return
	}
	switch {
	case c.Verb == engine.CircuitIn:
		o.circuit, o.to = i, plant.In
	case c.Verb == engine.LockedOff:
		p.breaker(i, plant.Locked)
	case p.plant.Breaker(i) == plant.Locked:
		o.circuit, o.to = i, plant.Out
	default:
		p.breaker(i, plant.Out)
	}
}

// playLevel reads "60%", or a plain number from 0 to 1 and beyond.
func playLevel(text string) (units.Level, bool) {
	figure, percent := strings.CutSuffix(text, "%")
	v, err := strconv.ParseFloat(figure, 64)
	if percent {
		v /= 100
	}
	return units.Level(v), err == nil
}

// reload reads the head again, with what was edited in it.
func (p *player) reload(c engine.Command, rest string) {
	var edits []string
	if with, is := strings.CutPrefix(rest, "with "); is {
		for e := range strings.SplitSeq(with, ";") {
			edits = append(edits, strings.TrimSpace(e))
		}
	}
	plan, err := p.read(edits)
	if err != nil {
		p.step(engine.Reload{Command: c, Problems: strings.Split(err.Error(), "\n")})
		return
	}
	p.step(engine.Reload{Command: c, Plan: plan})
}
