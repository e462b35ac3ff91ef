package osc

import (
	"fmt"
	"math"
	"strconv"

	"lookgate/presets/engine"
	"lookgate/presets/finding"
	"lookgate/presets/units"
)

// refusal is why a message became no command.
type refusal struct {
	code     finding.Code
	sentence string
}

func (r *refusal) Error() string { return r.sentence }

func badArguments(format string, args ...any) error {
	return &refusal{finding.BadArguments, fmt.Sprintf(format, args...)}
}

// reader fills in a command of its route's verb from a message; name is what the
// address has at the placeholder. It returns false where the message is a key
// that was let go, which asks for nothing.
//
// The rule of keys, for every reader but those of levels and stops: after the
// arguments that the verb needs there may be one more, the state of the key; F
// and a numeric 0 are its release. [Message.Release] looks at the last argument
// alone, so /lookgate/recall 0 is a release too; no preset has number 0.
type reader func(c *engine.Command, m Message, name string) (bool, error)

// command makes the command that a message asks of a method.
func (m method) command(message Message) (c engine.Command, asks bool, err error) {
	c.Verb = m.route.verb
	asks, err = m.route.read(&c, message, m.name)
	return c, asks, err
}

// trigger is a verb that needs no argument.
func trigger(c *engine.Command, m Message, name string) (bool, error) {
	c.Target = name
	return pressed(m, 0)
}

// pressed reads the state of the key after so many arguments.
func pressed(m Message, needed int) (bool, error) {
	if m.Release() {
		return false, nil
	}
	if len(m.Arguments) > needed+1 {
		return false, badArguments("%d arguments, at most %d and a key's state are taken", len(m.Arguments), needed)
	}
	if len(m.Arguments) == needed+1 {
		if _, err := m.Switch(needed); err != nil {
			return false, badArguments("%v", err)
		}
	}
	return true, nil
}

// presetArgument takes the preset's number, or its name, as first argument.
func presetArgument(c *engine.Command, m Message, _ string) (bool, error) {
	if m.Release() {
		return false, nil
	}
	if m.IsText(0) {
		c.Target, _ = m.Text(0)
		if c.Target == "" {
			return false, badArguments("argument 1 is an empty name")
		}
		return pressed(m, 1)
	}
	n, err := m.Whole(0)
	if err != nil {
		return false, badArguments("%v", err)
	}
	if err := presetNumber(c, n); err != nil {
		return false, err
	}
	return pressed(m, 1)
}

func presetNumber(c *engine.Command, n int64) error {
	if n < 1 || n > math.MaxInt32 {
		return badArguments("%d is no preset number, they begin at 1", n)
	}
	c.Preset = int(n)
	return nil
}

// presetAddress takes the preset's number from the address.
func presetAddress(c *engine.Command, m Message, name string) (bool, error) {
	if m.Release() {
		return false, nil
	}
	n, err := strconv.ParseInt(name, 10, 32)
	if err != nil {
		return false, badArguments("%q in the address is no preset number", name)
	}
	if err := presetNumber(c, n); err != nil {
		return false, err
	}
	return pressed(m, 0)
}

// presetScale takes the preset from the address and a scale as argument: the way
// to say what a remedy says. A 0 is the scale 0 here, not a key.
func presetScale(c *engine.Command, m Message, name string) (bool, error) {
	scale, err := oneNumber(m)
	if err != nil {
		return false, err
	}
	_, err = presetAddress(c, Message{}, name)
	c.Level, c.HasLevel = units.Level(scale), true
	return true, err
}

// level takes one number, and the zone from the address where it has one. Whether
// it is from 0 to 1 is for the engine to say; that it is a number at all is said
// here, since nothing behind this can write NaN down.
func level(c *engine.Command, m Message, name string) (bool, error) {
	n, err := oneNumber(m)
	c.Target, c.Level, c.HasLevel = name, units.Level(n), true
	return true, err
}

// stops takes one number.
func stops(c *engine.Command, m Message, _ string) (bool, error) {
	n, err := oneNumber(m)
	c.Stops = units.Stops(n)
	return true, err
}

func oneNumber(m Message) (float64, error) {
	n, err := m.Number(0)
	switch {
	case err != nil && m.has(0) && m.isNumeric(0):
		return 0, &refusal{finding.BadLevel, err.Error()}
	case err != nil:
		return 0, badArguments("%v", err)
	case len(m.Arguments) > 1:
		return 0, badArguments("%d arguments where one number belongs", len(m.Arguments))
	}
	return n, nil
}

// attestArguments takes the output's name and the word dark.
func attestArguments(c *engine.Command, m Message, _ string) (bool, error) {
	if m.Release() {
		return false, nil
	}
	output, err := m.Text(0)
	if err != nil {
		return false, badArguments("%v", err)
	}
	state, err := m.Text(1)
	if err != nil {
		return false, badArguments("%v", err)
	}
	if state != "dark" {
		return false, badArguments("argument 2 is %q, an output can be attested \"dark\" and nothing else", state)
	}
	c.Target = output
	return pressed(m, 2)
}

// identify takes the part's name from the address.
func identify(part engine.Part) reader {
	return func(c *engine.Command, m Message, name string) (bool, error) {
		c.Part = part
		return trigger(c, m, name)
	}
}

// identifyArguments takes the kind of part and its name: the way to say a name with a space in it, as panels have.
func identifyArguments(c *engine.Command, m Message, _ string) (bool, error) {
	if m.Release() {
		return false, nil
	}
	for i, to := range []*string{(*string)(&c.Part), &c.Target} {
		text, err := m.Text(i)
		if err != nil {
			return false, badArguments("%v", err)
		}
		*to = text
	}
	return pressed(m, 2)
}

// prove takes the circuit from the address, and who proved it as an argument that may be left out.
func prove(c *engine.Command, m Message, name string) (bool, error) {
	if m.Release() {
		return false, nil
	}
	c.Target = name
	if !m.IsText(0) {
		return pressed(m, 0)
	}
	c.By, _ = m.Text(0)
	return pressed(m, 1)
}

// unprove takes a proof back.
func unprove(c *engine.Command, m Message, name string) (bool, error) {
	c.Off = true
	return trigger(c, m, name)
}

// blackout takes nothing, a zone, a switch, or a zone and a switch. T, I and
// every number but 0 make black, and only F lets go. A numeric 0 is the release
// of a key and does nothing: whoever hits the key of a panel in an emergency
// and takes the finger off it must not bring the wall up again by that.
func blackout(c *engine.Command, m Message, _ string) (bool, error) {
	at := 0
	if m.IsText(0) {
		c.Target, _ = m.Text(0)
		at = 1
	}
	if len(m.Arguments) > at+1 {
		return false, badArguments("%d arguments, a zone and a switch are taken", len(m.Arguments))
	}
	if !m.has(at) {
		return true, nil
	}
	on, err := m.Switch(at)
	if err != nil {
		return false, badArguments("%v", err)
	}
	c.Off = !on
	return on || m.Tags[at] == 'F', nil
}
