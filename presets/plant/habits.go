package plant

import (
	"math/rand/v2"
	"time"

	"lookgate/presets/units"
)

// Wire is how the network between daemon and devices behaves, both ways. The zero value carries everything at once and loses nothing.
type Wire struct {
	Loss      units.Share   // of packets that never arrive
	Duplicate units.Share   // of packets that arrive twice, each copy in its own time
	Delay     time.Duration // a packet takes up to this, but never longer than the device's packet life
	Late      units.Share   // of packets that take any time up to the whole packet life instead
}

// Habits are what the plant does by itself. The zero value does nothing by itself and carries everything at once.
type Habits struct {
	Wire         Wire
	Echo         units.Share   // of sets after which a reporting device tells its values unasked
	BootReport   units.Share   // of restarts after which a device that can tell does so unasked
	RestartEvery time.Duration // mean time between two restarts of one device; 0 for never
	BootTime     time.Duration // a restarting device hears nothing for up to this
	DarkBoot     units.Share   // of restarts during which the panels stay dark; during the others they are at the restart level
	TripEvery    time.Duration // mean time between two trips anywhere in the plant; 0 for never
	TripFor      time.Duration // a tripped breaker is closed again after up to this
	Forgets      bool          // a numbered device forgets its number when it restarts: no promise holds for one, and the trial has to find it
	LoadEvery    time.Duration // mean time between two changes of one other load; 0 for never
}

// upTo draws a time from 0 to d, both included.
func upTo(rng *rand.Rand, d time.Duration) time.Duration {
	if d <= 0 {
		return 0
	}
	return time.Duration(rng.Int64N(int64(d) + 1))
}

// around draws the wait for something that happens once in mean on average and forgets when it last did.
func around(rng *rand.Rand, mean time.Duration) time.Duration {
	return time.Duration(rng.ExpFloat64() * float64(mean))
}

// chance says whether something that happens to that share of cases happens now. A share of 0 draws nothing.
func chance(rng *rand.Rand, s units.Share) bool { return s > 0 && rng.Float64() < float64(s) }
