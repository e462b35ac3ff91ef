package units

import (
	"fmt"
	"math/big"
	"strconv"
	"strings"
)

// Rate is a frame rate as an exact fraction of frames per second, in lowest terms: 24000/1001, not 23.976.
type Rate struct{ Num, Den int64 }

// NewRate makes a rate in lowest terms. It fails on anything that is not above zero.
func NewRate(num, den int64) (Rate, error) {
	if num <= 0 || den <= 0 {
		return Rate{}, fmt.Errorf("a rate is above zero, not %d/%d", num, den)
	}
	g := gcd(num, den)
	return Rate{num / g, den / g}, nil
}

// ParseRate reads "60", "24000/1001" or an exact decimal such as "12.5". A decimal that only stands near a 1000/1001 rate ("23.976", "59.94")
// is refused with the fraction that is meant, since a clock that runs at the decimal drifts.
func ParseRate(s string) (Rate, error) {
	s = strings.TrimSpace(s)
	if num, den, ok := strings.Cut(s, "/"); ok {
		n, err1 := strconv.ParseInt(strings.TrimSpace(num), 10, 64)
		d, err2 := strconv.ParseInt(strings.TrimSpace(den), 10, 64)
		if err1 != nil || err2 != nil || n > maxRatePart || d > maxRatePart {
			return Rate{}, fmt.Errorf("%q is no rate", s)
		}
		return NewRate(n, d)
	}
	r, ok := new(big.Rat).SetString(s)
	if !ok || strings.ContainsAny(s, "eExXpP_") || len(s) > 20 || !r.Num().IsInt64() || !r.Denom().IsInt64() || r.Num().Int64() > maxRatePart {
		return Rate{}, fmt.Errorf("%q is no rate", s)
	}
	if n := nearTwin(r); n > 0 {
		return Rate{}, fmt.Errorf("%s is only near a frame rate; write %d/1001", s, n*1000)
	}
	return NewRate(r.Num().Int64(), r.Denom().Int64())
}

// maxRatePart keeps pixels times bits times a rate inside what 64 bits hold.
const maxRatePart = 100_000_000

// nearTwin gives n where a decimal is a short form of n × 1000/1001 and n is a whole multiple of 6, which are the rates that have such a twin (CTA-861);
// 0 where it is not. Near is half a hundredth: "23.98" is as short as people write.
func nearTwin(r *big.Rat) int64 {
	if r.IsInt() {
		return 0
	}
	up := new(big.Rat).Mul(r, big.NewRat(1001, 1000))
	n := new(big.Rat).Add(up, big.NewRat(1, 2))
	whole := new(big.Int).Quo(n.Num(), n.Denom())
	off := up.Sub(up, new(big.Rat).SetInt(whole))
	if off.Abs(off).Cmp(big.NewRat(1, 200)) > 0 || !whole.IsInt64() || whole.Int64()%6 != 0 {
		return 0
	}
	return whole.Int64()
}

// Valid reports whether the rate is above zero.
func (r Rate) Valid() bool { return r.Num > 0 && r.Den > 0 }

// String prints a whole rate as the number and any other as the fraction, as exactframerate of ST 2110-20 does.
func (r Rate) String() string {
	if r.Den == 1 {
		return strconv.FormatInt(r.Num, 10)
	}
	return fmt.Sprintf("%d/%d", r.Num, r.Den)
}

// Multiple gives n where r is exactly n times base, and 0 where it is no whole multiple.
func (r Rate) Multiple(base Rate) int64 {
	n, d := big.NewInt(r.Num), big.NewInt(r.Den)
	n.Mul(n, big.NewInt(base.Den))
	d.Mul(d, big.NewInt(base.Num))
	q, rest := new(big.Int).QuoRem(n, d, new(big.Int))
	if rest.Sign() != 0 || !q.IsInt64() {
		return 0
	}
	return q.Int64()
}

// Times gives so many bits a frame as bits per second, rounded up to the next whole bit so that a comparison with a link errs safe.
func (r Rate) Times(bits int64) BitsPerSecond {
	v := new(big.Int).Mul(big.NewInt(bits), big.NewInt(r.Num))
	v.Add(v, big.NewInt(r.Den-1)).Div(v, big.NewInt(r.Den))
	f, _ := new(big.Float).SetInt(v).Float64()
	return BitsPerSecond(f)
}

func gcd(a, b int64) int64 {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}
