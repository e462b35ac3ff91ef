package daemon

import (
	"encoding/json"
	"fmt"
	"slices"

	"lookgate/daemon/record"
	"lookgate/presets/engine"
	"lookgate/presets/units"
)

// rowOf gives what the record keeps of an engine's state: the envelopes as rows, all else as one value, with the stamp of its incarnation.
func rowOf(k *engine.Kept, s stamp) (record.Kept, error) {
	rest := *k
	rest.Envelope = nil
	wanted, err := json.Marshal(keptLine{&rest, s})
	if err != nil {
		return record.Kept{}, fmt.Errorf("what a restart needs cannot be written: %w", err)
	}
	row := record.Kept{Epoch: k.Epoch, Command: k.Command, Wanted: wanted}
	for i, name := range k.Outputs {
		row.Outputs = append(row.Outputs, record.OutputRow{Name: name, Envelope: float64(k.Envelope[i])})
	}
	return row, nil
}

// dropEnded takes the commands off the open ones whose outcomes are in the record: the row came to disk and the state after it did not.
func dropEnded(k *engine.Kept, store Store) error {
	if k == nil || len(k.Open) == 0 {
		return nil
	}
	rows, err := store.Tail(tailLines)
	if err != nil {
		return err
	}
	k.Open = slices.DeleteFunc(k.Open, func(o engine.Open) bool {
		return slices.ContainsFunc(rows, func(r record.RecordRow) bool { return r.Kind == record.Outcome && r.ID == o.ID })
	})
	return nil
}

// keptOf is the way back; nil for a site on which nothing was ever kept. An output without a row counts at its highest. How long ago it was kept is told by the machine's
// uptime now.
func keptOf(row record.Kept, now Uptime) (*engine.Kept, error) {
	if row.Wanted == nil {
		return nil, nil
	}
	k := new(engine.Kept)
	l := keptLine{Kept: k}
	if err := json.Unmarshal(row.Wanted, &l); err != nil {
		return nil, fmt.Errorf("what the record keeps for a restart does not read: %w\nkeep a copy of the state folder for inquiry, then move record.db away to begin an empty record", err)
	}
	n, c := len(k.Outputs), len(k.Names)
	if w := &k.Wanted; len(w.Levels) != n || len(w.Black) != n || len(w.Caps) != n || len(k.Circuits) != c {
		return nil, fmt.Errorf("what the record keeps for a restart does not fit together\nkeep a copy of the state folder for inquiry, then move record.db away to begin an empty record")
	}
	k.Gone = l.Stamp.gone(k.At, now)
	envelope := map[string]units.Level{}
	for _, o := range row.Outputs {
		envelope[o.Name] = units.Level(o.Envelope)
	}
	k.Envelope = make([]units.Level, n)
	for i, name := range k.Outputs {
		level, known := envelope[name]
		if !known {
			level = 1
		}
		k.Envelope[i] = level
	}
	return k, nil
}
