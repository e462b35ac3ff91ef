package papers

import (
	"fmt"
	"strconv"
	"strings"

	"lookgate/presets/rig"
)

// pole is one place of a board.
type pole struct {
	number  int
	leg     string
	circuit int // -1: free
	first   bool
}

// polesOf lists a board's places in order.
func (s *sheet) polesOf(board int) []pole {
	b := s.rig.Boards[board]
	poles := make([]pole, b.Poles)
	for i := range poles {
		poles[i] = pole{i + 1, fmt.Sprintf("L%d", b.LegOf(i+1, s.rig.Supply.System)+1), -1, false}
	}
	for i, c := range s.rig.Circuits {
		if c.Board != board {
			continue
		}
		for k, n := range c.Poles {
			poles[n-1].circuit, poles[n-1].first = i, k == 0
		}
	}
	return poles
}

// words gives what stands beside a pole: the breaker, and what it feeds.
func (s *sheet) words(p pole) (of, feeds string) {
	if p.circuit < 0 {
		return "", "free"
	}
	c := s.rig.Circuits[p.circuit]
	if !p.first {
		return "″", c.Name + ", with pole " + strconv.Itoa(c.Poles[0])
	}
	of = breaker(c)
	if c.Residual > 0 {
		of += ", " + residual(c)
	}
	return of, fmt.Sprintf("%s: %s, %s", c.Name, s.rig.PanelNames(c.Panels), count(len(c.Panels), "panel"))
}

// boards makes the directories, as they hang in the boards' doors.
func (s *sheet) boards() section {
	sec := section{Title: "Board directories"}
	for i, b := range s.rig.Boards {
		t := s.ways(i)
		if b.Numbering == rig.OddEven {
			t = s.oddEven(i)
		}
		t.Caption = "Board " + b.Name + ": " + s.boardWords(i)
		sec.Tables = append(sec.Tables, t)
		if rest := s.withoutPoles(i); len(rest.Rows) > 0 {
			sec.Tables = append(sec.Tables, rest)
		}
	}
	return sec
}

// oddEven puts odd poles at the left and even ones at the right, as they stand in the panelboard.
func (s *sheet) oddEven(board int) table {
	t := table{Class: "directory own", Columns: columns("feeds", "breaker", "leg", "pole>", "pole", "leg", "breaker", "feeds")}
	poles := s.polesOf(board)
	for i := 0; i < len(poles); i += 2 {
		of, feeds := s.words(poles[i])
		row := []string{feeds, of, poles[i].leg, strconv.Itoa(poles[i].number), "", "", "", ""}
		if i+1 < len(poles) {
			of, feeds = s.words(poles[i+1])
			row[4], row[5], row[6], row[7] = strconv.Itoa(poles[i+1].number), poles[i+1].leg, of, feeds
		}
		t.add(row...)
	}
	return t
}

// ways puts one way under the other.
func (s *sheet) ways(board int) table {
	t := table{Class: "ways own", Columns: columns("way>", "leg", "breaker", "feeds")}
	for _, p := range s.polesOf(board) {
		of, feeds := s.words(p)
		t.add(strconv.Itoa(p.number), p.leg, of, feeds)
	}
	return t
}

// withoutPoles lists what the rig puts on a board without saying on which poles.
func (s *sheet) withoutPoles(board int) table {
	t := table{Class: "ways", Caption: "Also on board " + s.rig.Boards[board].Name + "; the rig does not say on which poles",
		Columns: columns("what", "legs", "A>")}
	for _, l := range s.rig.Loads {
		if l.Board == board {
			t.add("load "+l.Name, legWords(l.Legs), number(l.Current, 1))
		}
	}
	for i, b := range s.rig.Boards {
		if from, ok := s.rig.Fed(i); ok && from == board {
			t.add("board "+b.Name+", main", legWords([]int{0, 1, 2}[:s.rig.Supply.System.Legs()]), number(b.Main, 0))
		}
	}
	return t
}

// boardWords says what feeds a board, and what it may carry.
func (s *sheet) boardWords(board int) string {
	b := s.rig.Boards[board]
	words := []string{"fed by " + s.feederOf(board), fmt.Sprintf("main %g A", float64(b.Main))}
	if b.Neutral > 0 {
		words = append(words, fmt.Sprintf("neutral %g A", float64(b.Neutral)))
	}
	words = append(words, "continuous loads up to "+b.Factor.String()+" of the main")
	if b.Residual > 0 {
		words = append(words, fmt.Sprintf("residual-current device %g mA", 1000*float64(b.Residual)))
	}
	return strings.Join(words, ", ")
}

// feederOf names what feeds a board, and through which cable.
func (s *sheet) feederOf(board int) string {
	words := s.sourceOf(board)
	if f := s.rig.Boards[board].Feeder; f != nil {
		words += fmt.Sprintf(" over %v of %s", f.Length, s.cableWords(f.Cable))
		if f.Sets > 1 {
			words += fmt.Sprintf(", %d sets", f.Sets)
		}
	}
	return words
}

func (s *sheet) sourceOf(board int) string {
	if from, ok := s.rig.Fed(board); ok {
		return "board " + s.rig.Boards[from].Name
	}
	return "supply " + s.rig.Supply.Name
}

// boardsFile lists every pole of every board.
func (s *sheet) boardsFile() File {
	t := table{Columns: columns("board", "pole>", "leg", "circuit", "first pole", "breaker A>", "curve", "residual mA>", "panels>", "feeds")}
	for i, b := range s.rig.Boards {
		for _, p := range s.polesOf(i) {
			row := []string{b.Name, strconv.Itoa(p.number), p.leg, "", "", "", "", "", "", ""}
			if p.circuit >= 0 {
				c := s.rig.Circuits[p.circuit]
				row[3], row[4], row[5], row[8], row[9] = c.Name, strconv.Itoa(c.Poles[0]), number(c.Breaker, 1), strconv.Itoa(len(c.Panels)), s.rig.PanelNames(c.Panels)
				if c.Curve != rig.NoCurve {
					row[6] = c.Curve.String()
				}
				row[7] = number(1000*c.Residual, 1)
			}
			t.add(row...)
		}
	}
	return t.file("boards.csv")
}
