package site

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"lookgate/presets"
	"lookgate/presets/picture"
	"lookgate/presets/units"
)

// maxNumber is the highest number of a preset: what fits a button and can be said aloud.
const maxNumber = 9999

// bookReader is the reading of one book.
type bookReader struct {
	*reader
	numbers map[int]string
	names   map[string]int
	in      []levelled // by output
}

// levelled says which preset last levelled an output, counted from 1 in the file's order, and by which zone.
type levelled struct{ preset, zone int }

// readBook reads the presets.
func (r *reader) readBook(doc value) {
	f := doc.fields()
	b := &bookReader{r, map[int]string{}, map[string]int{}, make([]levelled, len(r.rig.Outputs))}
	worklight := f.opt("worklight")
	r.each(f.need("presets"), b.preset)
	if n := worklight.count(1, maxNumber); n > 0 {
		if b.names[b.numbers[n]] != n && !r.unsure["presets"] {
			worklight.wrong("worklight-unknown", n)
		}
		r.site.Book.Worklight = n
	}
	f.done()
	slices.SortStableFunc(r.site.Book.Presets, func(a, b presets.Preset) int { return cmp.Compare(a.Number, b.Number) })
}

func (b *bookReader) preset(f *fields) {
	p := presets.Preset{
		Mode:     f.need("mode").ref("modes", "mode", b.modes),
		FadeUp:   f.opt("fade_up").fade(),
		FadeDown: f.opt("fade_down").fade(),
		NoDip:    f.opt("no_dip").yes(),
		Above:    f.opt("above_continuous").aboveTime(),
	}
	b.identity(f, &p)
	b.zonesOf(f, &p)
	for _, v := range f.opt("windows").items() {
		w := v.fields()
		p.Windows = append(p.Windows, b.window(w))
		w.done()
	}
	b.site.Book.Presets = append(b.site.Book.Presets, p)
}

// longestAbove is below the 3 h from which a load is continuous (NEC Article 100); shortestAbove is what leaves time to be told of it, and to be brought down.
const shortestAbove, longestAbove = time.Minute, 179 * time.Minute

// aboveTime reads how long a preset may take circuits above their continuous limits.
func (v value) aboveTime() time.Duration {
	s, ok := v.as(kind{form: timeForm})
	if !ok {
		return 0
	}
	f, u, ok := splitNumber(s)
	unit, known := timeUnits[u]
	if !ok || !known {
		v.wrong("not-time", quoted(s))
		return 0
	}
	if d := f * float64(unit); d >= float64(shortestAbove) && d <= float64(longestAbove) {
		return time.Duration(math.Round(d))
	}
	v.wrong("above-time-range", quoted(s))
	return 0
}

// identity reads a preset's number and name, which stations recall it by.
func (b *bookReader) identity(f *fields, p *presets.Preset) {
	number, name := f.need("number"), f.need("name")
	p.Number, p.Name = number.count(1, maxNumber), name.text()
	if by, taken := b.numbers[p.Number]; taken && p.Number > 0 {
		number.wrong("preset-number-twice", p.Number, by)
	}
	if by, taken := b.names[p.Name]; taken && p.Name != "" {
		name.wrong("preset-name-twice", quoted(p.Name), by)
	}
	if _, err := strconv.ParseFloat(p.Name, 64); err == nil {
		name.wrong("preset-name-number", quoted(p.Name))
	}
	if p.Number > 0 {
		b.numbers[p.Number] = p.Name
		b.names[p.Name] = p.Number
	} else {
		b.unsure["presets"] = true
	}
}

// zonesOf reads the levels of a preset's zones, in the order of the file.
func (b *bookReader) zonesOf(f *fields, p *presets.Preset) {
	zones := f.need("zones").fields()
	this := len(b.site.Book.Presets) + 1
	for _, k := range zones.free() {
		v := zones.opt(k)
		z, known := b.zones.at[k]
		if !known {
			if !b.unsure["zones"] {
				b.place("unknown-name", v.file, zones.pairs[k][0], v.path, "zone", quoted(k), b.suggest(k, b.zones.names))
			}
			continue
		}
		for _, o := range b.rig.Zones[z].Outputs {
			if last := b.in[o]; last.preset == this && last.zone != z && !b.unsure["zones.outputs"] {
				v.wrong("zones-overlap", k, b.rig.Zones[last.zone].Name, b.rig.Outputs[o].Name)
				break
			}
			b.in[o] = levelled{this, z}
		}
		if v.here() {
			l := v.zoneLevel()
			l.Zone = z
			p.Zones = append(p.Zones, l)
		}
	}
}

// zoneLevel reads "60%", "auto", "up to 80%" or a mapping of level and cap, or of auto, and of the picture's mean.
func (v value) zoneLevel() presets.ZoneLevel {
	if !v.isMapping() {
		return v.plainLevel()
	}
	f := v.fields()
	defer f.done()
	l := f.levelAndCap()
	l.Content = f.opt("content").content()
	return l
}

// levelAndCap reads level and cap, or auto.
func (f *fields) levelAndCap() presets.ZoneLevel {
	if f.has("auto") {
		l := f.opt("auto").autoLevel()
		return presets.ZoneLevel{Level: l, Auto: true, Cap: l}
	}
	l := presets.ZoneLevel{Level: f.need("level").level()}
	l.Cap = l.Level
	if c := f.opt("cap"); c.here() {
		l.Cap = c.level()
		if l.Cap < l.Level && !f.failedAt("cap") {
			c.wrong("cap-below-level", l.Cap, l.Level)
		}
	}
	return l
}

// content reads the mean of a picture, of all primaries or of each; nil where nothing is said. It counts only on a site that somebody decided it may count on.
func (v value) content() *presets.Content {
	if !v.here() {
		return nil
	}
	if r := v.r; r.rig.Credit == nil && !r.unsure["rig"] && !r.origins[""][0].fields.failedAt("content_credit") {
		v.wrong("content-no-credit")
		return nil
	}
	if !v.isMapping() {
		m := v.mean()
		return &presets.Content{Red: m, Green: m, Blue: m}
	}
	f := v.fields()
	defer f.done()
	return &presets.Content{Red: f.need("red").mean(), Green: f.need("green").mean(), Blue: f.need("blue").mean()}
}

// mean reads a share from nothing to full white.
func (v value) mean() units.Share {
	s, ok := v.fraction()
	if ok && !(s >= 0 && s <= 1) {
		v.wrong("content-range", quoted(v.node.Value))
		return 0
	}
	return units.Share(s)
}

// plainLevel reads a level, or the word auto with or without an upper end.
func (v value) plainLevel() presets.ZoneLevel {
	if s, _ := v.as(kind{form: autoForm}); strings.HasPrefix(s, "auto") {
		l := v.cut("auto").autoLevel()
		return presets.ZoneLevel{Level: l, Auto: true, Cap: l}
	}
	l := v.level()
	return presets.ZoneLevel{Level: l, Cap: l}
}

// autoLevel reads the most that is wanted of an automatic level: "up to 80%", "80%", or nothing for all.
func (v value) autoLevel() units.Level {
	v = v.cut("up to")
	if s, ok := v.as(kind{form: autoForm}); ok && s == "" {
		return 1
	}
	return v.level()
}

// cut gives the value without a word in front.
func (v value) cut(word string) value {
	if s, ok := v.raw(); ok {
		n := *v.node
		n.Value = strings.TrimSpace(strings.TrimPrefix(s, word))
		v.node = &n
	}
	return v
}

// window reads the rectangle that a source fills: the whole raster, or a place and a size.
func (b *bookReader) window(f *fields) picture.Window {
	w := picture.Window{
		Source: f.need("source").ref("sources", "source", b.sources),
		Wall:   f.need("wall").ref("walls", "wall", b.walls),
	}
	fill := f.opt("fill").yes()
	if fill == (f.has("at") || f.has("size")) {
		f.opt("at")
		f.opt("size")
		f.wrong("window-place")
		return w
	}
	if fill {
		f.opt("at")
		f.opt("size")
		if w.Wall >= 0 {
			w.Width, w.Height = b.rig.Walls[w.Wall].PixelsX, b.rig.Walls[w.Wall].PixelsY
		}
		return w
	}
	w.X, w.Y = f.need("at").pixels(-maxPixels)
	w.Width, w.Height = f.need("size").pixels(1)
	return w
}
