package web_test

import (
	"io/fs"
	"path"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/web"
)

// everyFile gives the panel's files by name.
func everyFile(t *testing.T) map[string]string {
	t.Helper()
	all := map[string]string{}
	require.NoError(t, fs.WalkDir(web.Files(), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		text, err := fs.ReadFile(web.Files(), name)
		all[name] = string(text)
		return err
	}))
	require.Contains(t, all, "index.html")
	return all
}

var (
	inMarkup = regexp.MustCompile(`(?:src|href)="([^"]+)"`)
	inScript = regexp.MustCompile(`(?:from|import) '([^']+)'`)
	inStyle  = regexp.MustCompile(`url\(["']?([^)"']+)`)
	address  = regexp.MustCompile(`(?i)(?:https?:)?//[a-z0-9-]+\.[a-z]`)
)

func TestEveryFileThatIsNamedIsThereAndUsed(t *testing.T) {
	all := everyFile(t)
	used := map[string]bool{"index.html": true}
	for name, text := range all {
		pattern := map[string]*regexp.Regexp{".html": inMarkup, ".js": inScript, ".css": inStyle}[path.Ext(name)]
		if pattern == nil {
			continue
		}
		for _, m := range pattern.FindAllStringSubmatch(text, -1) {
			if strings.HasPrefix(m[1], "#") {
				require.Contains(t, text, `id="`+m[1][1:]+`"`, name)
				continue
			}
			target := path.Join(path.Dir(name), m[1])
			require.Contains(t, all, target, "%s names it", name)
			used[target] = true
		}
	}
	for name := range all {
		require.True(t, used[name], "nothing uses %s", name)
	}
}

// What a site is called must never become markup, and the page must do with the listener's content policy: no script or style stands in it.
func TestThePagesKeepTheContentPolicy(t *testing.T) {
	for name, text := range everyFile(t) {
		for _, never := range []string{"innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "createContextualFragment", "DOMParser", "srcdoc", "eval(",
			"new Function", "javascript:", "setAttribute('style'", "cssText", "importScripts", "@import", "localStorage"} {
			require.NotContains(t, text, never, name)
		}
		clean := strings.ReplaceAll(text, "http://www.w3.org/2000/svg", "")
		require.Empty(t, address.FindAllString(clean, -1), "%s: nothing comes from elsewhere", name)
		if strings.HasSuffix(name, ".html") {
			require.NotRegexp(t, `<script(?:[^>]*)>[^<]+`, text, name)
			require.NotRegexp(t, `<style|\sstyle=|\son[a-z]+=`, text, name)
		}
	}
}

// Every id that a script looks for stands in the page.
func TestScriptsFindWhatTheyLookFor(t *testing.T) {
	all := everyFile(t)
	for name, text := range all {
		for _, m := range regexp.MustCompile(`byID\('([^']+)'\)`).FindAllStringSubmatch(text, -1) {
			require.Contains(t, all["index.html"], `id="`+m[1]+`"`, "%s looks for it", name)
		}
	}
}
