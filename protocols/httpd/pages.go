package httpd

import (
	"encoding/json"
	"fmt"
	"net/http"
	"time"

	"lookgate/protocols"
)

// oldView is how long a daemon may be silent before what it tells counts as old.
const oldView = 2 * time.Second

// pages tells what the daemon knows, as data.
type pages struct {
	desk protocols.Desk
	age  func() time.Duration
}

func (p pages) mount(mux *http.ServeMux) {
	mux.HandleFunc("/state", func(w http.ResponseWriter, _ *http.Request) { tell(w, http.StatusOK, p.desk.View()) })
	mux.HandleFunc("/plant", func(w http.ResponseWriter, _ *http.Request) { tell(w, http.StatusOK, PlantOf(p.desk.Rig())) })
	mux.HandleFunc("/healthz", p.health)
}

// Health is what GET /healthz tells.
type Health struct {
	Status  string   `json:"status"` // "ok" or "sick"
	Reasons []string `json:"reasons,omitempty"`
}

// health answers 503 only where the daemon has stopped doing anything. A full disk is told as sick with 200: starting the daemon anew would not mend
// it, and whoever restarts what answers 503 must not be told to.
func (p pages) health(w http.ResponseWriter, _ *http.Request) {
	h, status := Health{Status: "ok"}, http.StatusOK
	if p.age != nil {
		if age := p.age(); age > oldView {
			h.Reasons = append(h.Reasons, fmt.Sprintf("the daemon has done nothing for %.1f s", age.Seconds()))
			status = http.StatusServiceUnavailable
		}
	}
	v := p.desk.View()
	if v.DiskSick != "" {
		h.Reasons = append(h.Reasons, "raising has stopped: "+v.DiskSick)
	}
	if len(v.Reload) > 0 {
		h.Reasons = append(h.Reasons, "the site's files have problems, and the site before them is running")
	}
	if len(h.Reasons) > 0 {
		h.Status = "sick"
	}
	tell(w, status, h)
}

// tell writes one value as JSON that nobody may keep.
func tell(w http.ResponseWriter, status int, v any) {
	text, err := json.Marshal(v)
	if err != nil {
		http.Error(w, "the state cannot be told: "+err.Error()+"\nthis is a fault in lookgate", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	_, _ = w.Write(append(text, '\n')) // a reader that went away is no fault of ours
}
