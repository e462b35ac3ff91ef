package osc

import (
	"fmt"
	"math"
	"strconv"
)

// Number returns argument i (from 0) of any numeric type: i, h, f or d. A 32-bit
// float is read as the shortest decimal that stands for it, so that a console's
// 0.8 is the 0.8 of the site's files and not 0.800000012, a little over it. NaN,
// the infinities, other types and a missing argument are errors.
func (m Message) Number(i int) (float64, error) {
	value, err := m.argument(i, "a number")
	if err != nil {
		return 0, err
	}
	n, ok := numeric(value)
	if !ok {
		return 0, m.wrongType(i, "a number (i, h, f or d)")
	}
	if math.IsNaN(n) || math.IsInf(n, 0) {
		return 0, fmt.Errorf("argument %d is %v, which is no number", i+1, n)
	}
	return n, nil
}

// Whole returns argument i (from 0) as a whole number: i, h, or an f or d
// without fraction, as consoles send numbers from fields of one type.
func (m Message) Whole(i int) (int64, error) {
	if m.has(i) {
		if n, ok := m.Arguments[i].(int64); ok { // a float64 would round it
			return n, nil
		}
	}
	n, err := m.Number(i)
	if err != nil {
		return 0, err
	}
	const exact = 1 << 53 // above it not every whole number has a float64
	if n != math.Trunc(n) || math.Abs(n) > exact {
		return 0, fmt.Errorf("argument %d is %v, not a whole number", i+1, n)
	}
	return int64(n), nil
}

// Switch returns argument i (from 0) as on or off: T or I and every number but
// 0 are on, F and 0 are off.
func (m Message) Switch(i int) (bool, error) {
	value, err := m.argument(i, "a switch")
	if err != nil {
		return false, err
	}
	if on, ok := value.(bool); ok {
		return on, nil
	}
	if _, ok := numeric(value); !ok {
		return false, m.wrongType(i, "a switch (T, F, I or a number)")
	}
	n, err := m.Number(i)
	return n != 0, err
}

// Text returns argument i (from 0) of type s or S.
func (m Message) Text(i int) (string, error) {
	value, err := m.argument(i, "a string")
	if err != nil {
		return "", err
	}
	s, ok := value.(string)
	if !ok {
		return "", m.wrongType(i, "a string (s)")
	}
	return s, nil
}

// IsText reports whether argument i (from 0) is there and is a string.
func (m Message) IsText(i int) bool {
	if !m.has(i) {
		return false
	}
	_, ok := m.Arguments[i].(string)
	return ok
}

// Release reports whether the last argument is F or a numeric 0: what a button
// sends when it is let go. It means so only for verbs that a key triggers; the
// 0 of a level is a level.
func (m Message) Release() bool {
	if len(m.Arguments) == 0 {
		return false
	}
	switch last := m.Arguments[len(m.Arguments)-1].(type) {
	case bool:
		return !last
	default:
		n, ok := numeric(last)
		return ok && n == 0
	}
}

func (m Message) has(i int) bool { return i >= 0 && i < len(m.Arguments) }

// isNumeric reports whether argument i, which is there, is of a numeric type.
func (m Message) isNumeric(i int) bool {
	_, ok := numeric(m.Arguments[i])
	return ok
}

func (m Message) argument(i int, wanted string) (any, error) {
	if !m.has(i) {
		return nil, fmt.Errorf("argument %d is missing, %s belongs there", i+1, wanted)
	}
	return m.Arguments[i], nil
}

func (m Message) wrongType(i int, wanted string) error {
	return fmt.Errorf("argument %d is of type %c, %s belongs there", i+1, m.Tags[i], wanted)
}

func numeric(value any) (float64, bool) {
	switch v := value.(type) {
	case int32:
		return float64(v), true
	case int64:
		return float64(v), true
	case float32:
		return shortest(v), true
	case float64:
		return v, true
	}
	return 0, false
}

// shortest reads a float32 through its shortest decimal form.
func shortest(f float32) float64 {
	d, err := strconv.ParseFloat(strconv.FormatFloat(float64(f), 'g', -1, 32), 64)
	if err != nil { // every form that FormatFloat writes is read
		return float64(f)
	}
	return d
}
