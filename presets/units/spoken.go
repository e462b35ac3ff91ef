package units

import (
	"fmt"
	"time"
)

// Spoken gives a time as people say it: "45 min", "1 min 30 s", "2.5 s".
func Spoken(d time.Duration) string {
	minutes, rest := d/time.Minute, d%time.Minute
	switch {
	case minutes == 0:
		return fmt.Sprintf("%v s", rest.Seconds())
	case rest == 0:
		return fmt.Sprintf("%d min", minutes)
	}
	return fmt.Sprintf("%d min %v s", minutes, rest.Seconds())
}

// UpToSeconds rounds a time up to whole seconds, so that who waits for so long has waited long enough.
func UpToSeconds(d time.Duration) time.Duration {
	if whole := d.Truncate(time.Second); whole < d {
		return whole + time.Second
	}
	return d
}
