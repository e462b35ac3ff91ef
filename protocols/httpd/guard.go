package httpd

import (
	"log"
	"net/http"
	"strings"
)

// contentPolicy lets a page load and talk to nothing but this daemon, run no script that stands inside a page, and stand in no other site's frame.
const contentPolicy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; connect-src 'self'; " +
	"base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

// securityHeaders go out with every answer, refusals included.
var securityHeaders = [][2]string{
	{"Content-Security-Policy", contentPolicy},
	{"X-Content-Type-Options", "nosniff"},
	{"X-Frame-Options", "DENY"}, // for browsers that do not know frame-ancestors
	{"Referrer-Policy", "no-referrer"},
	{"Cross-Origin-Resource-Policy", "same-origin"},
	{"Cross-Origin-Opener-Policy", "same-origin"},
	{"Permissions-Policy", "camera=(), geolocation=(), microphone=()"},
}

// guard stands before every path. The host check refuses a name that somebody pointed at this machine (DNS rebinding): a browser then takes the page
// and the daemon for one origin, and only the Host header still tells. The origin check refuses other sites' pages. A program that is no browser sends
// no Origin and may send any Host; the guard does not hold such a program back.
type guard struct {
	hosts hostList
	next  http.Handler
	log   *log.Logger
}

func (g *guard) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	for _, h := range securityHeaders {
		w.Header().Set(h[0], h[1])
	}
	status, why := g.judge(r)
	if status == 0 {
		g.next.ServeHTTP(w, r)
		return
	}
	g.log.Printf("refused %d %s %q from %s: %s", status, r.Method, r.URL.Path, r.RemoteAddr, strings.ReplaceAll(why, "\n", "; "))
	if status == http.StatusMethodNotAllowed {
		w.Header().Set("Allow", "GET, HEAD")
	}
	w.Header().Set("Connection", "close")
	http.Error(w, why, status)
}

// judge gives 0 where the request may pass, else the status and the reason.
func (g *guard) judge(r *http.Request) (int, string) {
	if !g.hosts.allows(r.Host) {
		return http.StatusMisdirectedRequest, "this is not a host that lookgate answers for\nuse the address that it printed, or list the host in the site"
	}
	origins := r.Header.Values("Origin")
	if len(origins) > 1 || len(origins) == 1 && !g.hosts.allowsOrigin(origins[0]) {
		return http.StatusForbidden, "a page of another origin asked\nopen the panel at the address that lookgate printed"
	}
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		return http.StatusMethodNotAllowed, "only GET and HEAD are known here\ncommands go over the WebSocket"
	}
	if r.ContentLength != 0 {
		return http.StatusRequestEntityTooLarge, "a request here has no body\nsend it without one"
	}
	return 0, ""
}
