package site

import "strings"

// maxChoices is how many words a hint lists, maxSearch how many are compared.
const (
	maxChoices = 16
	maxSearch  = 1000
)

// suggest says what could have been meant: the nearest of the choices, else all of them.
func suggest(word string, choices []string) string {
	if near := nearest(word, choices); near != "" {
		return "did you mean " + near + "?"
	}
	switch {
	case len(choices) == 0:
		return "nothing more can stand here"
	case len(choices) > maxChoices:
		return "it can be " + strings.Join(choices[:maxChoices], ", ") + " ..."
	default:
		return "it can be " + strings.Join(choices, ", ")
	}
}

// nearest gives the choice that is one slip of the pen away, up to a third of its letters, or nothing. Of equally near ones it gives the first.
func nearest(word string, choices []string) string {
	best, least := "", 1000
	for i, c := range choices {
		if i == maxSearch {
			break
		}
		if len(word) > 64 || len(c) > 64 {
			continue
		}
		most := min(max(1, len(c)/3), len(c)-1) // one letter has no slip of the pen
		if d := distance(strings.ToLower(word), strings.ToLower(c)); d <= most && d < least {
			best, least = c, d
		}
	}
	return best
}

// distance counts the letters to change, add, leave out or swap with their neighbour to get from a to b.
func distance(a, b string) int {
	before, last, row := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(a); i++ {
		row[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			row[j] = min(last[j]+1, row[j-1]+1, last[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, last, row = last, row, before
	}
	return last[len(b)]
}
