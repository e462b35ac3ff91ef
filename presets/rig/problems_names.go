package rig

import (
	"fmt"
	"slices"
	"strings"
)

// maxBlocks is how many blocks of panels a sentence names before it only counts.
const maxBlocks = 4

// PanelName gives a panel's place: "bay C3R1".
func (r *Rig) PanelName(panel int) string {
	p := r.Panels[panel]
	return fmt.Sprintf("%s C%dR%d", r.Walls[p.Wall].Name, p.Column, p.Row)
}

// PanelNames gives the places of many panels in few words, as blocks: "bay C1R1..C2R9, bay C4R1". It names the first four blocks and counts the
// panels of the others.
func (r *Rig) PanelNames(panels []int) string {
	blocks := r.blocks(panels)
	var names []string
	rest := 0
	for i, b := range blocks {
		if i < maxBlocks {
			names = append(names, r.blockName(b))
		} else {
			rest += b.size()
		}
	}
	text := strings.Join(names, ", ")
	if rest > 0 {
		text += fmt.Sprintf(" and %d more", rest)
	}
	return text
}

// block is a rectangle of panels without a hole.
type block struct{ wall, left, right, bottom, top int }

func (b block) size() int { return (b.right - b.left + 1) * (b.top - b.bottom + 1) }

func (r *Rig) blockName(b block) string {
	first := fmt.Sprintf("%s C%dR%d", r.Walls[b.wall].Name, b.left, b.bottom)
	if b.size() == 1 {
		return first
	}
	return fmt.Sprintf("%s..C%dR%d", first, b.right, b.top)
}

// blocks puts panels together: first those of one column that stand on each other, then columns of the same height that stand side by side.
func (r *Rig) blocks(panels []int) []block {
	var blocks []block
	for _, col := range r.stacks(panels) {
		if n := len(blocks); n > 0 {
			last := &blocks[n-1]
			if last.wall == col.wall && last.right+1 == col.left && last.bottom == col.bottom && last.top == col.top {
				last.right = col.right
				continue
			}
		}
		blocks = append(blocks, col)
	}
	return blocks
}

// stacks gives the unbroken vertical lines of the panels, by wall, column and row.
func (r *Rig) stacks(panels []int) []block {
	var stacks []block
	for _, i := range r.sorted(panels) {
		p := r.Panels[i]
		if n := len(stacks); n > 0 {
			last := &stacks[n-1]
			if last.wall == p.Wall && last.left == p.Column && last.top+1 >= p.Row {
				last.top = max(last.top, p.Row)
				continue
			}
		}
		stacks = append(stacks, block{p.Wall, p.Column, p.Column, p.Row, p.Row})
	}
	return stacks
}

func (r *Rig) sorted(panels []int) []int {
	s := slices.Clone(panels)
	slices.SortFunc(s, func(a, b int) int {
		p, q := r.Panels[a], r.Panels[b]
		switch {
		case p.Wall != q.Wall:
			return p.Wall - q.Wall
		case p.Column != q.Column:
			return p.Column - q.Column
		default:
			return p.Row - q.Row
		}
	})
	return s
}

// counted gives "1 panel is" or "7 panels are".
func counted(n int) string {
	if n == 1 {
		return "1 panel is"
	}
	return fmt.Sprintf("%d panels are", n)
}
