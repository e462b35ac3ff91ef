package httpd

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io/fs"
	"net/http"
	"path"
	"strings"
)

// contentTypes are the kinds of file that the panel is made of. They are written down, since the machine's own table may call a script text, and a
// browser that may not sniff then refuses it.
var contentTypes = map[string]string{
	".html": "text/html; charset=utf-8",
	".css":  "text/css; charset=utf-8",
	".js":   "text/javascript; charset=utf-8",
	".svg":  "image/svg+xml",
	".png":  "image/png",
	".ico":  "image/x-icon",
	".txt":  "text/plain; charset=utf-8",
}

type asset struct {
	body []byte
	kind string
	tag  string
}

// assets serves files that never change, by their exact path: no folder is listed and no name outside the table is looked up.
type assets map[string]asset

// Assets reads every file of the tree whose kind it knows, and fails where one cannot be read. "/" is index.html.
func Assets(tree fs.FS) (http.Handler, error) {
	all := assets{}
	err := fs.WalkDir(tree, ".", func(name string, d fs.DirEntry, err error) error {
		kind := contentTypes[path.Ext(name)]
		if err != nil || d.IsDir() || kind == "" {
			return err
		}
		body, err := fs.ReadFile(tree, name)
		if err != nil {
			return err
		}
		sum := sha256.Sum256(body)
		all["/"+name] = asset{body, kind, `"` + hex.EncodeToString(sum[:8]) + `"`}
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("the panel's files cannot be read: %w\nthis is a fault of the build", err)
	}
	if index, ok := all["/index.html"]; ok {
		all["/"] = index
	}
	return all, nil
}

func (a assets) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	f, ok := a[r.URL.Path]
	if !ok {
		http.Error(w, "there is no such page\nthe panel is at /", http.StatusNotFound)
		return
	}
	w.Header().Set("Content-Type", f.kind)
	w.Header().Set("ETag", f.tag)
	w.Header().Set("Cache-Control", "no-cache") // a new version of lookgate shows at the next look
	if strings.Contains(r.Header.Get("If-None-Match"), f.tag) {
		w.WriteHeader(http.StatusNotModified)
		return
	}
	w.Header().Set("Content-Length", fmt.Sprint(len(f.body)))
	if r.Method != http.MethodHead {
		_, _ = w.Write(f.body) // a reader that went away is no fault of ours
	}
}
