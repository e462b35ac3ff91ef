package papers

import (
	"fmt"
	"strings"

	"lookgate/presets/rig"
)

// address gives a panel's place on its wall: "C3R1".
func (s *sheet) address(panel int) string {
	p := s.rig.Panels[panel]
	return fmt.Sprintf("C%dR%d", p.Column, p.Row)
}

// inOrder lists a chain's panels in few words: "bay C1R1→C1R9, C2R9→C2R1". A wall's name stands where it changes.
func (s *sheet) inOrder(panels []int) string {
	var words []string
	wall := -1
	for i := 0; i < len(panels); {
		n := s.straight(panels[i:])
		word := s.address(panels[i])
		if n > 1 {
			word += "→" + s.address(panels[i+n-1])
		}
		if at := s.rig.Panels[panels[i]].Wall; at != wall {
			wall, word = at, s.rig.Walls[at].Name+" "+word
		}
		words, i = append(words, word), i+n
	}
	return strings.Join(words, ", ")
}

// straight gives how many panels at the beginning of a chain stand in one line, each beside the one before.
func (s *sheet) straight(panels []int) int {
	n := 1
	for ; n < len(panels); n++ {
		dx, dy := s.step(panels[n-1], panels[n])
		if dx*dx+dy*dy != 1 || s.rig.Panels[panels[n]].Wall != s.rig.Panels[panels[0]].Wall {
			break
		}
		if fx, fy := s.step(panels[0], panels[1]); n > 1 && (dx != fx || dy != fy) {
			break
		}
	}
	return n
}

func (s *sheet) step(from, to int) (dx, dy int) {
	a, b := s.rig.Panels[from], s.rig.Panels[to]
	return b.Column - a.Column, b.Row - a.Row
}

// each lists a chain's panels one by one.
func (s *sheet) each(panels []int) string {
	var words []string
	for _, p := range panels {
		words = append(words, s.rig.PanelName(p))
	}
	return strings.Join(words, "; ")
}

// numbers prints poles: "1 3".
func numbers(list []int) string { return strings.Trim(fmt.Sprint(list), "[]") }

// legs prints the legs that a circuit stands on: "L1 L2", or with the neutral "L1 N".
func (s *sheet) legs(c rig.Circuit) string {
	legs := s.rig.Legs(c)
	words := legWords(legs)
	if len(legs) == 1 {
		words += " N"
	}
	return words
}

func legWords(legs []int) string {
	var words []string
	for _, l := range legs {
		words = append(words, fmt.Sprintf("L%d", l+1))
	}
	return strings.Join(words, " ")
}

// breaker prints what stands on a breaker: "20 A", "C 16 A".
func breaker(c rig.Circuit) string {
	words := fmt.Sprintf("%g A", float64(c.Breaker))
	if c.Curve != rig.NoCurve {
		words = c.Curve.String() + " " + words
	}
	return words
}

// residual prints a residual-current device: "30 mA".
func residual(c rig.Circuit) string {
	if c.Residual == 0 {
		return ""
	}
	return fmt.Sprintf("%g mA", 1000*float64(c.Residual))
}
