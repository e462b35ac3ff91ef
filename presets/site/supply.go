package site

import (
	"slices"

	"lookgate/presets/rig"
)

// systems are the words for a supply's system, and origins for what stands behind it, in the order of the rig's.
var (
	systems = []string{rig.SinglePhase.String(), rig.SplitPhase.String(), rig.Wye.String(), rig.Delta.String()}
	origins = []string{rig.Service.String(), rig.Transformer.String(), rig.Generator.String()}
)

func (r *reader) supply(f *fields) {
	r.from("supply", f, nil)
	if !f.here() {
		r.unsure["supply"] = true
	}
	s := &r.rig.Supply
	s.Name = f.need("name").name()
	s.System = rig.System(f.opt("system").word(systems...) + 1)
	neutral := f.need
	if s.System == rig.Delta { // which has none: what is given all the same is the rig's to refuse
		neutral = f.opt
	}
	s.LineNeutral = neutral("line_neutral_v").volts()
	s.LineLine = f.opt("line_line_v").volts()
	s.Main = f.need("main_a").amps()
	s.Neutral = neutral("neutral_a").amps()
	s.Factor = f.opt("factor").shareOr(r.factor)
	if o := f.opt("from").wordOr(0, origins...); o >= 0 {
		s.Origin = rig.Origin(o)
	}
	r.capacity(f, &s.Capacity)
	f.done()
}

// capacity reads what a transformer or generator can give. Of its rating a continuous load may use the rig's general part where nothing else is said.
func (r *reader) capacity(f *fields, c *rig.Capacity) {
	power, factor, active, step, settle := f.opt("kva"), f.opt("capacity_factor"), f.opt("kw"), f.opt("step_kw"), f.opt("settle")
	c.Power, c.Real, c.Step = known(power, power.voltAmps()), known(active, active.kilowatts()), known(step, step.kilowatts())
	c.Settle = known(settle, settle.time())
	c.Factor = known(factor, factor.share())
	if c.Power != 0 && !factor.here() {
		c.Factor = r.factor
	}
}

// numberings are the words for how a board counts its poles.
var numberings = []string{rig.OddEven.String(), rig.ByWays.String()}

// cableList reads the kinds of cable, which a rig need not have.
func (r *reader) cableList(f *fields) {
	v := f.opt("cables")
	if f.has("cables") {
		r.each(v, r.cable)
	}
	r.cables = indexed(r.rig.Cables, func(c rig.Cable) string { return c.Name })
}

// boardList reads the boards and puts each behind the one that feeds it, in whatever order the file has them.
func (r *reader) boardList(v value) {
	r.each(v, r.board)
	r.boards = indexed(r.rig.Boards, func(b rig.Board) string { return b.Name })
	for i := range r.rig.Boards {
		o := &r.origins["boards"][i]
		if by := o.fields.opt("fed_by"); by.here() {
			r.rig.Boards[i].From = by.ref("boards", "board", r.boards) + 1
		}
	}
	r.sortBoards()
	r.boards = indexed(r.rig.Boards, func(b rig.Board) string { return b.Name })
}

// sortBoards moves a board behind the one that feeds it, and leaves the file's order otherwise. Boards that feed each other in a ring are the rig's to tell of.
func (r *reader) sortBoards() {
	boards := r.rig.Boards
	order, placed := make([]int, 0, len(boards)), make([]bool, len(boards))
	var place func(i int)
	place = func(i int) {
		if placed[i] {
			return
		}
		placed[i] = true
		if from := boards[i].From - 1; from >= 0 {
			place(from)
		}
		order = append(order, i)
	}
	for i := range boards {
		place(i)
	}
	r.reorder(order)
}

// reorder puts the boards, and where they come from, into an order of their present indexes.
func (r *reader) reorder(order []int) {
	boards, from := slices.Clone(r.rig.Boards), slices.Clone(r.origins["boards"])
	now := make([]int, len(order)+1) // by present place from 1, the new one
	for to, i := range order {
		now[i+1] = to + 1
	}
	for to, i := range order {
		r.rig.Boards[to], r.origins["boards"][to] = boards[i], from[i]
		r.rig.Boards[to].From = now[boards[i].From]
	}
}

func (r *reader) board(f *fields) {
	r.from("boards", f, nil)
	f.opt("fed_by") // read once all boards are known by name
	b := rig.Board{
		Name:      f.need("name").name(),
		Poles:     f.need("poles").anyCount(),
		Main:      f.need("main_a").amps(),
		Factor:    f.opt("factor").shareOr(r.factor),
		Feeder:    r.run(f.opt("feeder"), true),
		Exception: decision(f.opt("larger_main")),
	}
	if neutral := f.opt("neutral_a"); neutral.here() {
		b.Neutral = neutral.amps()
	} else if r.rig.Supply.System != rig.Delta {
		f.need("neutral_a")
	}
	if n := f.need("numbering").word(numberings...); n >= 0 {
		b.Numbering = rig.Numbering(n)
	}
	carries, residual := f.opt("feeder_a"), f.opt("residual_ma")
	b.Carries, b.Residual = known(carries, carries.amps()), known(residual, residual.milliamps())
	if !f.has("feeder_a") {
		b.Carries = r.carried(b.Feeder)
	}
	r.rig.Boards = append(r.rig.Boards, b)
}
