package daemon

import (
	"os"
	"strconv"
	"strings"
	"time"

	"lookgate/presets/engine"
)

// Uptime tells how long the machine has been up, sleep counted, and which of its starts that counts from. A wall clock can be set; this one cannot, so the time between two
// incarnations is told by it. Boot is empty where it is not known.
type Uptime struct {
	Boot string
	Up   time.Duration
}

// readUptime reads it from Linux's /proc; other systems do not tell, and the time that lookgate was gone is then unknown.
func readUptime() Uptime {
	boot, err := os.ReadFile("/proc/sys/kernel/random/boot_id")
	if err != nil {
		return Uptime{}
	}
	text, err := os.ReadFile("/proc/uptime")
	if err != nil {
		return Uptime{}
	}
	first, _, _ := strings.Cut(string(text), " ")
	up, err := strconv.ParseFloat(first, 64)
	if err != nil {
		return Uptime{}
	}
	return Uptime{strings.TrimSpace(string(boot)), time.Duration(up * float64(time.Second))}
}

// stamp is when an incarnation began, as it is kept beside what a restart needs.
type stamp struct {
	Boot  string        `json:"boot,omitempty"`
	Began time.Duration `json:"began,omitempty"` // uptime at its start
}

// keptLine is what is kept of an engine's state, with the stamp of its incarnation.
type keptLine struct {
	*engine.Kept
	Stamp stamp `json:"stamp"`
}

// gone gives how long ago something was kept; 0 where nobody knows, as after a start of the machine.
func (s stamp) gone(at engine.Instant, now Uptime) time.Duration {
	if s.Boot == "" || s.Boot != now.Boot || now.Up < s.Began+at {
		return 0
	}
	return max(1, now.Up-s.Began-at)
}
