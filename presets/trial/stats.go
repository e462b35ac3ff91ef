package trial

import (
	"time"

	"lookgate/presets/engine"
	"lookgate/presets/plant"
	"lookgate/presets/units"
)

// Stats counts what happened in a run, or in many.
type Stats struct {
	Runs                                int
	Simulated                           time.Duration
	Events, Steps                       int
	Commands, Accepted, Refused, Failed int
	On, Superseded, Dropped, Noted      int
	Switches, NaiveOverruns             int           // changes of look, and those in which raising first would have overrun
	SwitchesOn                          int           // changes of look that came to be on
	Took, Longest                       time.Duration // of those, together and the longest
	Crashes, Restarts, Trips            int
	BroughtDown                         int           // looks whose time above a continuous limit was over
	Above                               time.Duration // that circuits were truly above their continuous limits, together
	Nearest                             units.Share   // highest share of its longest time that a circuit was truly above, over all looks since it last rested
	Found                               int           // outcomes that a later life gave of commands that ran when the daemon died
	Lost, Stale, Commits, CommitsFailed int
	Assumed                             int         // moments at which a silent device held something else than assumed
	Finales, NoFinale                   int         // runs with and without an admitted preset at the end
	Fullest                             units.Share // highest share of a limit that a conductor truly carried
}

// answer counts an answer.
func (s *Stats) answer(_ engine.Verb, st engine.Status) {
	switch st {
	case engine.Accepted:
		s.Accepted++
	case engine.Refused:
		s.Refused++
	case engine.Failed:
		s.Failed++
	}
}

// outcome counts an outcome.
func (s *Stats) outcome(v engine.Verb, o engine.Outcome) {
	switch o.End {
	case engine.On:
		s.On++
		if v == engine.Recall || v == engine.Go || v == engine.Back || v == engine.Worklight {
			s.SwitchesOn++
			s.Took += o.Took
			s.Longest = max(s.Longest, o.Took)
		}
	case engine.Superseded:
		s.Superseded++
	case engine.DroppedEnd:
		s.Dropped++
	case engine.Noted:
		s.Noted++
	}
}

// count counts what happened in the plant.
func (s *Stats) count(w plant.What) {
	switch w {
	case plant.Restarted:
		s.Restarts++
	case plant.Tripped:
		s.Trips++
	case plant.Lost, plant.ReportLost:
		s.Lost++
	case plant.Stale:
		s.Stale++
	}
}

// Add adds another run's counts.
func (s *Stats) Add(o Stats) {
	s.Runs += o.Runs
	s.Simulated += o.Simulated
	s.Events, s.Steps = s.Events+o.Events, s.Steps+o.Steps
	s.Commands, s.Accepted, s.Refused, s.Failed = s.Commands+o.Commands, s.Accepted+o.Accepted, s.Refused+o.Refused, s.Failed+o.Failed
	s.On, s.Superseded, s.Dropped, s.Noted = s.On+o.On, s.Superseded+o.Superseded, s.Dropped+o.Dropped, s.Noted+o.Noted
	s.Switches, s.NaiveOverruns, s.SwitchesOn = s.Switches+o.Switches, s.NaiveOverruns+o.NaiveOverruns, s.SwitchesOn+o.SwitchesOn
	s.Took, s.Longest = s.Took+o.Took, max(s.Longest, o.Longest)
	s.Crashes, s.Restarts, s.Trips = s.Crashes+o.Crashes, s.Restarts+o.Restarts, s.Trips+o.Trips
	s.Found += o.Found
	s.BroughtDown, s.Above = s.BroughtDown+o.BroughtDown, s.Above+o.Above
	s.Nearest = max(s.Nearest, o.Nearest)
	s.Lost, s.Stale, s.Commits, s.CommitsFailed = s.Lost+o.Lost, s.Stale+o.Stale, s.Commits+o.Commits, s.CommitsFailed+o.CommitsFailed
	s.Assumed, s.Finales, s.NoFinale = s.Assumed+o.Assumed, s.Finales+o.Finales, s.NoFinale+o.NoFinale
	s.Fullest = max(s.Fullest, o.Fullest)
}
