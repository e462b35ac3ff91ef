package power

import "lookgate/presets/rig"

// Limited gives the same model with other limits: the conductors are those of [Model.Conductors], in that order, with limits and their words of the caller's own. It
// serves a look that is judged by what its circuits may carry for a while.
func (m *Model) Limited(conductors []rig.Conductor) *Model {
	other := *m
	other.conductors = conductors
	return &other
}
