package draft

import (
	"fmt"
	"strings"

	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// files writes all files of the site.
func (p *planner) files() map[string][]byte {
	return map[string][]byte{
		"rig.yaml":      p.rigText(),
		"devices.yaml":  p.devicesText(),
		"presets.yaml":  p.presetsText(),
		"stations.yaml": p.stationsText(),
	}
}

func (p *planner) devicesText() []byte {
	g := &page{}
	g.note("", "What lookgate drives. Class, times and restart level are what its promise rests on: replace them by what the maker states or you have measured. "+
		"With protocol sim, lookgate plant simulates the wall at these addresses until it stands.")
	g.line("devices:")
	d := p.rig.Devices[0]
	told := fmt.Sprintf("class: %v, steps: %d, restart: %s, packet_life: %s, settling: %s, retry: %s", d.Class, d.Steps, percent(d.Restart),
		lasting(d.PacketLife), lasting(d.Settling), lasting(d.Retry))
	if d.Class == rig.Silent {
		told += fmt.Sprintf(", repeats: %d", d.Repeats)
	}
	if p.byRule() {
		g.line("  - {prefix: %s, %s,", word(d.Name), told)
		g.line("     protocol: %s, address: %q, reply_port: %d}", p.brief.Wire.Protocol, p.brief.Wire.Address, p.brief.Wire.ReplyPort)
		return []byte(g.String())
	}
	for i := range p.needed {
		w, _ := p.brief.Wire.Plus(i)
		g.line("  - {name: %s, %s,", word(p.processor(i)), told)
		g.line("     protocol: %s, address: %q, reply_port: %d}", w.Protocol, w.Address, w.ReplyPort)
	}
	return []byte(g.String())
}

// Numbers and levels of the first book. Alignment is dim: people stand close to the wall while they build it.
const (
	halfLevel, alignmentLevel        units.Level = 0.5, 0.1
	fullNumber, halfNumber, alignNum             = 1, 2, 3
)

func (p *planner) presetsText() []byte {
	g := &page{}
	g.note("", "The first book: full white to see what the plant carries, half, and a dim one to build and align by.")
	g.line("worklight: %d", alignNum)
	g.gap()
	g.line("presets:")
	if p.full < 1 {
		for _, why := range p.whyFull() {
			g.note("  ", "%s", why)
		}
	}
	p.writePreset(g, fullNumber, "full white", p.full)
	g.gap()
	p.writePreset(g, halfNumber, "half", min(halfLevel, p.full))
	g.gap()
	p.writePreset(g, alignNum, "alignment", min(alignmentLevel, p.full))
	return []byte(g.String())
}

func (p *planner) writePreset(g *page, number int, name string, l units.Level) {
	var zones []string
	for _, w := range p.rig.Walls {
		zones = append(zones, word(w.Name)+": "+percent(l))
	}
	g.line("  - number: %d", number)
	g.line("    name: %s", name)
	g.line("    mode: %s", word(p.rig.Modes[0].Name))
	g.line("    zones: {%s}", strings.Join(zones, ", "))
	g.line("    windows:")
	for _, w := range p.rig.Walls {
		g.line("      - {source: %s, wall: %s, fill: true}", word(w.Name), word(w.Name))
	}
	g.line("    fade_up: %s", lasting(fades[p.fade]))
	g.line("    fade_down: 1 s")
}

func (p *planner) stationsText() []byte {
	g := &page{}
	g.note("", "Who may command, and where commands come in. Only this machine, until addresses are given that others reach. Stations are told apart and not "+
		"authenticated: keep the control network apart from every other.")
	g.line("listen:")
	g.line("  osc: 127.0.0.1:9000")
	g.line("  http: 127.0.0.1:8080")
	g.gap()
	g.line("stations:")
	g.line("  - {name: desk, engineer: true}")
	return []byte(g.String())
}
