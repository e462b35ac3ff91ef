// Package plant is a simulated plant as a value: devices with their habits, a network that loses, doubles and delays, panels, breakers and other loads. It is
// the judge of the proof, so it shares nothing with what it judges but the rig: its arithmetic of currents is its own, slow and obvious, panel by panel.
//
// A plant is single threaded and deterministic: the same rig, habits, random source and calls give the same log. Times are since the start of the
// simulation. What it assumes, and the proof with it: a packet arrives within the device's packet life after its write returned, or never; its effect stands in
// every report made later than the settling time after that; a device changes only by packet, by its own restart or by another hand; of the repeats of one
// value to a silent device at least one arrives.
package plant
