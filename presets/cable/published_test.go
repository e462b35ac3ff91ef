package cable_test

import (
	"encoding/csv"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/cable"
	"lookgate/presets/units"
)

// table reads a published table: one map a row, by the words of its head.
func table(t *testing.T, name string) []map[string]string {
	f, err := os.Open("../../testdata/published/" + name)
	require.NoError(t, err)
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	var rows []map[string]string
	seen := map[string]bool{}
	for _, line := range lines[1:] {
		row := map[string]string{}
		for i, word := range lines[0] {
			row[word] = line[i]
		}
		require.False(t, seen[row["id"]], "%s twice", row["id"])
		require.NotEmpty(t, row["source"], row["id"])
		seen[row["id"]] = true
		rows = append(rows, row)
	}
	require.NotEmpty(t, rows)
	return rows
}

func number(t *testing.T, row map[string]string, key string) float64 {
	v, err := strconv.ParseFloat(row[key], 64)
	require.NoError(t, err, "%s %s", row["id"], key)
	return v
}

func sizeOf(t *testing.T, row map[string]string) cable.Size {
	s, ok := cable.ParseSize(row["size"])
	require.True(t, ok, row["id"])
	return s
}

func strandingOf(t *testing.T, word string) cable.Stranding {
	for _, s := range []cable.Stranding{cable.Solid, cable.Stranded, cable.Coated, cable.Class2, cable.Class5} {
		if s.String() == word {
			return s
		}
	}
	require.Fail(t, "no stranding", word)
	return 0
}

// near holds a figure to its row, and the reading that the row excludes away from it.
func near(t *testing.T, row map[string]string, expected, tolerance, excluded, got float64) {
	require.InDelta(t, expected, got, tolerance, row["id"])
	if excluded != expected {
		require.Greater(t, abs(excluded-got), tolerance, "%s would pass with the reading that it excludes", row["id"])
	}
}

func abs(v float64) float64 { return max(v, -v) }

func TestPublishedResistances(t *testing.T) {
	for _, row := range table(t, "cable-resistance.csv") {
		r, ok := cable.Resistance(sizeOf(t, row), strandingOf(t, row["stranding"]), units.Celsius(number(t, row, "at_c")))
		require.True(t, ok, row["id"])
		got := float64(r) * 1000
		if row["unit"] == "ohm/kft" {
			got = float64(r) * 304.8
		}
		near(t, row, number(t, row, "expected"), number(t, row, "tolerance"), number(t, row, "excludes"), got)
	}
}

func TestPublishedReactances(t *testing.T) {
	for _, row := range table(t, "cable-reactance.csv") {
		x, ok := cable.Reactance(sizeOf(t, row))
		require.True(t, ok, row["id"])
		near(t, row, number(t, row, "expected_ohm_per_kft"), number(t, row, "tolerance"), number(t, row, "excludes"), float64(x)*304.8)
	}
}

// TestPublishedTemperatures brings a resistance from one temperature to another: the published factor is the second over the first.
func TestPublishedTemperatures(t *testing.T) {
	for _, row := range table(t, "cable-temperature.csv") {
		size, stranding := "2.5 mm²", cable.Class2
		if row["rule"] == "NEC" {
			size, stranding = "12 AWG", cable.Stranded
		}
		s, _ := cable.ParseSize(size)
		from, ok1 := cable.Resistance(s, stranding, units.Celsius(number(t, row, "from_c")))
		to, ok2 := cable.Resistance(s, stranding, units.Celsius(number(t, row, "to_c")))
		require.True(t, ok1 && ok2, row["id"])
		near(t, row, number(t, row, "expected"), number(t, row, "tolerance"), number(t, row, "excludes"), float64(to/from))
	}
}

func TestPublishedAmpacities(t *testing.T) {
	for _, row := range table(t, "cable-ampacity.csv") {
		a, ok := cable.Ampacity(cable.Table(row["table"]), sizeOf(t, row))
		require.True(t, ok, row["id"])
		near(t, row, number(t, row, "expected_a"), 1e-9, number(t, row, "excludes_a"), float64(a))
	}
}

func TestPublishedFactors(t *testing.T) {
	for _, row := range table(t, "cable-factors.csv") {
		at := number(t, row, "at")
		var got units.Share
		ok := true
		switch row["what"] {
		case "ambient":
			got, ok = cable.AmbientFactor(units.Celsius(number(t, row, "by")), units.Celsius(at))
		case "together":
			got = cable.GroupingFactor(int(at))
		case "harmonic":
			var byNeutral bool
			got, byNeutral = cable.HarmonicFactor(units.Share(at))
			require.Equal(t, row["by"] == "neutral", byNeutral, row["id"])
		default:
			require.Fail(t, "no such factor", row["what"])
		}
		if row["expected"] == "none" {
			require.False(t, ok, row["id"])
			continue
		}
		require.True(t, ok, row["id"])
		near(t, row, number(t, row, "expected"), 1e-9, number(t, row, "excludes"), float64(got))
	}
}

func TestPublishedCablesAsLaid(t *testing.T) {
	for _, row := range table(t, "cable-laid.csv") {
		a, ok1 := cable.Ampacity(cable.Table(row["table"]), sizeOf(t, row))
		ambient, ok2 := cable.AmbientFactor(units.Celsius(number(t, row, "insulation_c")), units.Celsius(number(t, row, "ambient_c")))
		require.True(t, ok1 && (ok2 || row["insulation_c"] == "75"), row["id"])
		got := float64(a) * float64(ambient) * float64(cable.GroupingFactor(int(number(t, row, "together"))))
		near(t, row, number(t, row, "expected_a"), 1e-9, number(t, row, "excludes_a"), got)
	}
}
