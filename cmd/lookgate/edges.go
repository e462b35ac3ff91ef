package main

import (
	"fmt"
	"reflect"
	"slices"

	"lookgate/presets/site"
)

// edges are what a site says of the ways in and out. They are opened once, when the daemon starts: a reload takes a plant and a book, and no sockets.
type edges struct {
	listen   site.Listen
	stations []site.Station
	wires    []site.Wire
	devices  []string // names, one for each wire
}

// edgesOf gives a copy of what a site says, so that the command line may have it otherwise.
func edgesOf(s *site.Site) edges {
	e := edges{listen: s.Listen, stations: slices.Clone(s.Stations), wires: slices.Clone(s.Devices)}
	for _, d := range s.Rig.Devices {
		e.devices = append(e.devices, d.Name)
	}
	return e
}

// changed names what an edit changed that a reload cannot take. To take the rest and say nothing would leave a file that tells of something else than what runs.
func (e edges) changed(to edges) (list []string) {
	tell := func(file, what string) {
		list = append(list, fmt.Sprintf("%s: %s otherwise than in the running site; start lookgate again to take it, or put it back", file, what))
	}
	if !reflect.DeepEqual(e.listen, to.listen) {
		tell(site.StationsFile, "listen stands")
	}
	if !slices.Equal(e.stations, to.stations) {
		tell(site.StationsFile, "stations stand")
	}
	if !slices.Equal(e.devices, to.devices) {
		return list // the engine says so itself: it knows which panels they light
	}
	for i, w := range e.wires {
		if w != to.wires[i] {
			tell(site.DevicesFile, e.devices[i]+" is reached")
		}
	}
	return list
}
