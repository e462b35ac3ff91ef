package site

import "lookgate/presets/rig"

// readStations reads who may command, and where they come in.
func (r *reader) readStations(doc value) {
	f := doc.fields()
	if v := f.need("listen"); v.here() {
		r.listen(v.fields())
	}
	names, froms := map[string]bool{}, map[string]string{}
	r.each(f.need("stations"), func(f *fields) {
		v, from := f.need("name"), f.opt("from")
		s := Station{Name: v.name(), Engineer: f.opt("engineer").yes(), ReplyPort: f.opt("reply_port").countOr(0, 1, maxPort)}
		switch {
		case !v.here():
		case !rig.ValidName(s.Name):
			v.wrong("station-name", quoted(s.Name))
		case names[s.Name]:
			v.wrong("station-twice", quoted(s.Name))
		}
		names[s.Name] = true
		s.From = from.host()
		if by, taken := froms[s.From]; taken && s.From != "" {
			from.wrong("from-taken", s.From, by)
		}
		froms[s.From] = s.Name
		r.site.Stations = append(r.site.Stations, s)
	})
	f.done()
}

func (r *reader) listen(f *fields) {
	l := &r.site.Listen
	if v := f.opt("osc"); v.here() {
		l.OSC = v.address()
	}
	if !f.has("osc") && !f.has("http") && f.here() {
		f.wrong("listen-nothing")
	}
	if v := f.opt("http"); v.here() {
		l.HTTP = v.address()
	}
	for _, v := range f.opt("hosts").some() {
		l.Hosts = append(l.Hosts, v.host())
	}
	f.done()
}

// host reads a host name or address without a port.
func (v value) host() string {
	s, ok := v.as(kind{form: hostForm})
	if !ok {
		return ""
	}
	if !goodHost(s) {
		v.wrong("not-host", quoted(s))
		return ""
	}
	return s
}
