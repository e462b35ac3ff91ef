package sim

import (
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"time"

	"lookgate/presets/plant"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// Line is one line of a plant's log: what came, what happened, and the true state after it.
type Line struct {
	At       time.Duration `json:"at"`                // since the plant began
	Device   string        `json:"device,omitempty"`  // that a datagram came to
	Bytes    string        `json:"bytes,omitempty"`   // of the datagram, in hexadecimal
	Refused  string        `json:"refused,omitempty"` // why the device made nothing of it
	Happened []string      `json:"happened,omitempty"`
	Sets     int           `json:"sets,omitempty"` // of what happened: values that a device took over
	Levels   []units.Level `json:"levels"`         // true light level of every output of the rig, blackout counted
	Amps     []units.Amps  `json:"amps"`           // true current of every conductor of the rig
	Fullest  string        `json:"fullest"`        // the conductor nearest to its limit
	Share    units.Share   `json:"share"`          // of its limit
	Over     []string      `json:"over,omitempty"` // conductors above their limits
}

// log writes lines. Every line is handed to the operating system before anything else happens, so that the log of a process that is killed is whole to there.
type log struct {
	rig    *rig.Rig
	state  *plant.Plant
	limits []rig.Conductor
	out    *json.Encoder
	amps   []units.Amps
	begun  bool // the first line is written
}

func newLog(r *rig.Rig, p *plant.Plant, w io.Writer) *log {
	l := &log{rig: r, state: p, limits: r.Conductors()}
	if w != nil {
		l.out = json.NewEncoder(w)
	}
	return l
}

// write tells what has happened since it was last called. Where nothing did it writes no line, but for the first, which tells what the plant begins with.
func (l *log) write(now time.Duration, d *datagram, refused error) error {
	entries := l.state.TakeLog()
	if l.out == nil || l.begun && d == nil && len(entries) == 0 {
		return nil
	}
	l.begun = true
	line := Line{At: now}
	if d != nil {
		line.Device, line.Bytes = l.rig.Devices[d.device].Name, hex.EncodeToString(d.bytes)
	}
	if refused != nil {
		line.Refused = refused.Error()
	}
	for _, e := range entries {
		line.Happened = append(line.Happened, e.String())
		if e.What == plant.Applied && e.Packet.Kind != plant.Ask {
			line.Sets++
		}
	}
	for o := range l.rig.Outputs {
		line.Levels = append(line.Levels, l.state.State(o))
	}
	l.judge(&line)
	if err := l.out.Encode(line); err != nil {
		return fmt.Errorf("the plant's log cannot be written: %w\nfree the disk", err)
	}
	return nil
}

// tolerance is what floating-point sums may be off by.
const tolerance = 1e-9

// judge holds the true currents to the limits.
func (l *log) judge(line *Line) {
	l.amps = l.state.True(l.amps)
	line.Amps = append([]units.Amps(nil), l.amps...)
	for i, c := range l.limits {
		share := units.Share(l.amps[i] / c.Limit)
		if share > line.Share {
			line.Share, line.Fullest = share, c.Kind.String()+" "+c.Name
		}
		if share > 1+tolerance {
			line.Over = append(line.Over, c.Kind.String()+" "+c.Name)
		}
	}
}
