package httpd

import (
	"fmt"
	"net"
	"net/netip"
	"net/url"
	"strconv"
	"strings"
)

// hostList says under which hosts browsers may come. Loopback is always in it, at the listener's own port; so is the address that the listener is
// bound to, since an address, other than a name, cannot be pointed anywhere.
type hostList struct {
	port   string
	bound  netip.Addr        // zero where the listener is bound to every address
	listed map[string]string // name or address to its port; an empty port means the listener's own
}

// parseHosts reads what a site lists: names and addresses, each with or without a port.
func parseHosts(entries []string) (hostList, error) {
	l := hostList{listed: map[string]string{}}
	for _, e := range entries {
		host, port := e, ""
		if h, p, err := net.SplitHostPort(e); err == nil {
			host, port = h, p
		}
		host = strings.ToLower(strings.Trim(host, "[]"))
		if n, err := strconv.ParseUint(port, 10, 16); port != "" && (err != nil || n == 0) {
			return l, badHost(e)
		}
		if host == "" || strings.ContainsAny(host, "/*@ ") || strings.Contains(host, ":") && !isAddress(host) {
			return l, badHost(e)
		}
		l.listed[host] = port
	}
	return l, nil
}

func badHost(entry string) error {
	return fmt.Errorf("%q is no host\nwrite a name or an address, and a port behind a colon where it is not the listener's own", entry)
}

// with completes the list with what is known once the listener is bound.
func (l hostList) with(a net.Addr) hostList {
	if tcp, ok := a.(*net.TCPAddr); ok {
		l.port = strconv.Itoa(tcp.Port)
		if ip, ok := netip.AddrFromSlice(tcp.IP); ok && !ip.IsUnspecified() {
			l.bound = ip.Unmap()
		}
	}
	return l
}

// allows judges a Host header. One without a port means 80, the port that http leaves out.
func (l hostList) allows(host string) bool {
	name, port, ok := splitHost(host, "80")
	return ok && l.has(name, port)
}

// allowsOrigin judges an Origin header, which must be an origin and nothing more. The opaque "null" is none.
func (l hostList) allowsOrigin(origin string) bool {
	u, err := url.Parse(origin)
	if err != nil || u.Opaque != "" || u.User != nil || u.Path != "" || u.RawQuery != "" || u.Fragment != "" || u.ForceQuery {
		return false
	}
	usual := map[string]string{"http": "80", "https": "443"}[u.Scheme]
	name, port, ok := splitHost(u.Host, usual)
	return usual != "" && ok && l.has(name, port)
}

func (l hostList) has(name, port string) bool {
	if want, ok := l.listed[name]; ok && (want == port || want == "" && port == l.port) {
		return true
	}
	if port != l.port {
		return false
	}
	if name == "localhost" {
		return true
	}
	ip, err := netip.ParseAddr(name)
	return err == nil && ip.Zone() == "" && (ip.Unmap().IsLoopback() || ip.Unmap() == l.bound)
}

// splitHost gives a host's name in small letters, without brackets, and its port.
func splitHost(host, usual string) (name, port string, ok bool) {
	if host == "" {
		return "", "", false
	}
	if h, p, err := net.SplitHostPort(host); err == nil {
		return strings.ToLower(h), p, h != "" && p != ""
	}
	if inner, found := strings.CutPrefix(host, "["); found {
		inner, found = strings.CutSuffix(inner, "]")
		return strings.ToLower(inner), usual, found
	}
	return strings.ToLower(host), usual, !strings.Contains(host, ":")
}

func isAddress(s string) bool {
	_, err := netip.ParseAddr(s)
	return err == nil
}
