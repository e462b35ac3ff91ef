package site

import (
	"slices"

	"lookgate/presets/rig"
)

// templates is the one table of what reading a site's files can say, besides what the rig says of itself ([rig.Templates]). Every row has a broken site
// in testdata/bad that shows its exact text.
var templates = []rig.Template{
	{Code: "file-missing", Sentence: "the file is not there", Hint: "a site folder has rig.yaml, devices.yaml, presets.yaml and stations.yaml"},
	{Code: "file-unknown", Sentence: "a site has no file of this name", Hint: "{2}"},
	{Code: "file-empty", Sentence: "the file is empty", Hint: "a site folder has rig.yaml, devices.yaml, presets.yaml and stations.yaml; none of them can be empty"},
	{Code: "file-too-large", Sentence: "the file has {1} octets", Hint: "at most {2} are read; say regular things by rules"},
	{Code: "not-utf8", Sentence: "this is no UTF-8 text", Hint: "save the file as UTF-8"},
	{Code: "control-character", Sentence: "there is a control character here", Hint: "take it out"},
	{Code: "tab-indent", Sentence: "there is a tab in the indentation", Hint: "indent with spaces: YAML takes no tabs"},
	{Code: "not-yaml", Sentence: "this cannot be read as YAML: {1}", Hint: "look at this line and the one before it: indentation, colons, brackets, quotes"},
	{Code: "many-documents", Sentence: "a second document begins here", Hint: "a file holds one document: take out the line of three dashes"},
	{Code: "too-deep", Sentence: "lists and mappings stand in each other more than {1} deep", Hint: "nothing in a site is that deep; look for a bracket too many"},
	{Code: "alias", Sentence: "anchors and aliases are not used in a site", Hint: "write the value out, or use a rule"},
	{Code: "tag", Sentence: "the tag {1} is not used in a site", Hint: "take the tag out: each key knows what it holds"},
	{Code: "too-many-problems", Sentence: "{1} more problems are not shown", Hint: "mend those above first"},

	{Code: "unknown-key", Sentence: "there is no key {1} here", Hint: "{2}"},
	{Code: "duplicate-key", Sentence: "{1} is given twice, first in line {2}", Hint: "keep one of them"},
	{Code: "missing-key", Sentence: "{1} is missing", Hint: "add {1}; it has no default"},
	{Code: "key-not-word", Sentence: "a key must be a single word", Hint: "write key: value"},
	{Code: "no-value", Sentence: "{1} has no value", Hint: "give the value behind the colon, or take the key out"},
	{Code: "not-mapping", Sentence: "there must be keys with values here, not {1}", Hint: "write key: value, one a line or in braces { }"},
	{Code: "not-list", Sentence: "there must be a list here, not {1}", Hint: "begin each item with a dash, or write the items in brackets [ ]"},
	{Code: "not-single", Sentence: "there must be a single value here, not {1}", Hint: "write one number or word"},
	{Code: "list-too-long", Sentence: "the list has {1} items", Hint: "at most {2} are read; say regular things by rules"},

	{Code: "text-bad", Sentence: "{1} is no text that can be shown", Hint: "use 1 to {2} printable characters"},
	{Code: "unknown-word", Sentence: "{1} cannot stand here", Hint: "{2}"},
	{Code: "unknown-name", Sentence: "there is no {1} {2}", Hint: "{3}"},
	{Code: "not-yes", Sentence: "{1} is neither true nor false", Hint: "write true or false"},
	{Code: "not-number", Sentence: "{1} is no number", Hint: "write a plain decimal: 20, 0.95, 42%"},
	{Code: "wrong-unit", Sentence: "{1} is not the unit here", Hint: "give the figure in {2}"},
	{Code: "not-whole", Sentence: "{1} is no whole number", Hint: "write digits only"},
	{Code: "count-range", Sentence: "{1} is out of range", Hint: "give a whole number from {2} to {3}"},
	{Code: "level-range", Sentence: "{1} is no level", Hint: "give a level from 0% to 100%; without the per cent sign it is a fraction from 0 to 1"},
	{Code: "not-time", Sentence: "{1} is no time with its unit", Hint: "write a number with ms, s, min or h: 500 ms"},
	{Code: "time-range", Sentence: "{1} is out of range", Hint: "give a time from 0 s to {2}"},
	{Code: "zero-figure", Sentence: "{1} is 0", Hint: "give the true figure, or leave {1} out: then nothing is said of it"},
	{Code: "not-link", Sentence: "{1} is no data rate with its unit", Hint: "write a number with Mb/s or Gb/s: 1 Gb/s"},
	{Code: "not-rate", Sentence: "{1}", Hint: "write a frame rate as a whole number or an exact fraction: 60, 24000/1001"},
	{Code: "not-cross", Sentence: "{1} is no pair of figures", Hint: "write two numbers with an x between them and no unit: 500 x 500; pixels are whole"},
	{Code: "cross-range", Sentence: "{1} is out of range", Hint: "give two numbers from {2} to {3}"},
	{Code: "span-bad", Sentence: "{1} is no range in 1 to {2}", Hint: "write the first and the last with a dash between them: 1-20"},
	{Code: "not-address", Sentence: "{1} is no address with a port", Hint: "write host and port: 10.0.0.7:9000"},
	{Code: "not-host", Sentence: "{1} is no host", Hint: "write a host name or an address, without a port"},

	{Code: "not-size", Sentence: "{1} is no conductor size of the published tables", Hint: "write an American gauge or square millimetres as on the reel: 12 AWG, 4/0 AWG, 2.5 mm2"},
	{Code: "ambient-unknown", Sentence: "the tables have no factor for {1} around an insulation of {2}", Hint: "give a temperature below that of the insulation, and the insulation's as its standard has it, or ambient_factor as the maker has it"},

	{Code: "too-many-panels", Sentence: "the walls have more than {1} panels together", Hint: "correct the columns and rows; more than that is another site"},
	{Code: "too-many-named", Sentence: "all lists together name more than {1} panels", Hint: "name each panel once in each list"},
	{Code: "panel-unreadable", Sentence: "{1} names no panels", Hint: "write a panel as C3R1 (column 3 from the left, row 1 from the bottom) or a block as C1R1..C2R9, with its wall before it outside the walls: bay C3R1"},
	{Code: "panel-outside", Sentence: "{1} is outside wall {2}", Hint: "the wall has columns 1 to {3} and rows 1 to {4}"},
	{Code: "panel-gap", Sentence: "there is no panel at {1}", Hint: "it is one of the wall's gaps; take it out here or there"},
	{Code: "other-wall", Sentence: "the wall here is {2}, not {1}", Hint: "leave the wall's name out, or move the line to that wall"},
	{Code: "one-of", Sentence: "exactly one of {1} must be given", Hint: "keep the one that is meant"},
	{Code: "most-none", Sentence: "a circuit carries {1} panels at full white, less than the {2} of one line", Hint: "use panels_each: most, a larger breaker or two poles"},
	{Code: "too-many-processors", Sentence: "the rule makes {1} processors", Hint: "at most {2} are made by one rule; raise columns_each"},
	{Code: "run-no-processor", Sentence: "no rule made a processor for {1}", Hint: "name the processor here, or widen the rule under processors"},
	{Code: "run-two-processors", Sentence: "the data run over {1} would be on {2} and {3}", Hint: "choose columns_each so that no run crosses from one processor to the next"},
	{Code: "output-no-processor", Sentence: "{1} is on no data run, so the output's device is not known", Hint: "add the panel to a data run, or name the device"},
	{Code: "output-two-processors", Sentence: "output {1} is on {2} and {3}", Hint: "make one output for each processor: each: processor"},
	{Code: "zone-cuts-output", Sentence: "zone {1} cuts output {2}: {3} would be in the zone, {4} would not", Hint: "a zone is made of whole outputs: widen it to the whole output, or make the output two"},
	{Code: "no-device", Sentence: "there is no device {1} in devices.yaml", Hint: "each processor is driven by the device of its name; {2}"},
	{Code: "prefix-unknown", Sentence: "no rule made processors with the prefix {1}", Hint: "give the prefix of a rule under processors in rig.yaml, or a name"},
	{Code: "ports-run-out", Sentence: "the ports do not reach to {1}", Hint: "begin with lower ports: they count up to 65535 at most"},
	{Code: "wire-taken", Sentence: "device {1} has address {2}, which device {3} has", Hint: "give each device an address of its own"},

	{Code: "preset-number-twice", Sentence: "number {1} is taken by {2}", Hint: "give each preset a number of its own"},
	{Code: "preset-name-twice", Sentence: "the name {1} is taken by preset {2}", Hint: "give each preset a name of its own"},
	{Code: "preset-name-number", Sentence: "the name {1} is a number", Hint: "give it a name with a letter; stations recall presets by number too"},
	{Code: "zones-overlap", Sentence: "zones {1} and {2} both level output {3}", Hint: "level each output once in a preset"},
	{Code: "cap-below-level", Sentence: "the cap of {1} is below the level of {2}", Hint: "a cap is the highest level that may be set while the preset is on: raise it, or leave it out"},
	{Code: "content-range", Sentence: "{1} is no mean of a picture", Hint: "give the highest linear-light mean over any one circuit's panels, from 0% to 100%; without the per cent sign it is a fraction from 0 to 1"},
	{Code: "content-no-credit", Sentence: "this site does not let a preset count on the mean of its picture", Hint: "take content out, or add content_credit with reason and by to rig.yaml: who decided it, and why"},
	{Code: "above-time-range", Sentence: "{1} is no time above the continuous limit", Hint: "give a time from 1 min to 179 min: what stays on for 3 h is continuous"},
	{Code: "window-place", Sentence: "a window either fills its wall or has a place and a size", Hint: "give fill: true, or at and size in pixels: at: 0 x 0, size: 1920 x 1080"},
	{Code: "worklight-unknown", Sentence: "the worklight is preset {1}, which is not in the book", Hint: "give the number of a preset, or leave the worklight out"},

	{Code: "listen-nothing", Sentence: "nothing is listened to", Hint: "give osc or http, or both: an address and a port, such as 127.0.0.1:9000"},
	{Code: "station-name", Sentence: "the name {1} cannot stand in an OSC address", Hint: "use 1 to 32 printable ASCII characters, none of them a space or one of # * , / ? [ ] { }"},
	{Code: "station-twice", Sentence: "the name {1} is taken by another station", Hint: "give each station a name of its own"},
	{Code: "from-taken", Sentence: "packets from {1} belong to station {2} already", Hint: "give each station an address of its own, or make them one station"},
}

// template gives the row of a code. Codes are constants of this package, so a missing row is a mistake in it.
func template(code string) rig.Template {
	for _, table := range [][]rig.Template{templates, briefTemplates} {
		for _, t := range table {
			if t.Code == code {
				return t
			}
		}
	}
	panic("site: no template " + code)
}

// AllTemplates lists every wording that reading a site can give: those of the files first, then those of the rig.
func AllTemplates() []rig.Template { return append(slices.Clone(templates), rig.Templates...) }
