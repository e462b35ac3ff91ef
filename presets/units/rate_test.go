package units_test

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"lookgate/presets/units"
)

// TestPublishedRates plays testdata/published/rates.csv. Each row names the wrong formula that it is there to exclude; that formula is computed beside
// the right one and must give another answer, so that no row can pass whatever the code does.
func TestPublishedRates(t *testing.T) {
	f, err := os.Open("../../testdata/published/rates.csv")
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Equal(t, []string{"id", "name", "input", "expected", "excludes", "source"}, rows[0])
	require.GreaterOrEqual(t, len(rows)-1, 20)
	for _, row := range rows[1:] {
		t.Run(row[0]+" "+row[1], func(t *testing.T) {
			require.NotEmpty(t, row[5], "a row says where its figure comes from")
			words := strings.Fields(row[2])
			require.Equal(t, row[3], right(words))
			wrong := wrongRates[row[4]]
			require.NotNil(t, wrong, "no formula stands for %q", row[4])
			require.NotEqual(t, row[3], wrong(words), "the row does not exclude what it says")
		})
	}
}

// right answers a row's input with the package's own functions.
func right(words []string) string {
	switch words[0] {
	case "parse":
		r, err := units.ParseRate(words[1])
		if err != nil {
			_, instead, _ := strings.Cut(err.Error(), "; ")
			return instead
		}
		return r.String()
	case "multiple":
		return fmt.Sprint(parsed(words[1]).Multiple(parsed(words[2])))
	case "bits":
		n, _ := strconv.ParseInt(words[1], 10, 64)
		return plain(float64(parsed(words[2]).Times(n)))
	}
	return "no such input"
}

func parsed(s string) units.Rate {
	r, err := units.ParseRate(s)
	if err != nil {
		panic(err)
	}
	return r
}

// number reads a rate as the nearest floating-point number.
func number(s string) float64 {
	num, den, ok := strings.Cut(s, "/")
	n, _ := strconv.ParseFloat(num, 64)
	if !ok {
		return n
	}
	d, _ := strconv.ParseFloat(den, 64)
	return n / d
}

func plain(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// twoDecimals gives a rate as people say it: 59.94.
func twoDecimals(s string) float64 { return math.Round(number(s)*100) / 100 }

// wrongRates are the formulas that rows exclude.
var wrongRates = map[string]func([]string) string{
	"two decimals": func(w []string) string { return fmt.Sprintf("%.2f", number(w[1])) },
	"always a fraction": func(w []string) string {
		num, _, _ := strings.Cut(w[1], "/")
		return num + "/1"
	},
	"terms as written":       func(w []string) string { return w[1] },
	"decimal taken as exact": func(w []string) string { return plain(number(w[1])) },
	"remainder dropped":      func(w []string) string { return fmt.Sprint(math.Floor(number(w[1]) / number(w[2]))) },
	"remainder added":        func(w []string) string { return fmt.Sprint(math.Floor(number(w[1])/number(w[2])) + 1) },
	"remainder dropped from whole rates": func(w []string) string {
		return fmt.Sprint(int(math.Floor(number(w[1]))) / int(math.Ceil(number(w[2]))))
	},
	"nominal rates": func(w []string) string {
		a, b := number(w[1]), math.Round(number(w[2]))
		if w[0] == "bits" {
			return plain(a * b)
		}
		return plain(math.Floor(math.Round(a) / b))
	},
	"decimal rate": func(w []string) string { return plain(math.Ceil(number(w[1]) * twoDecimals(w[2]))) },
	"bytes":        func(w []string) string { return plain(number(w[1]) / 8 * number(w[2])) },
	"decimals cut off": func(w []string) string {
		return plain(math.Floor(number(w[1]) * number(w[2])))
	},
	"rounded to the nearest bit": func(w []string) string {
		return plain(math.Round(number(w[1]) * number(w[2])))
	},
}

func TestParseRateRefuses(t *testing.T) {
	for _, s := range []string{"", "0", "-24", "24/0", "0/1001", "24000/-1001", "NaN", "Inf", "1e3", "0x18", "24fps", "24/1/1", "24000 1001",
		"99999999999999999999", "100000001", "24000/100000001", "1_000", "p1"} {
		t.Run(s, func(t *testing.T) {
			_, err := units.ParseRate(s)
			require.Error(t, err)
		})
	}
}

func TestParseRateKeepsDecimalsThatAreNearNothing(t *testing.T) {
	for _, s := range []string{"12.5", "23.5", "23.9", "59.5", "59.9", "24.5", "74.9"} {
		t.Run(s, func(t *testing.T) {
			r, err := units.ParseRate(s)
			require.NoError(t, err)
			require.Equal(t, number(s), float64(r.Num)/float64(r.Den))
		})
	}
}

// TestTwinsOfRatesThatHaveNone: 25, 50 and 100 have no 1000/1001 twin, so a decimal near one is a decimal.
func TestTwinsOfRatesThatHaveNone(t *testing.T) {
	for _, s := range []string{"24.975", "49.95", "99.9"} {
		_, err := units.ParseRate(s)
		require.NoError(t, err, s)
	}
	_, err := units.ParseRate("95.904")
	require.EqualError(t, err, "95.904 is only near a frame rate; write 96000/1001")
}
