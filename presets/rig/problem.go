package rig

// Problem is one thing that is wrong with a rig as described. It names the part by the slice that holds it, its index and the key, so that whoever read
// the rig from a file can give file, line and column.
type Problem struct {
	Part     string // key of the part's list in rig.yaml or devices.yaml: "circuits", "boards"
	Index    int    // into the rig's slice; -1 for the part as a whole
	Key      string // key within the part: "breaker_a"; empty for the part itself
	Sentence string // what is wrong, lower case, no full stop
	Hint     string // what to do
	Warning  bool   // the rig may be used; somebody should know
}
