package site

import (
	"fmt"
	"strconv"
	"strings"

	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// readDevices reads what is driven, and how it is reached.
func (r *reader) readDevices(doc value) {
	f := doc.fields()
	if !f.here() {
		r.unsure["devices"] = true
	}
	r.each(f.need("devices"), r.device)
	f.done()
	r.devices = indexed(r.rig.Devices, func(d rig.Device) string { return d.Name })
}

// classes and protocolWords are the words for how a device tells what it did, and for how it is spoken to.
var (
	classes       = []string{rig.Numbered.String(), rig.Reporting.String(), rig.Silent.String()}
	protocolWords = []string{"osc", "sim"}
)

// device reads one item of the devices: one with its name, or with a prefix one for every processor that a rule of that prefix made.
func (r *reader) device(f *fields) {
	d := rig.Device{
		Class:      rig.Class(f.opt("class").word(classes...) + 1),
		Steps:      f.need("steps").anyCount(),
		Restart:    units.Level(f.need("restart").share()),
		PacketLife: f.need("packet_life").time(),
		Settling:   f.need("settling").time(),
		Retry:      f.need("retry").time(),
		Repeats:    f.opt("repeats").countOr(0, -maxRepeats, maxRepeats),
	}
	w := Wire{Address: f.need("address").address()}
	if i := f.need("protocol").word(protocolWords...); i >= 0 {
		w.Protocol = protocolWords[i]
	}
	w.ReplyPort = f.opt("reply_port").countOr(0, 1, maxPort)
	if !f.has("prefix") {
		d.Name = f.need("name").name()
		r.addDevice(f, d, w)
		return
	}
	r.deviceRule(f, d, w)
}

// maxRepeats bounds how often a silent device is told the same thing.
const maxRepeats = 100

// deviceRule makes a device for every processor that a rule made. Addresses and reply ports count up from those given.
func (r *reader) deviceRule(f *fields, d rig.Device, w Wire) {
	v := f.need("prefix")
	prefix := v.name()
	made := false
	for _, rule := range r.ruled {
		if rule.prefix != prefix {
			continue
		}
		made = true
		for i := range rule.count {
			d.Name = r.rig.Processors[rule.first+i].Name
			next, ok := w.plus(i)
			if !ok {
				f.wrong("ports-run-out", d.Name)
				r.unsure["devices"] = true
				break
			}
			r.addDevice(f, d, next)
		}
	}
	if !made {
		r.unsure["devices"] = true
		if r.unsure["processors"] {
			v.mark()
		} else {
			v.wrong("prefix-unknown", quoted(prefix))
		}
	}
}

func (r *reader) addDevice(f *fields, d rig.Device, w Wire) {
	if by, taken := r.wired[w.Address]; taken && w.Address != "" {
		f.opt("address").wrong("wire-taken", d.Name, w.Address, by)
	}
	r.wired[w.Address] = d.Name
	r.rig.Devices = append(r.rig.Devices, d)
	r.site.Devices = append(r.site.Devices, w)
	r.from("devices", f, nil)
}

// plus gives the wire of the n-th device after this one.
func (w Wire) plus(n int) (Wire, bool) {
	host, port, ok := splitAddress(w.Address)
	if !ok {
		return w, true
	}
	if w.ReplyPort > 0 {
		w.ReplyPort += n
	}
	w.Address = fmt.Sprintf("%s:%d", host, port+n)
	return w, port+n <= maxPort && w.ReplyPort <= maxPort
}

// pairProcessors gives each processor the device of its name.
func (r *reader) pairProcessors() {
	for i := range r.rig.Processors {
		p := &r.rig.Processors[i]
		d, ok := r.devices.at[p.Name]
		if ok {
			p.Device = d
			continue
		}
		o := r.origins["processors"][i]
		_, key, node := o.find("name")
		if r.unsure["devices"] || o.fields.failedAt("name") || node == nil {
			continue
		}
		do := "add it there"
		if near := nearest(p.Name, r.devices.names); near != "" {
			do = "did you mean " + near + "?"
		}
		r.place("no-device", RigFile, node, join(o.fields.path, key), p.Name, do)
	}
}

// maxPort is the highest UDP or TCP port.
const maxPort = 65535

// splitAddress parts "10.0.0.7:9000" or "[fd00::7]:9000" into host and port.
func splitAddress(s string) (host string, port int, ok bool) {
	i := strings.LastIndexByte(s, ':')
	if i < 0 {
		return "", 0, false
	}
	port, err := strconv.Atoi(s[i+1:])
	return s[:i], port, err == nil && port >= 1 && port <= maxPort && goodHost(s[:i])
}

// goodHost reports whether s can be a host name, an IPv4 address or an IPv6 address in brackets. Whether it exists is for whoever calls it.
func goodHost(s string) bool {
	letters := "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789.-"
	if in, v6 := strings.CutPrefix(s, "["); v6 {
		in, v6 = strings.CutSuffix(in, "]")
		return v6 && in != "" && strings.Trim(in, "0123456789abcdefABCDEF:.") == ""
	}
	return s != "" && len(s) <= 253 && strings.Trim(s, letters) == ""
}

// address reads a host and a port.
func (v value) address() string {
	s, ok := v.as(kind{form: addressForm})
	if !ok {
		return ""
	}
	if _, _, ok := splitAddress(s); !ok {
		v.wrong("not-address", quoted(s))
		return ""
	}
	return s
}
