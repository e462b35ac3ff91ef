package sim

import (
	"bytes"
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets/plant"
	"lookgate/presets/rig"
	"lookgate/presets/rig/rigtest"
)

// TestWhatLiesBetweenTwoChangesIsJudged holds the log to every state: two outputs swap on one circuit, and both changes fall due before the plant looks again. A
// judge that looked only at the end would miss that both were bright.
func TestWhatLiesBetweenTwoChangesIsJudged(t *testing.T) {
	r := rigtest.Wye()
	r.Outputs[0].Panels, r.Outputs[1].Panels = rigtest.Columns(r, 0, 1, 1), rigtest.Columns(r, 0, 2, 8) // columns 1 and 2 share a circuit
	r.Circuits[0].Breaker = 12                                                                          // 9.6 A: one column at full and one at black draw 8.3 A
	r.Devices[0].Settling, r.Devices[1].Settling = time.Millisecond, time.Millisecond
	var text bytes.Buffer
	p := New(r, Options{Log: &text})
	p.begin()
	for _, packet := range []plant.Packet{
		{Kind: plant.SetLevel, Device: 0, Output: 0, Level: 1, Number: 1},
		{Kind: plant.SetLevel, Device: 1, Output: 1, Level: 0},
	} {
		p.state.Apply(time.Duration(packet.Device)*10*time.Millisecond, packet)
	}
	require.NoError(t, p.happen(time.Second))
	var overs int
	var last Line
	for _, line := range bytes.Split(bytes.TrimSpace(text.Bytes()), []byte("\n")) {
		last = Line{}
		require.NoError(t, json.Unmarshal(line, &last))
		for _, o := range last.Over {
			if o == rig.CircuitWire.String()+" "+r.Circuits[0].Name {
				overs++
			}
		}
	}
	require.NotZero(t, overs, "both bright, between the two")
	require.Empty(t, last.Over, "and nothing over at the end")
}
