package papers

import (
	"bytes"
	"encoding/csv"
	"html/template"
	"strconv"
	"strings"
)

// table is rows under a head, for a page or for a file.
type table struct {
	name    string // of its file
	Caption string
	Class   string
	Columns []column
	Rows    [][]string
}

// column is one head; numbers stand at the right.
type column struct {
	Head  string
	Right bool
}

// columns makes heads; those that end in ">" are of numbers.
func columns(heads ...string) []column {
	var cs []column
	for _, h := range heads {
		name, right := strings.CutSuffix(h, ">")
		cs = append(cs, column{name, right})
	}
	return cs
}

func (t *table) add(cells ...string) { t.Rows = append(t.Rows, cells) }

// section is one chapter of the pages. It begins on a new one.
type section struct {
	Title  string
	Intro  []string
	Tables []table
	Walls  []template.HTML // drawings
	Notes  []string
}

// file gives a table as comma-separated values (RFC 4180, but for its line ends, which are plain).
func (t table) file(name string) File {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	var head []string
	for _, c := range t.Columns {
		head = append(head, c.Head)
	}
	_ = w.Write(head) // a buffer takes everything
	for _, row := range t.Rows {
		safe := make([]string, len(row))
		for i, cell := range row {
			safe[i] = inert(cell, t.Columns[i].Right)
		}
		_ = w.Write(safe)
	}
	w.Flush()
	return File{name, b.Bytes()}
}

// inert keeps a spreadsheet from taking a name for a formula.
func inert(cell string, number bool) string {
	if !number && cell != "" && strings.ContainsRune("=+-@\t\r", rune(cell[0])) {
		return "'" + cell
	}
	return cell
}

// number prints a quantity's number with so many decimals, and what is no number as a dash.
func number[T ~float64](v T, decimals int) string {
	text := strconv.FormatFloat(float64(v), 'f', decimals, 64)
	if strings.ContainsAny(text, "IN") { // infinite, or no number
		return dash
	}
	return text
}

// percent prints a share as per cent, without the sign.
func percent[T ~float64](v T) string { return number(100*float64(v), 1) }

// dash stands where nothing is known.
const dash = "–"

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return strconv.Itoa(n) + " " + what + "s"
}
