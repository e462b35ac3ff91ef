package site

import (
	"lookgate/presets"
	"lookgate/presets/rig"
)

// The files of a site folder.
const (
	RigFile      = "rig.yaml"
	PresetsFile  = "presets.yaml"
	StationsFile = "stations.yaml"
	DevicesFile  = "devices.yaml"
)

// Files lists the files of a site folder in the order in which problems are told.
var Files = []string{RigFile, DevicesFile, PresetsFile, StationsFile}

// Site is one plant with its book, who may command it and what is driven.
type Site struct {
	Rig      *rig.Rig
	Book     *presets.Book
	Listen   Listen
	Stations []Station
	Devices  []Wire // one for each of the rig's devices, in its order
}

// Listen says where stations come in.
type Listen struct {
	OSC   string   // address and UDP port; empty for none
	HTTP  string   // address and TCP port; empty for none
	Hosts []string // names and addresses that a browser may call this machine by, besides what it listens on
}

// Station is who may command, and how.
type Station struct {
	Name      string
	Engineer  bool
	From      string // source address of OSC packets that belong to this station; empty for any
	ReplyPort int    // UDP port that answers go to; 0: the sender's own
}

// Wire is how a device is reached.
type Wire struct {
	Protocol  string // "osc" or "sim"
	Address   string // host and port
	ReplyPort int    // local UDP port that the device's reports come to; 0: the one that is sent from
}

// Read reads the files of a site, by their names. It gives the site where nothing is wrong with it but for warnings, else nil, and all problems in the
// order of their places. It never panics, and what it uses is bounded by the size of the files, which is bounded too.
func Read(files map[string][]byte) (*Site, []Problem) {
	r := newReader()
	r.files(files)
	problems := r.list.sorted()
	if Broken(problems) {
		return nil, problems
	}
	return r.site, problems
}

// files reads the files of a site, each after what it refers to.
func (r *reader) files(files map[string][]byte) {
	rigDoc := r.document(files, RigFile)
	devices := r.document(files, DevicesFile)
	book := r.document(files, PresetsFile)
	stations := r.document(files, StationsFile)
	r.unknownFiles(files)

	r.readRig(rigDoc, devices)
	r.readBook(book)
	r.readStations(stations)
	r.rigProblems()
}
