package osc

import (
	"context"
	"fmt"
	"math"
	"net"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"lookgate/presets/engine"
	"lookgate/presets/rig"
	"lookgate/presets/units"
)

// twoDevices is a rig whose device 1 has outputs 1 and 2, at the addresses 1 and 2.
func twoDevices(class rig.Class) *rig.Rig {
	return &rig.Rig{
		Devices: []rig.Device{{Name: "left", Class: rig.Silent}, {Name: "right", Class: class}},
		Outputs: []rig.Output{{Name: "wing-1", Device: 0, Address: "1"}, {Name: "bay-1", Device: 1, Address: "1"}, {Name: "bay-2", Device: 1, Address: "2"}},
	}
}

func openDevice(t *testing.T, class rig.Class, address, listen string, report func(engine.Report)) *Device {
	t.Helper()
	d, err := NewDevice(twoDevices(class), 1, DeviceConfig{Address: address, Listen: listen})
	require.NoError(t, err)
	require.NoError(t, d.Open(report))
	t.Cleanup(func() { require.NoError(t, d.Close()) })
	return d
}

func levels(values ...units.Level) []units.Level { return values }

func next(t *testing.T, reports <-chan engine.Report) engine.Report {
	t.Helper()
	select {
	case r := <-reports:
		return r
	case <-time.After(patience):
		t.Fatal("no report came")
		return engine.Report{}
	}
}

// wall is a device on a socket of its own.
func wall(t *testing.T) *net.UDPConn {
	t.Helper()
	conn, err := net.ListenUDP("udp", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
	require.NoError(t, err)
	t.Cleanup(func() { conn.Close() })
	require.NoError(t, conn.SetDeadline(time.Now().Add(patience)))
	return conn
}

// TestDeviceAskAndReport: the ask reaches the device, and its report to where the
// ask came from reaches us, in the rig's order whatever the order it tells in.
func TestDeviceAskAndReport(t *testing.T) {
	for _, row := range []struct {
		class  rig.Class
		head   []any
		number uint64
	}{
		{rig.Numbered, []any{int64(17), int32(12), int32(2)}, 17},
		{rig.Reporting, []any{int32(12), int32(2)}, 0},
	} {
		t.Run(row.class.String(), func(t *testing.T) {
			conn := wall(t)
			reports := make(chan engine.Report, 16)
			d := openDevice(t, row.class, conn.LocalAddr().String(), "", func(r engine.Report) { reports <- r })
			require.Equal(t, "right", d.Name())
			require.NoError(t, d.Write(context.Background(), engine.Action{Kind: engine.Ask, Number: 21}))
			buffer := make([]byte, 1500)
			n, from, err := conn.ReadFromUDP(buffer)
			require.NoError(t, err)
			want := message(t, "/wall/ask")
			if row.class == rig.Numbered { // an ask fences off everything older, so it has a number too
				want = message(t, "/wall/ask", int64(21))
			}
			require.Equal(t, string(want), string(buffer[:n]))
			_, err = conn.WriteToUDP(message(t, "/wall/report", append(row.head, "2", float32(0.8), false, "1", float32(0.2), true)...), from)
			require.NoError(t, err)
			require.Equal(t, engine.Report{Device: 1, Number: row.number, Picture: engine.Picture{Layout: 12, Mode: 2},
				Levels: levels(0.2, 0.8), Black: []bool{true, false}}, next(t, reports))
		})
	}
}

// TestDeviceBadReports: what is no whole report of this device is passed over,
// and does not end the reading.
func TestDeviceBadReports(t *testing.T) {
	conn := wall(t)
	reports := make(chan engine.Report, 64)
	d := openDevice(t, rig.Numbered, conn.LocalAddr().String(), "127.0.0.1:0", func(r engine.Report) { reports <- r })
	one, two := []any{"1", float32(0.2), true}, []any{"2", float32(0.8), false}
	report := func(parts ...[]any) []byte {
		var all []any
		for _, p := range parts {
			all = append(all, p...)
		}
		return message(t, "/wall/report", all...)
	}
	head := []any{int64(17), int32(12), int32(2)}
	for name, packet := range map[string][]byte{
		"not OSC":                []byte("hello, wall"),
		"another address":        message(t, "/wall/hello"),
		"no arguments":           message(t, "/wall/report"),
		"no outputs":             report(head),
		"an output missing":      report(head, one),
		"an output twice":        report(head, one, one),
		"an unknown output":      report(head, one, []any{"3", float32(0.8), false}),
		"an output too many":     report(head, one, two, two),
		"a level above 1":        report(head, one, []any{"2", float32(1.1), false}),
		"a level below 0":        report(head, one, []any{"2", float32(-0.1), false}),
		"a level that is none":   report(head, one, []any{"2", float32(math.NaN()), false}),
		"a level as text":        report(head, one, []any{"2", "0.8", false}),
		"black as text":          report(head, one, []any{"2", float32(0.8), "no"}),
		"an address as number":   report(head, one, []any{int32(2), float32(0.8), false}),
		"no number":              report([]any{int32(12), int32(2)}, one, two),
		"a negative number":      report([]any{int64(-1), int32(12), int32(2)}, one, two),
		"a number as text":       report([]any{"17", int32(12), int32(2)}, one, two),
		"a layout as text":       report([]any{int64(17), "12", int32(2)}, one, two),
		"a mode as text":         report([]any{int64(17), int32(12), "2"}, one, two),
		"a report of the future": bundle(TimeTagOf(time.Now().Add(time.Hour)), report(head, one, two)),
	} {
		_, err := conn.WriteTo(packet, d.conn.LocalAddr())
		require.NoError(t, err, name)
	}
	good := report([]any{int64(99), int32(12), int32(2)}, one, two)
	_, err := conn.WriteTo(good, d.conn.LocalAddr())
	require.NoError(t, err)
	require.Equal(t, uint64(99), next(t, reports).Number, "the good one is the first that gets through")
	require.Empty(t, reports)
}

// TestDeviceOtherHosts: what another host says of a device is not believed.
func TestDeviceOtherHosts(t *testing.T) {
	other, err := net.ListenUDP("udp", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 2)})
	if err != nil {
		t.Skip("this system has one loopback address only")
	}
	defer other.Close()
	conn := wall(t)
	reports := make(chan engine.Report, 16)
	d := openDevice(t, rig.Reporting, conn.LocalAddr().String(), "127.0.0.1:0", func(r engine.Report) { reports <- r })
	for i, from := range []*net.UDPConn{other, conn} {
		_, err := from.WriteTo(message(t, "/wall/report", int32(i), int32(0), "1", float32(0), false, "2", float32(0), false), d.conn.LocalAddr())
		require.NoError(t, err)
	}
	require.Equal(t, 1, next(t, reports).Picture.Layout)
}

func TestDeviceWriteErrors(t *testing.T) {
	d := openDevice(t, rig.Numbered, wall(t).LocalAddr().String(), "", func(engine.Report) {})
	ctx := context.Background()
	require.EqualError(t, d.Write(ctx, engine.Action{Kind: engine.SendLevel, Output: 0}), "device right has no output 0")
	require.EqualError(t, d.Write(ctx, engine.Action{Kind: engine.Commit}), "device right: commit is nothing to send to a device")
	done, cancel := context.WithCancel(ctx)
	cancel()
	require.ErrorIs(t, d.Write(done, engine.Action{Kind: engine.Ask}), context.Canceled)
	late, cancel := context.WithDeadline(ctx, time.Now().Add(-time.Second))
	defer cancel()
	require.ErrorIs(t, d.Write(late, engine.Action{Kind: engine.Ask}), context.DeadlineExceeded)
	require.NoError(t, d.Write(ctx, engine.Action{Kind: engine.Ask}), "a deadline of an earlier write is not kept")
	require.NoError(t, d.Close())
	require.EqualError(t, d.Write(ctx, engine.Action{Kind: engine.Ask}), "device right is not open")
}

// TestDeviceWithNobodyThere: a device that is switched off makes no write fail,
// for a failed write is one that certainly never left.
func TestDeviceWithNobodyThere(t *testing.T) {
	gone := wall(t)
	address := gone.LocalAddr().String()
	require.NoError(t, gone.Close())
	d := openDevice(t, rig.Numbered, address, "", func(engine.Report) {})
	for range 20 {
		require.NoError(t, d.Write(context.Background(), engine.Action{Kind: engine.Ask}))
	}
}

func TestDeviceConfiguration(t *testing.T) {
	for _, row := range []struct {
		name string
		edit func(*rig.Rig)
		text string
	}{
		{"an address with a space", func(r *rig.Rig) { r.Outputs[2].Address = "left 2" }, `device right: output bay-2: address "left 2" cannot stand in an OSC address`},
		{"no address", func(r *rig.Rig) { r.Outputs[2].Address = "" }, `device right: output bay-2: address "" cannot stand in an OSC address`},
		{"an address twice", func(r *rig.Rig) { r.Outputs[2].Address = "1" }, `device right: output bay-2: address "1" is taken by another output`},
		{"more outputs than a report holds", func(r *rig.Rig) {
			for i := range 300 {
				r.Outputs = append(r.Outputs, rig.Output{Device: 1, Address: fmt.Sprintf("output-%d", i)})
			}
		}, "device right: a report on its 302 outputs takes"},
	} {
		r := twoDevices(rig.Numbered)
		row.edit(r)
		_, err := NewDevice(r, 1, DeviceConfig{Address: "127.0.0.1:9"})
		require.ErrorContains(t, err, row.text, row.name)
	}
	for _, row := range []struct{ name, address, listen, text string }{
		{"no host", ":9000", "", `":9000" is no address to send to`},
		{"no port", "127.0.0.1", "", `"127.0.0.1" is no address to send to`},
		{"no listening port", "127.0.0.1:9", "127.0.0.1", `"127.0.0.1" is no address to listen on`},
	} {
		d, err := NewDevice(twoDevices(rig.Numbered), 1, DeviceConfig{Address: row.address, Listen: row.listen})
		require.NoError(t, err)
		require.ErrorContains(t, d.Open(func(engine.Report) {}), row.text, row.name)
		require.NoError(t, d.Close())
	}
}

// TestDeviceLevelsSurviveTheWire: a level on any step of an 8-bit and a 16-bit
// device reads as that step on the other side.
func TestDeviceLevelsSurviveTheWire(t *testing.T) {
	d, err := NewDevice(twoDevices(rig.Reporting), 1, DeviceConfig{})
	require.NoError(t, err)
	for _, steps := range []int{255, 65535} {
		for i := 0; i <= steps; i += max(1, steps/5000) {
			level := units.Level(float64(i) / float64(steps))
			address, arguments, err := d.compose(engine.Action{Kind: engine.SendLevel, Output: 1, Level: level})
			require.NoError(t, err)
			require.True(t, strings.HasSuffix(address, "/level"))
			n, err := one(t, arguments...).Number(0)
			require.NoError(t, err)
			require.Equal(t, i, units.Level(n).Index(steps))
			require.Equal(t, level, units.Level(n).Up(steps))
		}
	}
}
