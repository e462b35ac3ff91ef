package picture

import (
	"fmt"
	"math/big"
	"strconv"

	"lookgate/presets/finding"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// RunLoad is what one data run would carry in a mode, beside what its port may carry.
type RunLoad struct {
	Run    int // into the rig's data runs
	Pixels int64
	Bits   int // on the wire for each pixel
	Needed units.BitsPerSecond
	Limit  units.BitsPerSecond
	Over   bool // by exact arithmetic; Needed and Limit are rounded for people
}

// RunLoads gives the load of every data run in a mode, in the rig's order.
func RunLoads(r *rig.Rig, mode int) []RunLoad {
	loads := make([]RunLoad, len(r.DataRuns))
	for i, run := range r.DataRuns {
		p, m := r.Processors[run.Processor], r.Modes[mode]
		px := RunPixels(r, p, run.Panels)
		needed, limit := traffic(p, m, px), capacity(p)
		loads[i] = RunLoad{i, px, p.WireBits(m.BitDepth), approx(needed), approx(limit), needed.Cmp(limit) > 0}
	}
	return loads
}

// RunPixels gives the pixels that a port carries for a chain of panels: theirs, or on a processor that cuts one rectangle out of the raster for each port,
// all that the rectangle around them holds, gaps included. A chain that changes walls carries one rectangle of each.
func RunPixels(r *rig.Rig, p rig.Processor, panels []int) int64 {
	var px int64
	if !p.Bounding {
		for _, panel := range panels {
			px += PanelRect(r, panel).Pixels()
		}
		return px
	}
	around := make([]Rect, len(r.Walls))
	for _, panel := range panels {
		wall := r.Panels[panel].Wall
		around[wall] = around[wall].around(PanelRect(r, panel))
	}
	for _, rect := range around {
		px += rect.Pixels()
	}
	return px
}

// traffic gives pixels times bits on the wire times wall rate, exactly.
func traffic(p rig.Processor, m rig.Mode, px int64) *big.Rat {
	t := new(big.Rat).SetInt64(px)
	t.Mul(t, new(big.Rat).SetInt64(int64(p.WireBits(m.BitDepth))))
	return t.Mul(t, big.NewRat(m.WallRate.Num, m.WallRate.Den))
}

// capacity gives what a port may carry, exactly as the site wrote its rate and usable share: 0.95 is nineteen twentieths here, not the nearest binary number,
// so that a run that fills its port to the bit is not refused for a rounding.
func capacity(p rig.Processor) *big.Rat { return new(big.Rat).Mul(written(p.Port), written(p.Usable)) }

// written gives the shortest decimal that reads back as the number: what a person wrote. What is not a number counts as nothing.
func written[T ~float64](v T) *big.Rat {
	r, ok := new(big.Rat).SetString(strconv.FormatFloat(float64(v), 'g', -1, 64))
	if !ok {
		return new(big.Rat)
	}
	return r
}

func approx(r *big.Rat) units.BitsPerSecond {
	f, _ := r.Float64()
	return units.BitsPerSecond(f)
}

// overfullRuns finds the data runs that would have to carry more than their ports can in a mode.
func overfullRuns(r *rig.Rig, m rig.Mode) []finding.Finding {
	var fs []finding.Finding
	for _, run := range r.DataRuns {
		p := r.Processors[run.Processor]
		px := RunPixels(r, p, run.Panels)
		needed, limit := traffic(p, m, px), capacity(p)
		if needed.Cmp(limit) <= 0 {
			continue
		}
		f := finding.New(finding.DataRunOver, finding.Place{Kind: "data run", Name: run.Name},
			fmt.Sprintf("%d px × %d bits × %v frames a second = %s b/s on port %d of %s, which may carry %s b/s (%v × %v)",
				px, p.WireBits(m.BitDepth), m.WallRate, whole(needed), run.Port, p.Name, whole(limit), p.Port, p.Usable))
		f.Computed, f.Limit = units.InBits(approx(needed)), units.InBits(approx(limit))
		f.Remedies = runRemedies(r, run, m)
		fs = append(fs, f)
	}
	return fs
}

// whole prints an exact rate in whole bits, rounded up as a load is judged. Two rates that differ by less than a bit look alike; the verdict is exact.
func whole(r *big.Rat) string {
	q, rest := new(big.Int).QuoRem(r.Num(), r.Denom(), new(big.Int))
	if rest.Sign() > 0 {
		q.Add(q, big.NewInt(1))
	}
	return q.String()
}

// runRemedies says what would bring a run under its port: fewer panels, another mode, fewer bits. All of it is wiring or editing.
func runRemedies(r *rig.Rig, run rig.DataRun, m rig.Mode) []finding.Remedy {
	var rs []finding.Remedy
	add := func(words string, args ...any) {
		rs = append(rs, finding.Remedy{When: finding.Later, Words: fmt.Sprintf(words, args...)})
	}
	if n := PanelsThatFit(r, run, m); n > 0 {
		add("at most the first %d of its %d panels fit on one port in this mode: move the other %d to another data run", n, len(run.Panels), len(run.Panels)-n)
	}
	p := r.Processors[run.Processor]
	px := RunPixels(r, p, run.Panels)
	fits := func(m rig.Mode) bool { return traffic(p, m, px).Cmp(capacity(p)) <= 0 }
	if best, ok := highest(r.Modes, fits); ok {
		add("mode %s (%v frames a second, %d bits) is the highest that this run can carry as it is wired", best.Name, best.WallRate, best.BitDepth)
	}
	if depth := deepest(r, p, m, fits); depth > 0 {
		add("at %v frames a second it can carry %d bits a channel", m.WallRate, depth)
	}
	return rs
}

// PanelsThatFit gives how many panels of a run, from the processor's end of the chain, its port can carry in a mode.
func PanelsThatFit(r *rig.Rig, run rig.DataRun, m rig.Mode) int {
	p := r.Processors[run.Processor]
	for n := len(run.Panels); n > 0; n-- {
		if traffic(p, m, RunPixels(r, p, run.Panels[:n])).Cmp(capacity(p)) <= 0 {
			return n
		}
	}
	return 0
}

// highest gives the fastest mode that passes, and of equally fast ones the deepest.
func highest(modes []rig.Mode, fits func(rig.Mode) bool) (rig.Mode, bool) {
	best, found := rig.Mode{}, false
	for _, m := range modes {
		if !fits(m) {
			continue
		}
		faster := found && big.NewRat(m.WallRate.Num, m.WallRate.Den).Cmp(big.NewRat(best.WallRate.Num, best.WallRate.Den)) > 0
		same := found && m.WallRate == best.WallRate
		if !found || faster || same && m.BitDepth > best.BitDepth {
			best, found = m, true
		}
	}
	return best, found
}

// deepest gives the greatest bit depth below the mode's that the rig speaks of and that passes at the mode's rate; 0 where none does.
func deepest(r *rig.Rig, p rig.Processor, m rig.Mode, fits func(rig.Mode) bool) int {
	best := 0
	try := func(depth int) {
		at := m
		at.BitDepth = depth
		if depth > best && depth < m.BitDepth && fits(at) {
			best = depth
		}
	}
	for _, w := range p.Wire {
		try(w.Depth)
	}
	for _, other := range r.Modes {
		try(other.BitDepth)
	}
	return best
}
