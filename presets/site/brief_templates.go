package site

import (
	"slices"

	"lookgate/presets/rig"
)

// briefTemplates is what reading a brief can say besides what it shares with a site's files. Each row has a broken brief in testdata/briefs/bad.
var briefTemplates = []rig.Template{
	{Code: "brief-empty", Sentence: "the brief is empty", Hint: "it has name, supply, boards, panel_types, walls, circuits, processors and modes"},
	{Code: "brief-none", Sentence: "{1} names nothing", Hint: "a plan needs at least one"},
	{Code: "brief-figure", Sentence: "{1} is no figure above zero", Hint: "give the true figure; a missing limit never counts as unlimited"},
	{Code: "brief-both", Sentence: "{1} and {2} are both given", Hint: "keep the one that is meant, or neither"},
	{Code: "brief-order", Sentence: "board {1} stands before board {2}, which feeds it", Hint: "name boards in the order in which they are to be used: first those that feed others"},
	{Code: "brief-mixed", Sentence: "the panels of a wall are of one type in a brief", Hint: "plan with the type that draws more, and name the others in rig.yaml then; or make another wall of them"},
	{Code: "brief-name", Sentence: "{1} is too long a name here", Hint: "use at most {2} characters: what is planned is named after it"},
}

// BriefTemplates lists the wordings that only reading a brief can give.
func BriefTemplates() []rig.Template { return slices.Clone(briefTemplates) }
