package daemon

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"hash"
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
	h := sha256.New()
	h.Write(d[:])
	fold(h, reflect.ValueOf(at))
	number(h, uint64(len(input)))
	h.Write(input)
	fold(h, reflect.ValueOf(res).Elem())
	return digest(h.Sum(nil))
}

// fold writes a value so that no two different ones give the same bytes: numbers by their bits, also those that JSON has no word for, and lengths before what they count.
func fold(h hash.Hash, v reflect.Value) {
	switch v.Kind() {
	case reflect.Bool:
		b := uint64(0)
		if v.Bool() {
			b = 1
		}
		number(h, b)
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		number(h, uint64(v.Int()))
	case reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64:
		number(h, v.Uint())
	case reflect.Float32, reflect.Float64:
		number(h, math.Float64bits(v.Float()))
	case reflect.String:
		number(h, uint64(v.Len()))
		h.Write([]byte(v.String()))
	case reflect.Slice:
		number(h, uint64(v.Len()))
		for i := range v.Len() {
			fold(h, v.Index(i))
		}
	case reflect.Pointer:
		if v.IsNil() {
			number(h, 0)
			return
		}
		number(h, 1)
		fold(h, v.Elem())
	case reflect.Struct:
		for i := range v.NumField() {
			fold(h, v.Field(i))
		}
	default:
		panic("daemon: a result holds a " + v.Kind().String() + ", which the digest does not know")
	}
}

func number(h hash.Hash, n uint64) {
	var b [8]byte
	binary.BigEndian.PutUint64(b[:], n)
	h.Write(b[:])
}
