package trial

import (
	"encoding/json"
	"time"

	"lookgate/presets/engine"
)

// Mistakes are planted in what stands around the engine, so that a trial can show that it finds them. The real surroundings have none.
type Mistakes struct {
	TrustsBuffer bool // a commit is reported when it is handed over and not when it is flushed
	HalfLook     bool // a commit is written output by output, so that a crash leaves half of one
	OldWritesOn  bool // a daemon that died was only paused: what its workers held is written while the next one runs
}

// pausedFor is how long a daemon that was only paused sleeps at most.
const pausedFor = 3 * time.Second

// writeOn lets a paused daemon's worker write what it held, some time later.
func (r *run) writeOn(device int) {
	if !r.faults.Mistakes.OldWritesOn {
		return
	}
	for _, a := range r.workers[device].slots {
		at := r.now + upTo(r.rng, pausedFor)
		r.plant.Send(r.now, at, packetOf(a))
	}
}

// half gives the state that a disk holds which was written output by output, and only up to the middle.
func half(old *engine.Kept, bytes []byte) []byte {
	next := new(engine.Kept)
	if err := json.Unmarshal(bytes, next); err != nil {
		panic("the trial's own bytes do not read: " + err.Error())
	}
	for o := len(next.Outputs) / 2; o < len(next.Outputs) && o < len(old.Outputs); o++ {
		next.Envelope[o], next.Wanted.Levels[o], next.Wanted.Caps[o], next.Wanted.Black[o] = old.Envelope[o], old.Wanted.Levels[o], old.Wanted.Caps[o], old.Wanted.Black[o]
	}
	out, err := json.Marshal(next)
	if err != nil {
		panic("the trial's own state does not write: " + err.Error())
	}
	return out
}
