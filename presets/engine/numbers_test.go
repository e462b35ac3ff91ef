package engine_test

import (
	"encoding/json"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets/engine"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// TestNumbersAtTheEndOfTheirRange has commands whose numbers are finite and valid make others that are not: whatever is sent and kept must stay a level.
func TestNumbersAtTheEndOfTheirRange(t *testing.T) {
	tiny := units.Level(5e-324)
	rows := []struct {
		name     string
		commands []engine.Command
	}{
		{"nothing times infinity", []engine.Command{{Verb: engine.Level, Level: 0}, {Verb: engine.StepBy, Stops: 2000}}},
		{"far up", []engine.Command{{Verb: engine.StepBy, Stops: 1e300}}},
		{"far up, allowed", []engine.Command{{Verb: engine.StepBy, Stops: 64}, {Verb: engine.StepBy, Stops: 64}}},
		{"a level over a scale next to nothing", []engine.Command{{Verb: engine.Level, Level: tiny}, {Verb: engine.ZoneLevel, Target: "left", Level: 0.2}}},
		{"many steps down", []engine.Command{{Verb: engine.StepBy, Stops: -64}, {Verb: engine.StepBy, Stops: -64}, {Verb: engine.ZoneLevel, Target: "left", Level: 0.2}}},
		{"a recall at next to nothing", []engine.Command{{Verb: engine.Recall, Preset: 2, HasLevel: true, Level: tiny}}},
		{"no number", []engine.Command{{Verb: engine.StepBy, Stops: units.Stops(math.NaN())}, {Verb: engine.StepBy, Stops: units.Stops(math.Inf(-1))}}},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			b := newBench(t, smallRig(rig.Numbered))
			b.id = 100
			for _, c := range append([]engine.Command{{Verb: engine.Recall, Preset: 1}}, row.commands...) {
				b.id++
				c.ID = b.id
				b.step(c)
				b.run(b.now + time.Second)
			}
			for _, a := range b.sent {
				require.True(t, a.Level.Valid(), "%v was sent", a.Level)
			}
			_, err := json.Marshal(b.kept)
			require.NoError(t, err, "what is kept cannot be written")
			_, err = json.Marshal(b.answers)
			require.NoError(t, err, "an answer cannot be written")
			for _, l := range b.kept.Envelope {
				require.True(t, l.Valid())
			}
			for _, l := range b.level {
				require.True(t, l.Valid() && l <= 0.3)
			}
		})
	}
}
