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

// register makes a file layer for one store and returns its name and how to let go of it.
func register(fault func(Op) error) (name string, release func()) {
	name = fmt.Sprintf("lookgate-%d", layers.Add(1))
	if fault == nil {
		fault = func(Op) error { return nil }
	}
	vfs.Register(name, &layer{VFSFilename: vfs.Find("os").(vfs.VFSFilename), fault: fault})
	return name, func() { vfs.Unregister(name) }
}

// layer lies between SQLite and its plain file layer. It asks the fault before each operation, and it tells a full disk from one that fails, which the
// plain layer of this version does not: it looks for the system's error without unwrapping it.
type layer struct {
	vfs.VFSFilename
	fault func(Op) error
}

func (l *layer) OpenFilename(name *vfs.Filename, flags vfs.OpenFlag) (vfs.File, vfs.OpenFlag, error) {
	if err := l.fault(Op{Kind: OpOpen, File: name.String()}); err != nil {
		return nil, flags, err
	}
	f, flags, err := l.VFSFilename.OpenFilename(name, flags)
	if err != nil {
		return nil, flags, err
	}
	return &layerFile{File: f, fault: l.fault, name: name.String()}, flags, nil
}

func (l *layer) Delete(name string, syncDir bool) error {
	if err := l.fault(Op{Kind: OpDelete, File: name}); err != nil {
		return err
	}
	return l.VFSFilename.Delete(name, syncDir)
}

// layerFile is one open file. It offers no shared memory and no mapping: the store must work without (see connect).
type layerFile struct {
	vfs.File
	fault func(Op) error
	name  string
}

func (f *layerFile) ReadAt(p []byte, off int64) (int, error) {
	if err := f.fault(Op{Kind: OpRead, File: f.name, Offset: off}); err != nil {
		return 0, err
	}
	return f.File.ReadAt(p, off)
}

func (f *layerFile) WriteAt(p []byte, off int64) (int, error) {
	if err := f.fault(Op{Kind: OpWrite, File: f.name, Offset: off, Data: p}); err != nil {
		return 0, coded(err)
	}
	n, err := f.File.WriteAt(p, off)
	return n, coded(err)
}

func (f *layerFile) Sync(flags vfs.SyncFlag) error {
	if err := f.fault(Op{Kind: OpFlush, File: f.name}); err != nil {
		return coded(err)
	}
	return coded(f.File.Sync(flags))
}

func (f *layerFile) Truncate(size int64) error {
	if err := f.fault(Op{Kind: OpTruncate, File: f.name, Offset: size}); err != nil {
		return coded(err)
	}
	return coded(f.File.Truncate(size))
}

// coded gives an error of a full disk SQLite's code for it. Any other gets the code of the operation that failed, from the layer above.
func coded(err error) error {
	if errors.Is(err, ErrDiskFull) || errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT) {
		return vfs.SystemError(err, sqlite3.FULL)
	}
	return err
}
