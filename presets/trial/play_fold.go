package trial

import "slices"

// playFew is how many steps of a fade are told one by one.
const playFew = 3

// folded tells the many steps of a fade as one: entries of one kind and device, all of them levels that go one way.
func folded(tale []playEntry) []playEntry {
	var groups []playGroup
	of := make([]int, len(tale))
	for i, e := range tale {
		of[i] = -1
		if e.kind == "" || e.kind == "plain" {
			continue
		}
		at := -1
		for g := range groups {
			if groups[g].kind == e.kind && groups[g].who == e.who {
				at = g // the last of this device
			}
		}
		if at < 0 || !groups[at].take(e) {
			at = len(groups)
			groups = append(groups, newGroup(e))
		}
		of[i] = at
	}
	var out []playEntry
	told := make([]bool, len(groups))
	for i, e := range tale {
		switch g := of[i]; {
		case g < 0 || groups[g].times <= playFew:
			out = append(out, e)
		case !told[g]:
			told[g] = true
			out = append(out, groups[g].playEntry)
		}
	}
	return out
}

// playGroup is entries that may be told as one.
type playGroup struct {
	playEntry
	up, down bool // some level went up; down
}

func newGroup(e playEntry) playGroup {
	g := playGroup{playEntry: e}
	g.parts = slices.Clone(e.parts)
	for i := range g.parts {
		g.parts[i].from = g.parts[i].level
	}
	return g
}

// take adds an entry where all of it goes on in the same way.
func (g *playGroup) take(e playEntry) bool {
	parts, up, down := slices.Clone(g.parts), g.up, g.down
	levels := false
	for _, p := range e.parts {
		i := slices.IndexFunc(parts, func(q playPart) bool { return q.name == p.name })
		switch {
		case i < 0 && p.word == "" && p.note == "":
			p.from = p.level
			parts = append(parts, p)
			levels = true
		case i < 0 || parts[i].word != p.word || parts[i].note != p.note:
			return false
		case p.word == "":
			up, down = up || p.level > parts[i].level, down || p.level < parts[i].level
			parts[i].level, parts[i].moved = p.level, parts[i].moved || p.level != parts[i].from
			levels = true
		}
	}
	if !levels || up && down {
		return false
	}
	g.parts, g.up, g.down = parts, up, down
	g.until, g.times = e.at, g.times+1
	return true
}
