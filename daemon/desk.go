package daemon

import (
	"lookgate/presets/engine"
	"lookgate/protocols"
)

// Order implements [protocols.Desk].
func (d *Daemon) Order(commands []engine.Command, tell protocols.Tell) []uint64 {
	return d.inbox.order(commands, tell)
}

// Reload implements [protocols.Desk].
func (d *Daemon) Reload(station string, engineer bool, tell protocols.Tell) uint64 {
	return d.Order([]engine.Command{{Station: station, Engineer: engineer, Verb: engine.ReloadSite}}, tell)[0]
}

// View implements [protocols.Desk].
func (d *Daemon) View() *engine.View { return d.sight.view.Load() }

// Watch implements [protocols.Desk].
func (d *Daemon) Watch() (changed <-chan struct{}, stop func()) { return d.sight.watch() }

// Record implements [protocols.Desk]. It gives at most [tailLines] lines, from memory: nobody who looks at the record waits for the disk or makes it wait. A line is
// there once it is on disk.
func (d *Daemon) Record(n int) []protocols.Line {
	lines := *d.disk.lines.Load()
	return append([]protocols.Line(nil), lines[len(lines)-max(0, min(n, len(lines))):]...)
}
