package httpd

import "time"

// HeaderTime makes the surface wait so long for a request's headers.
func (s *Server) HeaderTime(d time.Duration) { s.server.ReadHeaderTimeout = d }

// AllowsHost judges a Host header as a listener at that port would that lists these hosts.
func AllowsHost(listed []string, port, host string) (bool, error) {
	l, err := parseHosts(listed)
	l.port = port
	return l.allows(host), err
}

// AllowsOrigin judges an Origin header in the same way.
func AllowsOrigin(listed []string, port, origin string) (bool, error) {
	l, err := parseHosts(listed)
	l.port = port
	return l.allowsOrigin(origin), err
}
