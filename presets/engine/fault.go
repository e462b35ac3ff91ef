package engine

// Fault is a mistake that can be planted, so that the trial can show that it would be found. A real daemon has none: only presets/trial and its tests set one.
type Fault uint16

// The mistakes, each of which somebody has made.
const (
	NoFault          Fault = iota
	ResumeResends          // sends the look that the disk holds when it starts
	ResumeBelieves         // takes the look that the disk holds for what the wall stands at
	GateOutside            // does not wait for the disk with what raises
	LifeFromDecision       // counts a packet's life from the decision and not from the return of the write
	OpenBreaker            // gives credit for a breaker that is open and not locked off
	WrittenIsDone          // takes a lowering as done once it is written
	AnyEcho                // takes a report's values as the newest whatever number it echoes
	TimeoutIsLoss          // takes a packet that nothing was heard of as never arrived
	CheckThenReserve       // checks every raise of a moment before it counts the first
	NumbersAgain           // begins its command numbers anew in every incarnation
	SilenceFrees           // lets a packet's life pass and does not ask again
	CountsEachLook         // counts time above a continuous limit anew for every look
	RestsAtOnce            // takes any moment at or below the limit for a rest
	ForgetsTime            // begins with rested circuits when it starts
	LowersLate             // brings a look down when its time is over, and not before
	LimitStays             // leaves the limit at the breaker's rating once a look was allowed above
	CountsTheWanted        // counts time above by what is wanted and not by what may be
	CreditByWanted         // counts on the picture that is wanted, whatever is up
	PictureUnchecked       // changes a picture without looking what the brighter one would draw
)

// Faults lists the mistakes.
var Faults = []Fault{ResumeResends, ResumeBelieves, GateOutside, LifeFromDecision, OpenBreaker, WrittenIsDone, AnyEcho, TimeoutIsLoss,
	CheckThenReserve, NumbersAgain, SilenceFrees, CountsEachLook, RestsAtOnce, ForgetsTime, LowersLate, LimitStays, CountsTheWanted, CreditByWanted, PictureUnchecked}

// String gives the mistake in words.
func (f Fault) String() string {
	return [...]string{"none", "resume re-sends", "resume believes the wanted levels", "gate outside the engine", "life counted from decision",
		"credit for an open breaker", "written taken as done", "any echo counts", "time-out taken as not applied", "check, reserve later",
		"command numbers begin again", "silence frees", "time above counted for each look", "any moment counts as a rest", "time above forgotten at a start",
		"brought down too late", "limit stays at the rating", "time above counted by what is wanted",
		"credit for a picture that is only wanted", "picture changed unchecked"}[f]
}

func (e *Engine) has(f Fault) bool { return e.set.Fault == f && f != NoFault }

// resume is what ResumeResends and ResumeBelieves do at the start.
func (e *Engine) resume() {
	for i := range e.outs {
		o := &e.outs[i]
		switch {
		case e.has(ResumeResends):
			o.driven, o.live = true, e.plan.Rig.Hold
		case e.has(ResumeBelieves):
			o.level.base, o.level.packets = o.level.base[:1], nil
			o.level.base[0] = o.goal
			o.black.base, o.black.packets = []bool{o.dark}, nil
		}
	}
}

// misread is what faults make of a packet that was just sent or written, or of time that passes.
func misread[T comparable](e *Engine, r *register[T], retry Instant) {
	switch {
	case e.has(LifeFromDecision):
		for i := range r.packets {
			if p := &r.packets[i]; !p.written {
				p.written, p.at = true, e.now
			}
		}
	case e.has(TimeoutIsLoss):
		r.keep(func(p packet[T]) bool { return !p.written || e.now < p.at+retry })
	case e.has(SilenceFrees):
		if n := r.newest(); n != nil && n.written && e.now > n.at+retry/2 {
			r.base, r.packets = []T{n.value}, nil
		}
	}
}
