package site

import (
	"bytes"
	"slices"
	"time"

	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// Brief is what a plan is made from: what there is to plan with, and what is wished. It holds no plan.
//
// A brief is one file of strict YAML with name, hold, factor, drop, supply, cables, panel_types and modes as in rig.yaml, and
//
//   - boards: those at hand, in the order in which they are to be used, as in rig.yaml; count: 3 makes three of one kind, with numbers behind the name;
//   - walls: name, columns, rows, panel and gaps as in rig.yaml; start, a corner where chains have to start; columns_each or panels_each, a number or most, for
//     how much a circuit is to feed; home_run_m where its home runs are longer or shorter than others;
//   - circuits: breakers_a, the sizes at hand; poles_each: choose, 1 or 2; home_run_a and jumper_a for what these are rated, or home_run_m and jumper_m for their
//     length: then their cables are chosen from those at hand; curve, residual_ma; highest_v, the most that a panel takes, 264 V if not given;
//   - processors: prefix of their names, count at hand if it matters, data_runs that each has ports for, columns_each for a data run, port, usable, bounding and
//     wire as in rig.yaml, and restart with the other keys of devices.yaml, which may be left out until they are known.
type Brief struct {
	// Rig has what is given: name, supply, the boards at hand in the order in which they are to be used, panel types, walls with their panels, modes, and one
	// processor with its device that stand for all of their kind. There are no circuits, data runs, outputs and zones in it.
	Rig      *rig.Rig
	Wishes   []Wish // one for each wall
	Circuits CircuitsAtHand
	Factor   units.Share // what part of a breaker a continuous load may use
	Runs     int         // data runs that a processor has ports for
	Columns  int         // columns a data run; 0 for as many as a port carries
	AtHand   int         // processors; 0 for as many as it takes
	Wire     Wire        // of the first device; the ports of the others count up
	Given    Carried
}

// Wish is what a brief asks of one wall's circuits.
type Wish struct {
	Start   string       // corner where every circuit's walk may start; empty for any that needs no jump
	Columns int          // whole columns a circuit; Most for as many as it carries; 0 for nothing said
	Panels  int          // panels a circuit; Most or 0 for as many as it carries
	Gaps    string       // as the brief has them, as text of a site file; empty for none
	HomeRun units.Metres // length of its circuits' home runs; 0 for that of the brief's circuits
}

// Most is the wish for as many as a circuit carries.
const Most = -1

// CircuitsAtHand are the sizes that circuits can be made of.
type CircuitsAtHand struct {
	Breakers []units.Amps // ascending, each once
	Poles    int          // 1 or 2; 0 to choose
	Home     Way
	Link     Way
	Highest  units.Volts // the most that a panel's supply takes
	Curve    rig.Curve
	Residual units.Amps // rated residual current of a device for each circuit; 0 for none
}

// Way is what a brief says of home runs or jumpers: what they are rated for, or how long they are. Of the latter the cable is to be chosen from the rig's.
type Way struct {
	Rating units.Amps
	Length units.Metres
}

// Carried are parts of a brief that go into a site as they are, as text of a site file.
type Carried struct {
	Supply, Drop, PanelTypes, Modes string   // each with its key; empty where the brief has none
	Cables                          []string // one for each of the rig's cables: an item of the list
	Boards                          []string // one for each of the rig's boards
	Processor                       string   // the keys that a processor shares with a site's, within braces
}

// BriefName is the longest name of a wall, and BriefPrefix the longest prefix: what is planned is named after them, and has to keep within a site's names.
const (
	BriefName   = 16
	BriefPrefix = 8
)

// highestVolts is what panels take where a brief says nothing: supplies for 100 to 240 V, and 10 % above that. common practice, no source.
const highestVolts units.Volts = 264

// ReadBrief reads a brief in strict YAML; file is its name, for the places of problems. It gives the brief where nothing is wrong with it but for warnings, else
// nil, and all problems in the order of their places. What a brief shares with a site's files is read and judged as there.
func ReadBrief(file string, text []byte) (*Brief, []Problem) {
	r := newReader()
	b := &briefReader{reader: r, brief: &Brief{Rig: r.rig}}
	if len(bytes.TrimSpace(text)) == 0 {
		r.at("brief-empty", file, 0, 0)
		return nil, r.list.sorted()
	}
	doc := r.document(map[string][]byte{file: text}, file)
	if doc.here() {
		whole := b.read(doc.fields())
		for _, list := range []string{"circuits", "data_runs", "outputs", "zones"} {
			r.unsure[list] = true // they are to be planned, so nothing is said of panels without them
		}
		if whole {
			r.rigProblems()
		}
	}
	problems := r.list.sorted()
	if Broken(problems) {
		return nil, problems
	}
	return b.brief, problems
}

// briefReader is the reading of one brief.
type briefReader struct {
	*reader
	brief *Brief
}

// read reads all of a brief. It reports whether the parts are there of which there is one each, without which the rest cannot be judged.
func (b *briefReader) read(f *fields) (whole bool) {
	b.rig.Name = f.need("name").text()
	b.rig.Hold = 10 * time.Second
	if v := f.opt("hold"); v.here() {
		b.rig.Hold = v.time()
	}
	b.from("", f, nil)
	b.factor = f.opt("factor").shareOr(continuous)
	b.brief.Factor = b.factor
	b.drop(f.opt("drop"))
	supply := f.need("supply").fields()
	b.supply(supply)
	b.cableList(f)
	b.each(f.need("boards"), b.boardsAtHand)
	b.feeders()
	b.each(f.need("panel_types"), b.panelType)
	b.each(f.need("modes"), b.mode)
	b.types = indexed(b.rig.PanelTypes, func(t rig.PanelType) string { return t.Name })
	b.each(f.need("walls"), b.wallWished)
	b.circuitsAtHand(f.need("circuits").fields())
	processors := f.need("processors").fields()
	b.processorsAtHand(processors)
	f.done()
	b.some(f, "boards", len(b.rig.Boards))
	b.some(f, "walls", len(b.rig.Walls))
	b.some(f, "modes", len(b.rig.Modes))
	given := &b.brief.Given
	given.Supply, given.Drop = carried(f, "supply"), carried(f, "drop")
	given.PanelTypes, given.Modes = carried(f, "panel_types"), carried(f, "modes")
	for _, c := range f.opt("cables").items() {
		given.Cables = append(given.Cables, item(c.node, ""))
	}
	return supply.here() && processors.here()
}

// some tells of a list without items.
func (b *briefReader) some(f *fields, key string, n int) {
	if v := f.opt(key); n == 0 && v.here() && !f.failedAt(key) {
		v.wrong("brief-none", key)
	}
}

// maxCount bounds how many boards of one kind a brief can have.
const maxCount = 100

// boardsAtHand reads a board, or with a count several of one kind: their names are numbered.
func (b *briefReader) boardsAtHand(f *fields) {
	count := f.opt("count").countOr(1, 1, maxCount)
	first := len(b.rig.Boards)
	b.board(f)
	if count == 1 {
		b.brief.Given.Boards = append(b.brief.Given.Boards, item(f.node, "", "count"))
		return
	}
	base := b.rig.Boards[first]
	b.rig.Boards = b.rig.Boards[:first]
	b.origins["boards"] = b.origins["boards"][:first]
	for i := range count {
		one := base
		one.Name = numbered(base.Name, i)
		b.rig.Boards = append(b.rig.Boards, one)
		b.from("boards", f, nil)
		b.brief.Given.Boards = append(b.brief.Given.Boards, item(f.node, one.Name, "count"))
	}
}

// feeders puts boards behind those that feed them. A board that feeds others stands before them, since boards are used in their order.
func (b *briefReader) feeders() {
	boards := indexed(b.rig.Boards, func(x rig.Board) string { return x.Name })
	for i := range b.rig.Boards {
		by := b.origins["boards"][i].fields.opt("fed_by")
		if !by.here() {
			continue
		}
		from := by.ref("boards", "board", boards)
		if from >= i {
			by.wrong("brief-order", b.rig.Boards[i].Name, b.rig.Boards[from].Name)
			continue
		}
		b.rig.Boards[i].From = from + 1
	}
}

// wallWished reads a wall and how it is to be fed.
func (b *briefReader) wallWished(f *fields) {
	b.wall(f)
	w := Wish{}
	if v := f.opt("start"); v.here() {
		if i := v.word(cornerWords...); i >= 0 {
			w.Start = cornerWords[i]
		}
	}
	w.Columns, w.Panels = f.opt("columns_each").countOrMost(), f.opt("panels_each").countOrMost()
	if f.has("columns_each") && f.has("panels_each") {
		f.opt("panels_each").wrong("brief-both", "columns_each", "panels_each")
	}
	if v := f.opt("gaps"); v.here() {
		w.Gaps = inline(v.node)
	}
	if v := f.opt("home_run_m"); v.here() {
		w.HomeRun = above(v, v.metres())
	}
	if f.has("except") {
		f.opt("except").wrong("brief-mixed")
	}
	if v := f.opt("name"); v.here() && len(v.node.Value) > BriefName {
		v.wrong("brief-name", quoted(v.node.Value), BriefName)
	}
	b.brief.Wishes = append(b.brief.Wishes, w)
}

// countOrMost reads a number of columns or panels, or the word most; 0 where nothing is said.
func (v value) countOrMost() int {
	if !v.here() {
		return 0
	}
	if s, _ := v.scalar(); s == "most" {
		return Most
	}
	return v.count(1, maxPanels)
}

// polesWords are the words for how many poles a circuit is to have, by number.
var polesWords = []string{"choose", "1", "2"}

func (b *briefReader) circuitsAtHand(f *fields) {
	c := &b.brief.Circuits
	c.Poles = max(0, f.opt("poles_each").wordOr(0, polesWords...))
	c.Highest = highestVolts
	if v := f.opt("highest_v"); v.here() {
		c.Highest = above(v, v.volts())
	}
	list := f.need("breakers_a")
	for _, v := range list.some() {
		c.Breakers = append(c.Breakers, above(v, v.amps()))
	}
	if list.here() && len(c.Breakers) == 0 && !f.failedAt("breakers_a") {
		list.wrong("brief-none", "breakers_a")
	}
	slices.Sort(c.Breakers)
	c.Breakers = slices.Compact(c.Breakers)
	c.Home, c.Link = b.way(f, "home_run"), b.way(f, "jumper")
	if v := f.opt("curve"); v.here() {
		c.Curve = v.curve()
	}
	if v := f.opt("residual_ma"); v.here() {
		c.Residual = above(v, v.milliamps())
	}
	f.done()
}

// way reads what is said of home runs or jumpers: their rating, or their length where there are cables to choose from.
func (b *briefReader) way(f *fields, key string) Way {
	rating, length := f.opt(key+"_a"), f.opt(key+"_m")
	if f.here() && f.has(key+"_a") == f.has(key+"_m") {
		f.wrong("one-of", key+"_a or "+key+"_m")
	}
	w := Way{Rating: above(rating, rating.amps()), Length: above(length, length.metres())}
	if length.here() && len(b.rig.Cables) == 0 && !b.unsure["cables"] {
		length.wrong("brief-none", "cables")
	}
	return w
}

// above tells of a figure that is not above zero.
func above[T ~float64](v value, figure T) T {
	if v.here() && !v.r.failed[failure{v.up.node, v.key}] && !(figure > 0) {
		v.wrong("brief-figure", v.name())
	}
	return figure
}

// Bounds of what a processor of a brief has.
const maxRuns = 1000

// processorsAtHand reads the one kind of processor, and how its device behaves. What is said of the device may be left out but for its restart level: the
// wall has to be planned for that, and a guess would be worth nothing.
func (b *briefReader) processorsAtHand(f *fields) {
	prefix := f.need("prefix")
	p := rig.Processor{Name: prefix.name(), Port: f.need("port").link(), Usable: f.need("usable").share(), Bounding: f.opt("bounding").yes()}
	if prefix.here() && len(p.Name) > BriefPrefix {
		prefix.wrong("brief-name", quoted(p.Name), BriefPrefix)
	}
	for _, v := range f.opt("wire").items() {
		w := v.fields()
		p.Wire = append(p.Wire, rig.WireDepth{Depth: w.need("depth").anyCount(), Bits: w.need("bits").anyCount()})
		w.done()
	}
	b.brief.Runs = f.need("data_runs").count(1, maxRuns)
	b.brief.Columns = f.opt("columns_each").countOr(0, 1, maxPanels)
	b.brief.AtHand = f.opt("count").countOr(0, 1, maxProcessors)
	b.rig.Processors = append(b.rig.Processors, p)
	b.from("processors", f, nil)
	b.deviceAtHand(f, p.Name)
	b.brief.Given.Processor = fields2text(f, "port", "usable", "bounding", "wire")
	f.done()
}

// deviceAtHand reads how the processors are driven; what nobody knows before they are bought has usual figures.
func (b *briefReader) deviceAtHand(f *fields, name string) {
	d := rig.Device{
		Name:       name,
		Class:      rig.Class(f.opt("class").wordOr(int(rig.Reporting)-1, classes...) + 1),
		Steps:      f.opt("steps").countOr(255, -1<<31, 1<<31-1),
		Restart:    units.Level(f.need("restart").share()),
		PacketLife: f.opt("packet_life").timeOr(250 * time.Millisecond),
		Settling:   f.opt("settling").timeOr(150 * time.Millisecond),
		Retry:      f.opt("retry").timeOr(500 * time.Millisecond),
		Repeats:    f.opt("repeats").countOr(3, 1, maxRepeats),
	}
	b.brief.Wire = Wire{Protocol: protocolWords[max(0, f.opt("protocol").wordOr(1, protocolWords...))], Address: "127.0.0.1:9301", ReplyPort: 9601}
	if v := f.opt("address"); v.here() {
		b.brief.Wire.Address = v.address()
	}
	b.brief.Wire.ReplyPort = f.opt("reply_port").countOr(9601, 1, maxPort)
	b.rig.Devices = append(b.rig.Devices, d)
	b.from("devices", f, nil)
}

// timeOr gives a time with its unit, or what stands where nothing is said.
func (v value) timeOr(d time.Duration) time.Duration {
	if !v.here() {
		return d
	}
	return v.time()
}

// Plus gives how the n-th device after the first is reached: its ports count up. It fails where they run out.
func (w Wire) Plus(n int) (Wire, bool) { return w.plus(n) }
