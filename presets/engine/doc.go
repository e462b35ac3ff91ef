// Package engine is the whole behaviour of lookgate as one value: Step takes the time and one input, and gives answers, outcomes, actions, events and the next
// deadline. It holds the guard: what every output may be at, and that nothing is sent which could carry a conductor over its limit, whatever arrives,
// is lost, comes late or restarts in between.
package engine
