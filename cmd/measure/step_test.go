package main

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets"
	"lookgate/presets/engine"
)

// BenchmarkStep is one step of the engine on the demo site with nothing to do, which is what every input costs at least.
func BenchmarkStep(b *testing.B) {
	s, err := demo()
	require.NoError(b, err)
	e := engine.New(presets.NewPlan(s.Rig, s.Book), engine.Settings{}, nil, 1)
	e.Step(0, engine.Tick{})
	for i := range b.N {
		e.Step(time.Duration(i)*time.Microsecond, engine.Tick{})
	}
}

// BenchmarkView is a whole view of the demo site.
func BenchmarkView(b *testing.B) {
	s, err := demo()
	require.NoError(b, err)
	e := engine.New(presets.NewPlan(s.Rig, s.Book), engine.Settings{}, nil, 1)
	e.Step(0, engine.Tick{})
	for range b.N {
		e.View()
	}
}
