package engine

import (
	"strings"

	"lookgate/presets/finding"
)

// waysOut says what to do about refusals that name no remedy of their own.
var waysOut = map[finding.Code]finding.Remedy{
	finding.BadLevel:       {When: finding.Later, Words: "send a number in that range"},
	finding.BadArguments:   {When: finding.Later, Words: "send one of: " + spoken(Verbs)},
	finding.UnknownZone:    {When: finding.Later, Words: "send the name of a zone as rig.yaml has it"},
	finding.UnknownCircuit: {When: finding.Later, Words: "send the name of a circuit as rig.yaml has it"},
	finding.UnknownOutput:  {When: finding.Later, Words: "send the name of an output as rig.yaml has it"},
	finding.UnknownRun:     {When: finding.Later, Words: "send the name of a data run as rig.yaml has it, or as a rule there makes it"},
	finding.UnknownPanel:   {When: finding.Later, Words: "send a wall and a place: bay C3R1"},
	finding.NothingArmed:   {When: finding.Later, Words: "arm a preset first, or recall one"},
	finding.NothingBefore:  {When: finding.Later, Words: "recall a preset by its number or name"},
	finding.NoWorklight:    {When: finding.Later, Words: "recall a preset, and name the one that is the worklight in presets.yaml"},
	finding.NoLook:         {When: finding.Later, Words: "recall a preset first"},
	finding.EngineerOnly:   {When: finding.Later, Words: "have it done from a station that stations.yaml names as the engineer's"},
	finding.NotLockedOff:   {When: finding.Later, Words: "nothing is to be done"},
	finding.Busy:           {When: finding.Later, Words: "wait for the disk; blackout and lowering work meanwhile"},
}

func spoken(verbs []Verb) string {
	var words []string
	for _, v := range verbs {
		words = append(words, string(v))
	}
	return strings.Join(words, ", ")
}

// remedied gives findings that name no way out the one of their code.
func remedied(fs []finding.Finding) []finding.Finding {
	for i := range fs {
		if way, known := waysOut[fs[i].Code]; known && len(fs[i].Remedies) == 0 {
			fs[i].Remedies = []finding.Remedy{way}
		}
	}
	return fs
}
