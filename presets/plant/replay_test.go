package plant_test

import (
	"crypto/sha256"
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets/plant"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// storm runs a plant with every habit for a simulated minute and gives the hash of its log, its reports and its currents.
func storm(seed uint64) [32]byte {
	r := pair(rig.Numbered)
	r.Devices = append(r.Devices, r.Devices[0])
	r.Devices[1].Class = rig.Reporting
	r.Outputs[1].Device = 1
	r.Loads = []rig.OtherLoad{{Legs: []int{0}, Current: 10, PF: 0.9, Third: 0.3}}
	p := plant.New(r, plant.Habits{
		Wire: plant.Wire{Loss: 0.1, Duplicate: 0.1, Delay: 5 * ms, Late: 0.1}, Echo: 0.5, BootReport: 0.5, RestartEvery: 3 * time.Second, BootTime: time.Second,
		DarkBoot: 0.5, TripEvery: 3 * time.Second, TripFor: time.Second, LoadEvery: time.Second,
	}, rand.New(rand.NewPCG(seed, 1)))
	h := sha256.New()
	for i := range uint64(600) {
		now := time.Duration(i) * 100 * ms
		p.Send(now, now+ms, plant.Packet{Kind: plant.Kind(i % 4), Device: int(i / 4 % 2), Output: int(i / 4 % 2), Level: units.Level(float64(i%7) / 7), Number: i + 1})
		for _, a := range p.Advance(now + 100*ms) {
			fmt.Fprintln(h, a)
		}
		for _, e := range p.TakeLog() {
			fmt.Fprintln(h, e)
		}
		fmt.Fprintln(h, p.True(nil))
	}
	return [32]byte(h.Sum(nil))
}

func TestSameSeedSameLog(t *testing.T) {
	require.Equal(t, storm(1), storm(1))
	require.NotEqual(t, storm(1), storm(2))
}
