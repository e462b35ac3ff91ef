package trial

import (
	"math/rand/v2"

	"lookgate/presets/cable"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// cables lays the cables of about every fourth stage, so that its voltages hang on its load, and of some of these hangs the second board on the first. It draws from
// numbers of its own: the other stages stay what they are.
func (s *stage) cables(seed uint64) {
	rng := rand.New(rand.NewPCG(seed, 6))
	if rng.IntN(4) > 0 {
		return
	}
	home, _ := cable.ParseSize("12 AWG")
	feeder, _ := cable.ParseSize("2 AWG")
	s.rig.Cables = []rig.Cable{
		{Name: "home", Size: home, Stranding: cable.Stranded, At: 60, Rating: 63, Ambient: 1, Grouping: 1},
		{Name: "feeder", Size: feeder, Stranding: cable.Stranded, At: 75, Rating: 4000, Ambient: 1, Grouping: 1},
	}
	for i := range s.rig.Circuits {
		s.rig.Circuits[i].Home = &rig.Run{Length: units.Metres(5 + 60*rng.Float64())}
		s.rig.Circuits[i].Link = &rig.Run{Length: 1.5}
	}
	for i := range s.rig.Boards {
		s.rig.Boards[i].Feeder = &rig.Run{Cable: 1, Length: units.Metres(40 * rng.Float64())}
		if i > 0 && rng.IntN(2) == 0 {
			s.rig.Boards[i].From = i
		}
	}
}
