package osc

import (
	"fmt"
	"strings"

	goosc "github.com/hypebeast/go-osc/osc"
)

// Encode writes one message. Arguments may be int32 (i), int64 (h), float32 (f),
// float64 (d), string (s), []byte (b), bool (T, F) and nil (N); another type, an
// address that is none and a string with a null in it are errors: the encoder
// would cut it there without a word.
func Encode(address string, arguments ...any) ([]byte, error) {
	if err := CheckAddress(address); err != nil {
		return nil, err
	}
	for i, a := range arguments {
		if s, ok := a.(string); ok && strings.ContainsRune(s, 0) {
			return nil, fmt.Errorf("osc message %s: argument %d has a null inside its string", address, i+1)
		}
	}
	packet, err := goosc.NewMessage(address, arguments...).MarshalBinary()
	if err != nil {
		return nil, fmt.Errorf("osc message %s: %w", address, err)
	}
	return packet, nil
}
