package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"lookgate/presets/papers"
	"lookgate/presets/site"
)

func TestPapersWritesItsFilesAndNothingElse(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "crew", "papers")
	for range 2 { // a second time they are replaced
		r := runWith("papers", filepath.Join(sites, "small"), "-to", folder, "-date", "2026-11-25")
		require.Equal(t, exitOK, r.status, r.err)
		require.Contains(t, r.out, papers.PageFile)
		require.Contains(t, r.out, "protects nothing")
	}
	entries, err := os.ReadDir(folder)
	require.NoError(t, err)
	tables := 0
	for _, e := range entries {
		if strings.HasSuffix(e.Name(), ".csv") {
			tables++
		}
	}
	require.Equal(t, tables+1, len(entries))
	text, err := os.ReadFile(filepath.Join(folder, papers.PageFile))
	require.NoError(t, err)
	for _, c := range cautions {
		require.Contains(t, string(text), c)
	}
}

func TestPapersAreOfTodayWhereNoDayIsGiven(t *testing.T) {
	folder := t.TempDir()
	before := time.Now().Format(time.DateOnly)
	require.Equal(t, exitOK, runWith("papers", filepath.Join(sites, "small"), "-to", folder).status)
	after := time.Now().Format(time.DateOnly)
	text, err := os.ReadFile(filepath.Join(folder, papers.PageFile))
	require.NoError(t, err)
	require.True(t, bytes.Contains(text, []byte(before)) || bytes.Contains(text, []byte(after)))
}

func TestPapersSaysWhyItCannot(t *testing.T) {
	small := filepath.Join(sites, "small")
	taken := filepath.Join(t.TempDir(), "file")
	require.NoError(t, os.WriteFile(taken, nil, 0o644))
	own := altered(t, "small")
	for _, c := range []struct {
		name   string
		args   []string
		status int
		says   string
	}{
		{"no folder to go to", []string{small}, exitUsage, "-to:"},
		{"no day", []string{small, "-to", t.TempDir(), "-date", "tomorrow"}, exitUsage, `"tomorrow" is no day`},
		{"no site", []string{t.TempDir() + "/none", "-to", t.TempDir()}, exitBroken, "no folder that can be read"},
		{"a broken site", []string{altered(t, "small", "main_a: 60", "main_a: -60"), "-to", t.TempDir()}, exitBroken, "main_a"},
		{"a file in the way", []string{small, "-to", taken}, exitRefused, "name a folder"},
		{"into the site", []string{own, "-to", own}, exitRefused, "a site's own folder"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := runWith(append([]string{"papers"}, c.args...)...)
			require.Equal(t, c.status, r.status)
			require.Contains(t, r.err, c.says)
		})
	}
	entries, err := os.ReadDir(own)
	require.NoError(t, err)
	require.Len(t, entries, len(site.Files), "nothing is put into the site")
}

// paper is a size of paper, in inches.
type paper struct {
	name          string
	width, height float64
}

var paperSizes = []paper{{"A4", 8.27, 11.69}, {"Letter", 8.5, 11}}

func TestThePapersPrintOnA4AndLetter(t *testing.T) {
	b := newBrowser(t)
	for _, name := range []string{"small", "iec", "demo"} {
		folder := t.TempDir()
		require.Equal(t, exitOK, runWith("papers", filepath.Join(sites, name), "-to", folder, "-date", "2026-11-25").status)
		require.NoError(t, chromedp.Do(b.ctx, chromedp.Navigate("file://"+filepath.Join(folder, papers.PageFile))))
		sections, err := chromedp.Run(b.ctx, chromedp.Evaluate[int](`document.querySelectorAll('section').length`))
		require.NoError(t, err)
		for _, size := range paperSizes {
			t.Run(name+" "+size.name, func(t *testing.T) {
				pdf := b.print(t, size)
				require.True(t, bytes.HasPrefix(pdf, []byte("%PDF-")))
				pages := len(regexp.MustCompile(`/Type\s*/Page\b`).FindAll(pdf, -1))
				require.Greater(t, pages, sections, "each section begins a page")
				require.LessOrEqual(t, pages, 2*sections+3, "and no page is wasted")
				requireText(t, pdf, pages, name)
			})
		}
		require.True(t, b.holds(`[...document.querySelectorAll('table, svg.wall, p')].every(e => e.getBoundingClientRect().right <= document.body.getBoundingClientRect().right + 1)`),
			"nothing is wider than the page")
	}
	b.quiet()
}

// print prints the page that is open, as a person would.
func (b *browser) print(t *testing.T, size paper) []byte {
	t.Helper()
	r, err := chromedp.Call(b.ctx, page.PrintToPDF, page.PrintToPDFParams{PaperWidth: size.width, PaperHeight: size.height})
	require.NoError(t, err)
	return r.Data
}

// requireText looks for what has to stand on paper, where a tool that reads the text of a PDF is there: the caution on every page, and every panel's address in each
// of the four elevations of its wall. What is cut off at an edge is not in the text.
func requireText(t *testing.T, pdf []byte, pages int, name string) {
	t.Helper()
	tool, err := exec.LookPath("pdftotext")
	if err != nil {
		return
	}
	file := filepath.Join(t.TempDir(), "papers.pdf")
	require.NoError(t, os.WriteFile(file, pdf, 0o644))
	text, err := exec.Command(tool, "-layout", file, "-").Output()
	require.NoError(t, err)
	require.Equal(t, pages, strings.Count(string(text), "breakers do;"))
	read, _, err := readSite(filepath.Join(sites, name))
	require.NoError(t, err)
	found := map[string]int{}
	for _, address := range regexp.MustCompile(`C\d+R\d+`).FindAllString(string(text), -1) {
		found[address]++
	}
	want := map[string]int{}
	for _, p := range read.Rig.Panels {
		want[fmt.Sprintf("C%dR%d", p.Column, p.Row)] += 4
	}
	for address, n := range want {
		require.GreaterOrEqual(t, found[address], n, address)
	}
	for _, p := range read.Book.Presets {
		require.Contains(t, string(text), p.Name[:min(len(p.Name), 5)])
	}
}
