package trial

import (
	"fmt"
	"math/rand/v2"
	"time"

	"lookgate/presets"
	"lookgate/presets/plant"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// Stage draws a small plant and a book of looks for it. Every look comes near a limit with other outputs than the next one, so that whoever raises one before the
// other is down overruns. The plant is one that the rig's own checks find nothing wrong with.
func Stage(seed uint64) (*rig.Rig, *presets.Book) { return draw(seed, 4, 4) }

// StageAbove draws a stage as [Stage] does, whose circuits may be above their continuous limits for a while, with looks that use it. Of what Stage draws, one in four is such.
// No look counts on its picture here: this is about time alone, and stages of Stage mix the two.
func StageAbove(seed uint64) (*rig.Rig, *presets.Book) { return draw(seed, 1, 0) }

// StageCredit draws a stage as [Stage] does, in which most looks count on their pictures. Of what Stage draws, one in four is such.
func StageCredit(seed uint64) (*rig.Rig, *presets.Book) { return draw(seed, 4, 1) }

// draw draws a stage; one in so many has circuits that may be above their continuous limits for a while, and one in so many has looks on credit, none where that is 0.
func draw(seed uint64, above, credit int) (*rig.Rig, *presets.Book) {
	s := stage{rng: rand.New(rand.NewPCG(seed, 3)), rig: &rig.Rig{Name: fmt.Sprintf("trial %d", seed)}}
	s.supply()
	s.panels()
	s.circuits()
	s.devices()
	s.outputs()
	s.loads()
	s.cables(seed)
	s.limits()
	s.tightNeutrals()
	b := s.book()
	s.above(seed, above, b)
	if credit > 0 {
		s.content(seed, credit, b)
	}
	return s.rig, b
}

// stage is a plant being drawn.
type stage struct {
	rng *rand.Rand
	rig *rig.Rig
}

// between draws a whole number, both ends included.
func (s *stage) between(low, high int) int { return low + s.rng.IntN(high-low+1) }

// share draws a number from low to high.
func (s *stage) share(low, high float64) float64 { return low + s.rng.Float64()*(high-low) }

// supply draws how the plant is wound; mostly three-phase, since that is where neutrals surprise.
func (s *stage) supply() {
	sup := rig.Supply{Name: "service", System: rig.Wye, LineNeutral: 120, LineLine: 208, Main: 4000, Neutral: 4000, Factor: 1}
	switch s.rng.IntN(8) {
	case 0:
		sup.System, sup.LineNeutral, sup.LineLine = rig.SinglePhase, 230, 0
	case 1:
		sup.System, sup.LineLine = rig.SplitPhase, 240
	case 2, 3:
		sup.LineNeutral, sup.LineLine = 230, 400
	}
	s.rig.Supply = sup
	for i := range s.between(1, 2) {
		s.rig.Boards = append(s.rig.Boards, rig.Board{
			Name: fmt.Sprintf("B%d", i+1), Numbering: rig.Numbering(s.rng.IntN(2)), Poles: 42, Main: 4000, Neutral: 4000, Factor: 1,
		})
	}
}

// panels draws panel types and one wall.
func (s *stage) panels() {
	for i := range s.between(1, 2) {
		t := rig.PanelType{
			Name: fmt.Sprintf("t%d", i+1), Width: 500, Height: 500, PixelsX: 168, PixelsY: 168, Peak: 1500, Black: units.Watts(s.between(10, 30)),
			White: units.Watts(s.between(120, 220)), PF: units.Share(s.share(0.9, 0.99)), Third: units.Share(s.share(0, 0.3)), FeedThrough: 63,
		}
		t.DisplacementKnown = s.rng.IntN(2) == 0
		s.rig.PanelTypes = append(s.rig.PanelTypes, t)
	}
	columns := s.between(6, 12)
	s.rig.Walls = []rig.Wall{{Name: "bay", Columns: columns, Rows: 3, PixelsX: 168 * columns, PixelsY: 168 * 3}}
	for i := range columns * 3 {
		s.rig.Panels = append(s.rig.Panels, rig.Panel{Column: i/3 + 1, Row: i%3 + 1, Type: i % len(s.rig.PanelTypes)})
	}
}

// circuits hangs the panels, in order, on circuits of one pole or two.
func (s *stage) circuits() {
	next := make([]int, len(s.rig.Boards)) // the next row of each board
	for first := 0; first < len(s.rig.Panels); {
		n := min(s.between(3, 6), len(s.rig.Panels)-first)
		c := rig.Circuit{
			Name: fmt.Sprintf("C%d", len(s.rig.Circuits)+1), Board: s.rng.IntN(len(s.rig.Boards)), Breaker: 40, Factor: 0.8, HomeRun: 63, Jumper: 63,
			Panels: numbers(first, n),
		}
		c.Poles = s.poles(c.Board, &next[c.Board])
		s.rig.Circuits = append(s.rig.Circuits, c)
		first += n
	}
}

// poles takes the next poles of a board: one, or two that stand next to each other on different legs.
func (s *stage) poles(board int, row *int) []int {
	at := func(row int) int {
		if s.rig.Boards[board].Numbering == rig.OddEven {
			return 2*row + 1
		}
		return row + 1
	}
	poles := []int{at(*row)}
	*row++
	if s.rig.Supply.System != rig.SinglePhase && s.rng.IntN(2) == 0 {
		poles = append(poles, at(*row))
		*row++
	}
	return poles
}

func numbers(first, n int) []int {
	list := make([]int, n)
	for i := range list {
		list[i] = first + i
	}
	return list
}

// devices draws what is driven. The same book of times fits all: a packet's life is far longer than a usual delay.
func (s *stage) devices() {
	for i := range s.between(1, 3) {
		steps := [...]int{100, 255, 1000, 65535}[s.rng.IntN(4)]
		d := rig.Device{
			Name: fmt.Sprintf("p%d", i+1), Class: rig.Numbered + rig.Class(s.rng.IntN(3)), Steps: steps,
			PacketLife: time.Duration(s.between(20, 150)) * time.Millisecond, Settling: time.Duration(s.between(5, 60)) * time.Millisecond, Repeats: 3,
		}
		d.Restart = units.Level([...]float64{0, 0, 0, 0.03}[s.rng.IntN(4)]).Down(steps)
		d.Retry = d.PacketLife + d.Settling + time.Duration(s.between(20, 100))*time.Millisecond
		s.rig.Devices = append(s.rig.Devices, d)
		s.rig.Processors = append(s.rig.Processors, rig.Processor{Name: d.Name, Device: i, Port: 1e9, Usable: 0.95})
	}
	s.rig.Modes = []rig.Mode{{Name: "film", WallRate: units.Rate{Num: 24, Den: 1}, BitDepth: 8}, {Name: "video", WallRate: units.Rate{Num: 50, Den: 1}, BitDepth: 8}}
	s.rig.Hold = time.Duration(s.between(2, 5)) * time.Second
	for _, d := range s.rig.Devices {
		if d.Class == rig.Silent { // three things one after the other, each told again and waited out: darker, picture, brighter
			s.rig.Hold = max(s.rig.Hold, 4*(time.Duration(d.Repeats)*d.Retry+d.PacketLife+d.Settling))
		}
	}
}

// outputs cuts the wall into outputs across the circuits, each with a data run and a zone of its own.
func (s *stage) outputs() {
	n := s.between(max(3, len(s.rig.Devices)), 6)
	for i := range n {
		first, end := i*len(s.rig.Panels)/n, (i+1)*len(s.rig.Panels)/n
		o := rig.Output{Name: fmt.Sprintf("o%d", i+1), Device: i % len(s.rig.Devices), Address: fmt.Sprint(i), Panels: numbers(first, end-first)}
		s.rig.Outputs = append(s.rig.Outputs, o)
		s.rig.DataRuns = append(s.rig.DataRuns, rig.DataRun{Name: fmt.Sprintf("r%d", i+1), Processor: o.Device, Port: i + 1, Panels: o.Panels})
		s.rig.Zones = append(s.rig.Zones, rig.Zone{Name: fmt.Sprintf("z%d", i+1), Outputs: []int{i}})
	}
	s.rig.Zones = append(s.rig.Zones, rig.Zone{Name: "all", Outputs: numbers(0, n)}, rig.Zone{Name: "half", Outputs: numbers(0, n/2)})
}

// loads draws what else hangs on the boards.
func (s *stage) loads() {
	for i := range s.rng.IntN(3) {
		legs := s.rig.Supply.System.Legs()
		l := rig.OtherLoad{
			Name: fmt.Sprintf("l%d", i+1), Board: s.rng.IntN(len(s.rig.Boards)), Legs: []int{s.rng.IntN(legs)}, Current: units.Amps(s.between(1, 8)),
			DisplacementKnown: s.rng.IntN(2) == 0, PF: units.Share(s.share(0.8, 0.99)), Third: units.Share(s.share(0, 0.2)),
		}
		switch s.rng.IntN(3) {
		case 0:
			l.Legs = numbers(0, min(legs, 2))
		case 1:
			l.Legs = numbers(0, legs)
		}
		s.rig.Loads = append(s.rig.Loads, l)
	}
}

// limits sets mains and breakers so that the whole wall at its peak would overrun most of them, and the wall after a restart none.
func (s *stage) limits() {
	full := s.would(func(int) units.Level { return 1 })
	part := units.Amps(s.share(0.5, 0.6))
	for i, c := range s.rig.Conductors() {
		switch c.Kind {
		case rig.CircuitWire:
			s.rig.Circuits[c.Circuit].Breaker = max(2, full[i]*units.Amps(s.share(0.6, 1.1))/0.8)
		case rig.BoardLeg:
			if b := &s.rig.Boards[c.Board]; c.Leg == 0 || full[i]*part > b.Main {
				b.Main, b.Neutral = max(2, full[i]*part), max(2, full[i]*part)
			}
		case rig.SupplyLeg:
			if sup := &s.rig.Supply; c.Leg == 0 || full[i]*part*0.95 > sup.Main {
				sup.Main, sup.Neutral = max(2, full[i]*part*0.95), max(2, full[i]*part*0.95)
			}
		}
	}
}

// tightNeutrals gives some boards a neutral that carries the balanced wall and little more, since a neutral is worst when a leg goes dark.
func (s *stage) tightNeutrals() {
	if s.rig.Supply.System != rig.Wye || s.rng.IntN(5) > 0 {
		return
	}
	full := s.would(func(int) units.Level { return 1 })
	for i, c := range s.rig.Conductors() {
		if c.Kind == rig.BoardNeutral {
			s.rig.Boards[c.Board].Neutral = max(2, full[i]*units.Amps(s.share(0.7, 1.1)))
		}
	}
}

// would gives the currents with the outputs at these levels, by the plant's arithmetic and one draw of what is not known.
func (s *stage) would(level func(output int) units.Level) []units.Amps {
	levels := make([]units.Level, len(s.rig.Outputs))
	for o := range levels {
		levels[o] = level(o)
	}
	return plant.New(s.rig, plant.Habits{}, rand.New(rand.NewPCG(1, 4))).Would(nil, levels)
}

// book draws the looks.
func (s *stage) book() *presets.Book {
	b := &presets.Book{Worklight: 1}
	b.Presets = append(b.Presets, s.preset(1, func(int) float64 { return 0.2 }, 1))
	n := len(s.rig.Outputs)
	for i := range min(n, s.between(3, 5)) {
		b.Presets = append(b.Presets, s.preset(10*(i+1), func(o int) float64 {
			if (o-i+n)%n < (n+1)/2 { // half the wall, and no two looks the same half
				return 1
			}
			return s.share(0, 0.2)
		}, s.share(0.85, 0.95)))
	}
	return b
}

// preset draws one look: these ratios, as bright as the limits let them, or somewhat less.
func (s *stage) preset(number int, ratio func(output int) float64, of float64) presets.Preset {
	p := presets.Preset{Number: number, Name: fmt.Sprintf("look %d", number), Mode: s.rng.IntN(2)}
	ratios := make([]float64, len(s.rig.Outputs))
	for o := range ratios {
		ratios[o] = ratio(o)
	}
	scale := s.highest(ratios) * of
	for o, x := range ratios {
		l := units.Level(min(1, x*scale))
		p.Zones = append(p.Zones, presets.ZoneLevel{Zone: o, Level: l, Cap: l})
	}
	if s.rng.IntN(2) == 0 {
		p.FadeUp = time.Duration(s.rng.IntN(1500)) * time.Millisecond
	}
	if s.rng.IntN(2) == 0 {
		p.FadeDown = time.Duration(s.rng.IntN(1500)) * time.Millisecond
	}
	p.NoDip = s.rng.IntN(16) == 0
	return p
}

// highest gives the highest scale, up to 1, at which the ratios stay within the limits.
func (s *stage) highest(ratios []float64) float64 {
	low, high := 0.0, 1.0
	for range 12 {
		mid := (low + high) / 2
		if s.fits(ratios, mid) {
			low = mid
		} else {
			high = mid
		}
	}
	return low
}

func (s *stage) fits(ratios []float64, scale float64) bool {
	amps := s.would(func(o int) units.Level { return units.Level(ratios[o] * scale) })
	for i, c := range s.rig.Conductors() {
		if amps[i] > ratingOf(s.rig, c) {
			return false
		}
	}
	return true
}
