package main

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// row is one figure: ratios of one thing to its baseline, one a block, and the most that is aimed at; 0 where nothing is.
type row struct {
	what, beside string
	ratios       []float64
	goal         float64
	detail       string // the two medians, to see what the ratio is made of
}

func (r row) met() bool { return r.goal == 0 || median(r.ratios) <= r.goal }

func allMet(rows []row) bool { return !slices.ContainsFunc(rows, func(r row) bool { return !r.met() }) }

// table prints the rows as markdown.
func table(rows []row) string {
	var b strings.Builder
	b.WriteString("| what | beside | ratio, median | range | goal | medians |\n|---|---|---|---|---|---|\n")
	for _, r := range rows {
		goal := "none"
		if r.goal > 0 {
			goal = fmt.Sprintf("≤ %g: %s", r.goal, map[bool]string{true: "met", false: "not met"}[r.met()])
		}
		fmt.Fprintf(&b, "| %s | %s | %.2f | %.2f to %.2f | %s | %s |\n", r.what, r.beside, median(r.ratios), slices.Min(r.ratios), slices.Max(r.ratios), goal, r.detail)
	}
	return b.String()
}

// median gives the middle of a list, the mean of the two middle ones where there is none.
func median(list []float64) float64 {
	s := slices.Sorted(slices.Values(list))
	if n := len(s); n%2 == 0 {
		return (s[n/2-1] + s[n/2]) / 2
	}
	return s[len(s)/2]
}

// quantile gives the time that a part q of the list does not exceed.
func quantile(list []time.Duration, q float64) time.Duration {
	s := slices.Sorted(slices.Values(list))
	return s[min(len(s)-1, int(q*float64(len(s))))]
}

// quantiles gives one quantile of every block.
func quantiles(blocks [][]time.Duration, q float64) []float64 {
	var out []float64
	for _, b := range blocks {
		out = append(out, float64(quantile(b, q)))
	}
	return out
}

// ratios divides block by block.
func ratios(of, by []float64) []float64 {
	out := make([]float64, len(of))
	for i := range of {
		out[i] = of[i] / by[i]
	}
	return out
}

// beside makes the rows of two lists of blocks that took turns.
func beside(what, baseline string, of, by [][]time.Duration, goal50, goal99 float64) []row {
	var rows []row
	for _, at := range []struct {
		name string
		q    float64
		goal float64
	}{{"p50", 0.5, goal50}, {"p99", 0.99, goal99}} {
		a, b := quantiles(of, at.q), quantiles(by, at.q)
		rows = append(rows, row{what: what + ", " + at.name, beside: baseline, ratios: ratios(a, b), goal: at.goal,
			detail: fmt.Sprintf("%v / %v", time.Duration(median(a)).Round(time.Microsecond), time.Duration(median(b)).Round(time.Microsecond))})
	}
	return rows
}
