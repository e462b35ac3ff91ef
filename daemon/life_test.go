package daemon_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/daemon"
	"lookgate/daemon/daemontest"
	"lookgate/daemon/files"
	"lookgate/daemon/record"
	"lookgate/presets/engine"
	"lookgate/protocols"
)

// story is what surfaces and devices did, in order.
type story struct {
	mu    sync.Mutex
	lines []string
}

func (y *story) tell(format string, args ...any) {
	y.mu.Lock()
	defer y.mu.Unlock()
	y.lines = append(y.lines, fmt.Sprintf(format, args...))
}

func (y *story) all() []string {
	y.mu.Lock()
	defer y.mu.Unlock()
	return append([]string(nil), y.lines...)
}

// surface is a fake of function fields.
type surface struct {
	name  string
	story *story
	open  func() error
	serve func(context.Context) error
}

func (f *surface) Name() string { return f.name }
func (f *surface) Addr() string { return "nowhere" }

func (f *surface) Open() error {
	f.story.tell("%s opens", f.name)
	if f.open != nil {
		return f.open()
	}
	return nil
}

func (f *surface) Serve(ctx context.Context) error {
	f.story.tell("%s serves", f.name)
	if f.serve != nil {
		return f.serve(ctx)
	}
	<-ctx.Done()
	return nil
}

func (f *surface) Close() error {
	f.story.tell("%s closes", f.name)
	return nil
}

// staged gives a daemon with surfaces and devices that tell the story.
func staged(t *testing.T, surfaces ...*surface) (*daemontest.Stage, *story) {
	y := &story{}
	s := daemontest.New(t, func(o *daemon.Options) {
		o.Surfaces = func(desk protocols.Desk) []protocols.Surface {
			require.NotNil(t, desk.View())
			require.NotNil(t, desk.Rig())
			require.Empty(t, desk.Record(10))
			var out []protocols.Surface
			for _, f := range surfaces {
				f.story = y
				out = append(out, f)
			}
			return out
		}
	})
	for _, d := range s.Devices {
		d.OnOpen = func() error { y.tell("%s opens", d.Name()); return nil }
		d.OnClose = func() error { y.tell("%s closes", d.Name()); return nil }
		d.OnWrite = func(engine.Action) error { return nil }
	}
	return s, y
}

func TestEveryListenerOpensBeforeAnyServesAndAllCloseInReverse(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s, y := staged(t, &surface{name: "osc"}, &surface{name: "http"})
		require.NoError(t, s.Start())
		synctest.Wait()
		lines := y.all()
		require.Equal(t, []string{"proc1 opens", "proc2 opens", "osc opens", "http opens"}, lines[:4])
		require.ElementsMatch(t, []string{"osc serves", "http serves"}, lines[4:])
		require.NoError(t, s.Stop())
		require.Equal(t, []string{"http closes", "osc closes", "proc2 closes", "proc1 closes"}, y.all()[6:])
		lock, err := files.LockFolder(t.TempDir())
		require.NoError(t, err)
		require.NoError(t, lock.Unlock())
	})
}

func TestAFailedOpenReleasesWhatWasOpened(t *testing.T) {
	taken := errors.New("address already in use")
	rows := []struct {
		name  string
		fail  func(*daemontest.Stage, *surface)
		error string
		story []string
	}{
		{"the second surface", func(_ *daemontest.Stage, f *surface) { f.open = func() error { return taken } }, "http: address already in use",
			[]string{"proc1 opens", "proc2 opens", "osc opens", "http opens", "osc closes", "proc2 closes", "proc1 closes"}},
		{"the second device", func(s *daemontest.Stage, _ *surface) { s.Devices[1].OnOpen = func() error { return taken } }, "device proc2: address already in use",
			[]string{"proc1 opens", "proc1 closes"}},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				http := &surface{name: "http"}
				s, y := staged(t, &surface{name: "osc"}, http)
				row.fail(s, http)
				err := s.Start()
				require.ErrorIs(t, err, taken)
				require.EqualError(t, err, row.error)
				require.Equal(t, row.story, y.all(), "something served, or stayed open")
				again := daemontest.Again(t, s.Store, nil)
				require.NoError(t, again.Start())
				require.NoError(t, again.Stop())
			})
		})
	}
}

func TestAStateFolderTakesOneDaemon(t *testing.T) {
	dir := t.TempDir()
	here := func(o *daemon.Options) { o.StateDir = dir }
	first := daemontest.Start(t, here)
	second := daemontest.New(t, here)
	var held *files.HeldError
	require.ErrorAs(t, second.Start(), &held)
	require.NoError(t, first.Stop())
	third := daemontest.New(t, here)
	require.NoError(t, third.Start())
	require.NoError(t, third.Stop())
}

func TestAStopWithADeviceThatHangsTakesFiveSecondsAtMost(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := daemontest.New(t, nil)
		require.NoError(t, s.Start())
		daemontest.Confirmed(t, s)
		hang := make(chan struct{})
		s.Devices[0].Set(func(d *daemontest.Device) {
			d.Hang = hang
			d.OnClose = func() error { <-hang; return nil }
		})
		s.Store.Set(func(st *daemontest.Store) {})
		daemontest.Order(s, recall(1)).Answer(t)
		<-time.After(100 * time.Millisecond)
		began := time.Now()
		err := s.Stop()
		require.LessOrEqual(t, time.Since(began), 5*time.Second)
		require.ErrorContains(t, err, "end the workers: not done within 1s")
		require.ErrorContains(t, err, "close device proc1: not done within")
		require.ErrorContains(t, err, "stays locked")
		_, closes := s.Devices[1].Opened()
		require.Equal(t, 1, closes, "a device that hangs kept another open")
		require.True(t, strings.Contains(string(s.Store.Rows()[len(s.Store.Rows())-1].Payload), "stopped: epoch 1"), "the record has no end")
		close(hang)
	})
}

func TestAStopWithADiskThatHangsTakesFiveSecondsAtMost(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := daemontest.New(t, nil)
		require.NoError(t, s.Start())
		daemontest.Confirmed(t, s)
		hang := make(chan struct{})
		s.Store.Set(func(st *daemontest.Store) {
			st.OnWrite = func(*record.Kept) error { <-hang; return nil }
		})
		daemontest.Order(s, recall(1))
		<-time.After(time.Second)
		began := time.Now()
		require.ErrorContains(t, s.Stop(), "write the rest of the record: not done within 1s")
		require.LessOrEqual(t, time.Since(began), 5*time.Second)
		close(hang)
	})
}

func TestASurfaceThatStopsServingIsTold(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		gone := errors.New("the socket is gone")
		s, _ := staged(t, &surface{name: "osc", serve: func(context.Context) error { return gone }})
		require.ErrorIs(t, s.Run(context.Background()), gone)
	})
}

func TestRunEndsWithItsContext(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s, y := staged(t, &surface{name: "osc"})
		ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
		defer cancel()
		require.NoError(t, s.Run(ctx))
		require.Contains(t, y.all(), "osc closes")
	})
}

func TestOptionsAreCheckedByName(t *testing.T) {
	good := func() daemon.Options {
		p := daemontest.Plan()
		return daemon.Options{Plan: p, StateDir: "x", Devices: []protocols.Device{daemontest.NewDevice(p.Rig, 0), daemontest.NewDevice(p.Rig, 1)}}
	}
	rows := []struct {
		name  string
		spoil func(*daemon.Options)
		error string
	}{
		{"no plan", func(o *daemon.Options) { o.Plan = nil }, "daemon: Options.Plan is missing"},
		{"no folder", func(o *daemon.Options) { o.StateDir = "" }, "daemon: Options.StateDir is missing"},
		{"a device too few", func(o *daemon.Options) { o.Devices = o.Devices[:1] }, "daemon: Options.Devices has 1 devices, the rig has 2"},
		{"devices in another order", func(o *daemon.Options) { o.Devices[0], o.Devices[1] = o.Devices[1], o.Devices[0] }, "daemon: Options.Devices[0] is not device proc1 of the rig"},
		{"no device", func(o *daemon.Options) { o.Devices[1] = nil }, "daemon: Options.Devices[1] is not device proc2 of the rig"},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			o := good()
			row.spoil(&o)
			_, err := daemon.New(o)
			require.EqualError(t, err, row.error)
		})
	}
	_, err := daemon.New(good())
	require.NoError(t, err)
}
