// Package trial is the proof: the engine, a simulated plant, workers as the daemon has them, a modelled disk and people who give commands, all in one
// seeded queue of events. The daemon may die between any two of them. After every event it is checked what must always hold: no true current above a limit,
// every true state within what the engine calls possible, a kept state that is whole, one answer and one outcome for each command, nothing that rises unasked
// and nothing raised before it is on disk; and, when the faults have stopped, that the wall comes to what is asked of it.
//
// A run is its seed: the same seed with the same setup gives the same events to the last bit, and its story can be printed for people.
package trial
