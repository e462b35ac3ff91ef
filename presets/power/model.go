// Package power computes what a set of levels draws on every conductor, at worst, and the highest levels that pass.
package power

import "lookgate/presets/rig"

// Model is a rig prepared for fast solving.
type Model struct{ rig *rig.Rig }
