package record

import (
	"errors"
	"fmt"
	"sync/atomic"
	"syscall"

	"github.com/ncruces/go-sqlite3"
	"github.com/ncruces/go-sqlite3/vfs"
)

// Op is one operation on the database file or its write-ahead log, told to Options.Fault before it happens.
type Op struct {
	Kind   OpKind
	File   string // path
	Offset int64  // of a read or write; the new size of a truncation
	Data   []byte // what is written; valid only during the call
}

// OpKind says what an operation does.
type OpKind uint8

// The operations.
const (
	OpOpen OpKind = iota
	OpRead
	OpWrite
	OpFlush
	OpTruncate
	OpDelete
)

// String names the operation.
func (k OpKind) String() string {
	return [...]string{"open", "read", "write", "flush", "truncate", "delete"}[k]
}

// layers counts the file layers of this process: SQLite finds them by name.
var layers atomic.Uint64

// faultLayer registers a file layer that asks fault before every operation, and returns its name and how to let go of it. Without a fault there is
// no layer: a daemon runs on SQLite's plain one.
func faultLayer(fault func(Op) error) (name string, release func()) {
	if fault == nil {
		return "", nil
	}
	name = fmt.Sprintf("lookgate-fault-%d", layers.Add(1))
	vfs.Register(name, &faultVFS{VFSFilename: vfs.Find("os").(vfs.VFSFilename), fault: fault})
	return name, func() { vfs.Unregister(name) }
}

// faultVFS passes everything on to the plain file layer after it has asked.
type faultVFS struct {
	vfs.VFSFilename
	fault func(Op) error
}

func (v *faultVFS) OpenFilename(name *vfs.Filename, flags vfs.OpenFlag) (vfs.File, vfs.OpenFlag, error) {
	if err := v.ask(Op{Kind: OpOpen, File: name.String()}); err != nil {
		return nil, flags, err
	}
	f, flags, err := v.VFSFilename.OpenFilename(name, flags)
	if err != nil {
		return nil, flags, err
	}
	return &faultFile{File: f, vfs: v, name: name.String()}, flags, nil
}

func (v *faultVFS) Delete(name string, syncDir bool) error {
	if err := v.ask(Op{Kind: OpDelete, File: name}); err != nil {
		return err
	}
	return v.VFSFilename.Delete(name, syncDir)
}

// ask turns the fault's error into the code that SQLite would have had from a real disk.
func (v *faultVFS) ask(op Op) error {
	err := v.fault(op)
	if err == nil {
		return nil
	}
	if op.Kind == OpWrite && (errors.Is(err, ErrDiskFull) || errors.Is(err, syscall.ENOSPC)) {
		return vfs.SystemError(err, sqlite3.FULL)
	}
	return err // the layer above gives it the operation's own I/O error code
}

// faultFile is one open file of a faultVFS.
type faultFile struct {
	vfs.File
	vfs  *faultVFS
	name string
}

func (f *faultFile) ReadAt(p []byte, off int64) (int, error) {
	if err := f.vfs.ask(Op{Kind: OpRead, File: f.name, Offset: off}); err != nil {
		return 0, err
	}
	return f.File.ReadAt(p, off)
}

func (f *faultFile) WriteAt(p []byte, off int64) (int, error) {
	if err := f.vfs.ask(Op{Kind: OpWrite, File: f.name, Offset: off, Data: p}); err != nil {
		return 0, err
	}
	return f.File.WriteAt(p, off)
}

func (f *faultFile) Sync(flags vfs.SyncFlag) error {
	if err := f.vfs.ask(Op{Kind: OpFlush, File: f.name}); err != nil {
		return err
	}
	return f.File.Sync(flags)
}

func (f *faultFile) Truncate(size int64) error {
	if err := f.vfs.ask(Op{Kind: OpTruncate, File: f.name, Offset: size}); err != nil {
		return err
	}
	return f.File.Truncate(size)
}

// SharedMemory gives SQLite the index of the write-ahead log; without it the database could not be in WAL mode.
func (f *faultFile) SharedMemory() vfs.SharedMemory {
	if shared, ok := f.File.(vfs.FileSharedMemory); ok {
		return shared.SharedMemory()
	}
	return nil
}
