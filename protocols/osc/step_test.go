package osc

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets"
	"lookgate/presets/engine"
	"lookgate/presets/plant"
	"lookgate/presets/rig"
	"lookgate/presets/trial"
	"lookgate/presets/units"
)

// wallUnder is an engine over a simulated wall: what packets say goes all the way to true amps.
type wallUnder struct {
	t        *testing.T
	e        *engine.Engine
	plant    *plant.Plant
	limits   []rig.Conductor
	void     []bool
	now      time.Duration
	next     time.Duration
	answers  map[uint64]engine.Status
	outcomes map[uint64]int
}

func newWallUnder(t *testing.T) *wallUnder {
	r, book := trial.Stage(3)
	p := presets.NewPlan(r, book)
	w := &wallUnder{t: t, e: engine.New(p, engine.Settings{}, nil, 1), plant: plant.New(r, plant.Habits{}, rand.New(rand.NewPCG(1, 2))), limits: r.Conductors(), void: p.Void,
		answers: map[uint64]engine.Status{}, outcomes: map[uint64]int{}}
	w.step(engine.Tick{})
	w.run(10 * time.Second)
	return w
}

// step hands in one input and does what comes out: packets travel, the disk is well.
func (w *wallUnder) step(in engine.Input) {
	inputs := []engine.Input{in}
	for n := 0; len(inputs) > 0; n++ {
		require.Less(w.t, n, 20_000, "work without end at one instant")
		res := w.e.Step(w.now, inputs[0])
		inputs = inputs[1:]
		w.next = math.MaxInt64
		if res.HasNext {
			w.next = res.Next
		}
		for _, a := range res.Answers {
			require.NotContains(w.t, w.answers, a.ID, "two answers")
			w.answers[a.ID] = a.Status
		}
		for _, o := range res.Outcomes {
			w.outcomes[o.ID]++
		}
		for _, a := range res.Actions {
			if a.Kind == engine.Commit {
				inputs = append(inputs, engine.Committed{Batch: a.Batch})
				continue
			}
			w.plant.Send(w.now, w.now, plant.Packet{Kind: kinds[a.Kind], Device: a.Device, Output: a.Output, Level: a.Level, Black: a.Black,
				Picture: plant.Picture(a.Picture), Number: a.Number})
			inputs = append(inputs, engine.Written{Write: a.Write})
		}
		w.judge()
	}
}

var kinds = map[engine.ActionKind]plant.Kind{engine.SendLevel: plant.SetLevel, engine.SendBlack: plant.SetBlack, engine.SendPicture: plant.SetPicture, engine.Ask: plant.Ask}

// judge holds the true wall to its limits.
func (w *wallUnder) judge() {
	for i, amps := range w.plant.True(nil) {
		if !w.void[i] {
			require.LessOrEqual(w.t, float64(amps), float64(w.limits[i].Limit)*(1+1e-9), "%v %s", w.limits[i].Kind, w.limits[i].Name)
		}
	}
}

func (w *wallUnder) run(d time.Duration) {
	for end := w.now + d; ; {
		at, any := w.plant.Next()
		if !any || w.next < at {
			at = w.next
		}
		if at > end {
			w.now = end
			return
		}
		w.now = max(w.now, at)
		arrived := w.plant.Advance(w.now)
		w.judge()
		for _, a := range arrived {
			r := a.Report
			w.step(engine.Report{Device: r.Device, Number: r.Number, Levels: r.Levels, Black: r.Black, Picture: engine.Picture(r.Picture)})
		}
		if w.next <= w.now {
			w.step(engine.Tick{})
		}
	}
}

// FuzzPacketToStep takes packets from the wire through the engine to the true amps of a simulated wall. Whatever they say: one answer each, one outcome for what was
// accepted, no true current above a limit, and a view that goes out as JSON.
func FuzzPacketToStep(f *testing.F) {
	seeds := 0
	for _, packet := range packetSeeds(f) {
		f.Add(packet)
		seeds++
	}
	for _, row := range commandRows {
		f.Add(message(f, row.address, row.args...))
		seeds++
	}
	f.Add(bundle(Immediately, message(f, "/lookgate/recall", int32(10)), message(f, "/lookgate/level", float32(0.5)), message(f, "/lookgate/recall", int32(20))))
	require.Greater(f, seeds, 20, "no seeds, nothing is fuzzed")
	f.Fuzz(func(t *testing.T, packet []byte) {
		w := newWallUnder(t)
		batches, _ := heard(t, message(t, "/lookgate/recall", int32(10)), packet)
		id := uint64(0)
		for _, batch := range batches {
			for _, c := range batch {
				id++
				c.ID = id
				w.step(c)
			}
			w.run(200 * time.Millisecond)
		}
		w.run(20 * time.Second)
		require.Len(t, w.answers, int(id), "one answer each")
		for at, status := range w.answers {
			require.Equal(t, status == engine.Accepted, w.outcomes[at] == 1, "command %d %s", at, status)
		}
		for _, c := range w.e.View().Conductors {
			require.True(t, units.Finite(c.Worst) && units.Finite(c.Stops))
		}
	})
}
