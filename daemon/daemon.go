// Package daemon is the one goroutine that owns the engine, and what stands around it: a bounded inbox, a worker for each device, a goroutine for the disk,
// and views for whoever watches. The engine decides everything; the daemon does what comes out and feeds the results back.
//
// Nothing that waits happens in that goroutine. The mutexes that it takes guard a few words or a short list each, and nobody waits while holding one: to hand
// over a packet, a row or a nudge never depends on a device, a disk or a watcher.
package daemon

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"sync/atomic"
	"time"

	"lookgate/daemon/files"
	"lookgate/daemon/record"
	"lookgate/presets"
	"lookgate/presets/engine"
	"lookgate/presets/rig"
	"lookgate/protocols"
)

// Options are what a daemon is made of.
type Options struct {
	Plan     *presets.Plan   // what runs at the start
	Settings engine.Settings // watch mode and the step of fades
	StateDir string          // the site's state folder; it is locked while the daemon runs
	Devices  []protocols.Device

	// Surfaces makes the ways in for stations, once there is a desk for them. It may be nil. They are opened in the order of the list, served only when all are open,
	// and closed in reverse.
	Surfaces func(protocols.Desk) []protocols.Surface

	// ReadSite reads the site's files again, for a reload: the new plan, or the problems that stand against it. It runs in a goroutine of its own. Where it is nil
	// a reload is refused.
	ReadSite func() (*presets.Plan, []string)

	// OpenStore opens the record in the state folder, which is locked by then. nil opens [record.Open].
	OpenStore func(dir string) (Store, error)

	// Uptime tells how long the machine has been up. nil asks the machine.
	Uptime func() Uptime

	Log *slog.Logger // nil logs nothing
}

// Store is what the daemon needs of the record; [*record.Store] is one. One goroutine writes; Prune may run beside it.
type Store interface {
	Load() (record.Kept, error)
	NewEpoch() (uint64, error)
	Commit(record.Batch) error
	Append([]record.JournalRow, []record.RecordRow) error
	Snapshot(record.Snapshot) error
	Prune(record.Keep) (int, error)
	Checkpoint(pages int) error
	LastJournal() uint64
	Head() (uint64, record.Hash)
	Tail(n int) ([]record.RecordRow, error)
	Close() error
}

var _ Store = (*record.Store)(nil)

// validate names the field that is wrong.
func (o *Options) validate() error {
	switch {
	case o.Plan == nil || o.Plan.Rig == nil || o.Plan.Book == nil:
		return errors.New("daemon: Options.Plan is missing")
	case o.StateDir == "":
		return errors.New("daemon: Options.StateDir is missing")
	case len(o.Devices) != len(o.Plan.Rig.Devices):
		return fmt.Errorf("daemon: Options.Devices has %d devices, the rig has %d", len(o.Devices), len(o.Plan.Rig.Devices))
	}
	for i, dev := range o.Devices {
		if dev == nil || dev.Name() != o.Plan.Rig.Devices[i].Name {
			return fmt.Errorf("daemon: Options.Devices[%d] is not device %s of the rig", i, o.Plan.Rig.Devices[i].Name)
		}
	}
	return nil
}

// Daemon is one incarnation. It implements [protocols.Desk] from Start on.
type Daemon struct {
	options Options
	log     *slog.Logger

	inbox   *inbox
	sight   sight
	plan    atomic.Pointer[presets.Plan]
	disk    *disk
	workers *workers
	loop    *loop

	failed chan error
	steps  []step // how to take down what stands, in the order in which it was put up

	mu      sync.Mutex
	started bool
	stuck   atomic.Bool // a worker did not end: it may still write
}

var _ protocols.Desk = (*Daemon)(nil)

// New makes a daemon; nothing is opened yet. The error names the field that is wrong.
func New(o Options) (*Daemon, error) {
	if err := o.validate(); err != nil {
		return nil, err
	}
	if o.OpenStore == nil {
		o.OpenStore = func(dir string) (Store, error) {
			s, err := record.Open(dir, record.Options{})
			if err != nil {
				return nil, err // not s: a nil pointer in an interface is not nil
			}
			return s, nil
		}
	}
	if o.Uptime == nil {
		o.Uptime = readUptime
	}
	d := &Daemon{options: o, log: o.Log, inbox: newInbox(len(o.Devices)), failed: make(chan error, 1)}
	if d.log == nil {
		d.log = slog.New(slog.DiscardHandler)
	}
	return d, nil
}

// Start locks the state folder, opens the record and begins an incarnation in it, opens all devices and then all surfaces, and only then lets anything run. After an
// error nothing is left open. A daemon is started once.
func (d *Daemon) Start() error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.started {
		return errors.New("daemon: started already")
	}
	d.started = true
	if err := d.open(); err != nil {
		return errors.Join(err, d.unwind())
	}
	return nil
}

func (d *Daemon) open() error {
	if err := d.openState(); err != nil {
		return err
	}
	if err := d.openDevices(); err != nil {
		return err
	}
	surfaces, err := d.openSurfaces()
	if err != nil {
		return err
	}
	d.runDisk()
	d.runWorkers()
	d.runLoop()
	d.serve(surfaces)
	return nil
}

// openState takes the folder and begins an incarnation on what is kept in it.
func (d *Daemon) openState() error {
	lock, err := files.LockFolder(d.options.StateDir)
	if err != nil {
		return err
	}
	d.push("unlock the state folder", func() error {
		if d.stuck.Load() {
			return errors.New("the state folder stays locked until this process ends: a device may still be written to")
		}
		return lock.Unlock()
	})
	store, err := d.options.OpenStore(d.options.StateDir)
	if err != nil {
		return err
	}
	d.push("end the pruning", func() error {
		if d.disk != nil {
			d.disk.pruning.Wait()
		}
		return nil
	})
	d.push("close the record", store.Close)
	row, err := store.Load()
	if err != nil {
		return err
	}
	kept, err := keptOf(row, d.options.Uptime())
	if err != nil {
		return err
	}
	if err := dropEnded(kept, store); err != nil {
		return err
	}
	epoch, err := store.NewEpoch()
	if err != nil {
		return err
	}
	return d.incarnate(store, kept, epoch)
}

// incarnate makes the engine and everything that only it feeds.
func (d *Daemon) incarnate(store Store, kept *engine.Kept, epoch uint64) error {
	d.inbox.begin(epoch)
	d.plan.Store(d.options.Plan)
	var err error
	if d.disk, err = newDisk(store, d.options.StateDir, d.inbox, d.log); err != nil {
		return err
	}
	up := d.options.Uptime()
	d.disk.stamp = stamp{up.Boot, up.Up - d.inbox.now()}
	d.workers = newWorkers(d.options.Plan.Rig, d.options.Devices, d.options.Settings.Watch, d.inbox, d.log)
	d.loop = newLoop(d, kept, epoch, store.LastJournal())
	d.loop.introduce(store, kept)
	return nil
}

// openDevices makes every wire ready. In watch mode none is touched: another way of working has them.
func (d *Daemon) openDevices() error {
	if d.options.Settings.Watch {
		return nil
	}
	for i, dev := range d.options.Devices {
		if err := dev.Open(func(r engine.Report) { d.inbox.report(i, r) }); err != nil {
			return fmt.Errorf("device %s: %w", dev.Name(), err)
		}
		d.push("close device "+dev.Name(), dev.Close)
	}
	return nil
}

// openSurfaces binds every surface. The first that fails is told, and those before it are closed by the caller's unwinding.
func (d *Daemon) openSurfaces() ([]protocols.Surface, error) {
	if d.options.Surfaces == nil {
		return nil, nil
	}
	surfaces := d.options.Surfaces(d)
	for _, s := range surfaces {
		if err := s.Open(); err != nil {
			return nil, fmt.Errorf("%s: %w", s.Name(), err)
		}
		d.push("close "+s.Name(), s.Close)
	}
	return surfaces, nil
}

func (d *Daemon) runDisk() {
	go d.disk.run()
	d.push("write the rest of the record", d.disk.close)
}

func (d *Daemon) runWorkers() {
	d.workers.start()
	d.push("end the workers", func() error {
		d.stuck.Store(true) // until they have ended
		d.workers.stop()
		d.stuck.Store(false)
		return nil
	})
}

func (d *Daemon) runLoop() {
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		d.loop.run(ctx)
	}()
	d.push("end the loop", func() error {
		cancel()
		<-ended
		return nil
	})
}

// serve lets every surface serve. One that ends by itself is told to [Daemon.Failed].
func (d *Daemon) serve(surfaces []protocols.Surface) {
	ctx, cancel := context.WithCancel(context.Background())
	var serving sync.WaitGroup
	for _, s := range surfaces {
		serving.Go(func() {
			err := s.Serve(ctx)
			if ctx.Err() != nil {
				return
			}
			err = fmt.Errorf("%s: it stopped serving: %w", s.Name(), orNothing(err))
			d.log.Error(err.Error())
			select {
			case d.failed <- err:
			default:
			}
		})
	}
	if len(surfaces) == 0 {
		cancel()
		return
	}
	d.push("end the surfaces", func() error {
		cancel()
		serving.Wait()
		return nil
	})
}

func orNothing(err error) error {
	if err == nil {
		return errors.New("no reason was given")
	}
	return err
}

// Failed tells the first surface that stopped serving by itself. The daemon goes on without it; whoever runs it decides.
func (d *Daemon) Failed() <-chan error { return d.failed }

// Epoch gives the number of this incarnation; it is known from Start on.
func (d *Daemon) Epoch() uint64 { return d.loop.epoch }

// Run starts the daemon, waits for the context to end or for a surface to fail, and stops it. The error is that of the start, of the surface or of the stop.
func (d *Daemon) Run(ctx context.Context) error {
	if err := d.Start(); err != nil {
		return err
	}
	var err error
	select {
	case <-ctx.Done():
	case err = <-d.failed:
	}
	return errors.Join(err, d.Stop())
}

// Stop takes everything down in the reverse order of the start, within five seconds. What does not end in time is named in the error and left behind. A second call
// does nothing.
func (d *Daemon) Stop() error {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.unwind()
}

// The time that a stop may take, as a whole and for one step of it.
const (
	stopWithin     = 4500 * time.Millisecond
	stepWithin     = time.Second
	stepWithinLeft = 20 * time.Millisecond // once the whole is used up
)

// step is one thing that stands, and how it is taken down.
type step struct {
	name string
	undo func() error
}

func (d *Daemon) push(name string, undo func() error) { d.steps = append(d.steps, step{name, undo}) }

// unwind takes down what stands. A surface that does not end does not keep the wall's workers from ending.
func (d *Daemon) unwind() error {
	var errs []error
	until := time.Now().Add(stopWithin)
	for len(d.steps) > 0 {
		last := d.steps[len(d.steps)-1]
		d.steps = d.steps[:len(d.steps)-1]
		limit := max(min(stepWithin, time.Until(until)), stepWithinLeft)
		if err := within(limit, last.undo); err != nil {
			errs = append(errs, fmt.Errorf("%s: %w", last.name, err))
		}
	}
	return errors.Join(errs...)
}

func within(limit time.Duration, do func() error) error {
	done := make(chan error, 1)
	go func() { done <- do() }()
	timer := time.NewTimer(limit)
	defer timer.Stop()
	select {
	case err := <-done:
		return err
	case <-timer.C:
		return fmt.Errorf("not done within %v", limit.Round(time.Millisecond))
	}
}

// Rig implements [protocols.Desk].
func (d *Daemon) Rig() *rig.Rig { return d.plan.Load().Rig }
