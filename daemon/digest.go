package daemon

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"math"
	"reflect"

	"lookgate/presets/engine"
)

// digest runs over all inputs and results of an incarnation: SHA-256 over the digest before, the instant, the input as the journal has it, and the result.
type digest [sha256.Size]byte

// String gives its first half, which is enough to tell two apart.
func (d digest) String() string { return hex.EncodeToString(d[:sha256.Size/2]) }

// mark gives the few letters that stand in each row of the journal.
func (d digest) mark() string { return hex.EncodeToString(d[:4]) }

// after gives the digest after one more step.
func (d digest) after(at engine.Instant, input []byte, res *engine.Result) digest {
	to := append(make([]byte, 0, 2<<10), d[:]...)
	to = fold(to, reflect.ValueOf(at))
	to = number(to, uint64(len(input)))
	to = append(to, input...)
	to = fold(to, reflect.ValueOf(res).Elem())
	return sha256.Sum256(to)
}

// fold appends a value so that no two different ones give the same bytes: numbers by their bits, also those that JSON has no word for, and lengths before what they count.
func fold(to []byte, v reflect.Value) []byte {
	switch v.Kind() {
	case reflect.Bool:
		b := uint64(0)
		if v.Bool() {
			b = 1
		}
		return number(to, b)
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		return number(to, uint64(v.Int()))
	case reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64:
		return number(to, v.Uint())
	case reflect.Float32, reflect.Float64:
		return number(to, math.Float64bits(v.Float()))
	case reflect.String:
		return append(number(to, uint64(v.Len())), v.String()...)
	case reflect.Slice:
		to = number(to, uint64(v.Len()))
		for i := range v.Len() {
			to = fold(to, v.Index(i))
		}
		return to
	case reflect.Pointer:
		if v.IsNil() {
			return number(to, 0)
		}
		return fold(number(to, 1), v.Elem())
	case reflect.Struct:
		for i := range v.NumField() {
			to = fold(to, v.Field(i))
		}
		return to
	default:
		panic("daemon: a result holds a " + v.Kind().String() + ", which the digest does not know")
	}
}

func number(to []byte, n uint64) []byte { return binary.BigEndian.AppendUint64(to, n) }
