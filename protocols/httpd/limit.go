package httpd

import (
	"net"
	"sync"
)

// limited closes at once what comes while the most connections are open that may be, so that a crowd that only connects can neither fill memory nor
// make anybody wait.
type limited struct {
	net.Listener
	slots chan struct{}
}

func limit(l net.Listener, most int) net.Listener { return &limited{l, make(chan struct{}, most)} }

func (l *limited) Accept() (net.Conn, error) {
	for {
		c, err := l.Listener.Accept()
		if err != nil {
			return nil, err
		}
		select {
		case l.slots <- struct{}{}:
			return &counted{Conn: c, release: sync.OnceFunc(func() { <-l.slots })}, nil
		default:
			_ = c.Close()
		}
	}
}

// counted gives its slot back when it closes, also after a handler took it over.
type counted struct {
	net.Conn
	release func()
}

func (c *counted) Close() error {
	defer c.release()
	return c.Conn.Close()
}
