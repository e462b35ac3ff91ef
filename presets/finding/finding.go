// Package finding holds what every check says: one reason with its numbers, the place, and what would help. All codes stand in one table.
package finding

import "lookgate/presets/units"

// Severity says what a finding does to the thing that was checked.
type Severity string

// The severities, from worst to mildest.
const (
	Refuse Severity = "refuse" // it may not be
	Warn   Severity = "warn"   // it may be, and somebody should know
	Note   Severity = "note"   // it was not assessed, or is told for completeness
)

// Place names the thing that a finding is about, in the words of the site: {"circuit", "B7"}, {"leg", "A L2"}.
type Place struct {
	Kind string `json:"kind"`
	Name string `json:"name"`
}

// String gives "circuit B7".
func (p Place) String() string {
	if p.Name == "" {
		return p.Kind
	}
	return p.Kind + " " + p.Name
}

// When says which hands a remedy needs.
type When string

// A remedy is an operator's command now, or wiring or editing later.
const (
	Now   When = "now"
	Later When = "later"
)

// Do is an operator's command as a remedy carries it: the verb and arguments of a station's own command.
type Do struct {
	Verb   string       `json:"verb"`
	Target string       `json:"target,omitempty"`
	Level  *units.Level `json:"level,omitempty"`
}

// Remedy is one way out. A remedy for now carries the command, which has been proved to pass; one for later is words.
type Remedy struct {
	When  When   `json:"when"`
	Words string `json:"words"`
	Do    *Do    `json:"do,omitempty"`
}

// Finding is one reason. Computed and Limit carry the same unit; codes without numbers leave them empty.
type Finding struct {
	Code     Code           `json:"code"`
	Severity Severity       `json:"severity"`
	Place    Place          `json:"place"`
	Computed units.Quantity `json:"computed"`
	Limit    units.Quantity `json:"limit"`
	Sentence string         `json:"sentence"`
	Remedies []Remedy       `json:"remedies,omitempty"`
}

// Refuses reports whether any of the findings refuses.
func Refuses(fs []Finding) bool {
	for _, f := range fs {
		if f.Severity == Refuse {
			return true
		}
	}
	return false
}
