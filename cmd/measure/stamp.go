package main

import (
	"errors"
	"net"
	"net/netip"
	"syscall"
	"time"
	"unsafe"
)

// stamp asks the kernel to note when each datagram arrives at a socket. The moment at which a goroutine of this program gets to read it would count what else the
// program does meanwhile, which a device on the network does not feel. Linux; SO_TIMESTAMPNS of socket(7).
func stamp(c *net.UDPConn) error {
	raw, err := c.SyscallConn()
	if err != nil {
		return err
	}
	var set error
	err = raw.Control(func(fd uintptr) { set = syscall.SetsockoptInt(int(fd), syscall.SOL_SOCKET, syscall.SO_TIMESTAMPNS, 1) })
	return errors.Join(err, set)
}

// receive reads a datagram and when the kernel had it.
func receive(c *net.UDPConn, buffer []byte) (n int, from netip.AddrPort, at time.Time, err error) {
	beside := make([]byte, 64)
	n, beyond, _, from, err := c.ReadMsgUDPAddrPort(buffer, beside)
	if err != nil {
		return 0, from, at, err
	}
	messages, err := syscall.ParseSocketControlMessage(beside[:beyond])
	if err != nil {
		return 0, from, at, err
	}
	for _, m := range messages {
		if m.Header.Level == syscall.SOL_SOCKET && m.Header.Type == syscall.SCM_TIMESTAMPNS && len(m.Data) >= int(unsafe.Sizeof(syscall.Timespec{})) {
			ts := (*syscall.Timespec)(unsafe.Pointer(&m.Data[0]))
			return n, from, time.Unix(ts.Unix()), nil
		}
	}
	return 0, from, at, errors.New("the kernel did not say when the packet arrived")
}
