package power_test

import (
	"math"
	"math/cmplx"
	"slices"

	"lookgate/presets/rig"
)

// formula is the textbook sum, and what a wrong one does differently.
type formula struct {
	noReturn   bool                                     // a load between legs leaves by both
	lag        func(degrees float64) float64            // what becomes of a lag
	volts      func(rig.Supply) float64                 // the voltage that every load is taken to see
	noPF       bool                                     // watts over volts
	wyeAngles  bool                                     // wye angles on a split-phase supply
	oneLeg     bool                                     // a balanced load is on leg 1 only
	balancedIn bool                                     // a balanced load has a fundamental in the neutral
	pairsIn    bool                                     // loads between legs are in the neutral
	join       func(fundamental, third float64) float64 // how the two add in the neutral
	thirdOf    func(e entry) float64                    // third harmonic that a load puts into the neutral, per amp
	inLeg      bool                                     // the third harmonic counts in a leg besides
}

// plain is the right formula by the row's state.
func (p puzzle) plain() float64 {
	if p.row["state"] == "worst" {
		return p.most(formula{})
	}
	return p.by(formula{})
}

// most is the largest over every combination of loads.
func (p puzzle) most(f formula) float64 {
	var best float64
	for set := range 1 << len(p.loads) {
		q := p
		q.loads = nil
		for i, e := range p.loads {
			if set>>i&1 == 1 {
				q.loads = append(q.loads, e)
			}
		}
		best = max(best, q.by(f))
	}
	return best
}

// amps gives a load's current.
func (f formula) amps(p puzzle, e entry) float64 {
	if e.amps > 0 {
		return e.amps
	}
	volts, pf := float64(p.supply.LineNeutral), e.pf
	if len(e.legs) == 2 {
		volts = float64(p.supply.LineLine)
	}
	if f.volts != nil {
		volts = f.volts(p.supply)
	}
	if f.noPF {
		pf = 1
	}
	return e.watts / (volts * pf)
}

// by computes the row's conductor by a formula.
func (p puzzle) by(f formula) float64 {
	var sum complex128
	var third float64
	for _, e := range p.loads {
		lag := e.lag
		if f.lag != nil {
			lag = f.lag(lag)
		}
		i := cmplx.Rect(f.amps(p, e), -lag*math.Pi/180)
		direction, t := f.leg(p, e), 0.0
		if p.conductor == "N" {
			direction, t = f.neutral(p, e)
		} else if f.inLeg && direction != 0 {
			t = e.thirdIs
		}
		sum += i * direction
		third += cmplx.Abs(i) * t
	}
	if f.join != nil {
		return f.join(cmplx.Abs(sum), third)
	}
	return math.Hypot(cmplx.Abs(sum), third)
}

func (f formula) voltage(p puzzle, leg int) complex128 {
	if f.wyeAngles {
		return voltage(rig.Wye, leg)
	}
	return voltage(p.supply.System, leg)
}

// leg gives the direction of a load's current in the row's leg.
func (f formula) leg(p puzzle, e entry) complex128 {
	at := int(p.conductor[len(p.conductor)-1]) - '1'
	where := slices.Index(e.legs, at)
	switch {
	case where < 0 || f.oneLeg && len(e.legs) == 3 && at > 0:
		return 0
	case len(e.legs) != 2:
		return f.voltage(p, at)
	}
	v := f.voltage(p, e.legs[0]) - f.voltage(p, e.legs[1])
	if where == 1 && !f.noReturn {
		v = -v
	}
	return v / complex(cmplx.Abs(v), 0)
}

// neutral gives the direction of a load's current in the neutral and its third harmonic there, per amp.
func (f formula) neutral(p puzzle, e entry) (complex128, float64) {
	third := e.thirdIs
	if p.supply.System == rig.SplitPhase && e.legs[0] == 1 {
		third = -third
	}
	if p.supply.System == rig.SinglePhase {
		third = 0
	}
	if f.thirdOf != nil {
		third = f.thirdOf(e)
	}
	switch v := f.voltage(p, e.legs[0]); {
	case len(e.legs) == 1:
		return v, third
	case len(e.legs) == 3 && f.balancedIn:
		return v, 3 * third
	case len(e.legs) == 3:
		return 0, 3 * third
	case f.pairsIn:
		return v, third
	default:
		return 0, 0
	}
}

// onLegs gives the currents of the line-to-neutral loads by leg, their lags forgotten.
func (p puzzle) onLegs() (a [3]float64) {
	for _, e := range p.loads {
		if len(e.legs) == 1 {
			a[e.legs[0]] += formula{}.amps(p, e)
		}
	}
	return a
}

func (p puzzle) largestLoad() (most float64) {
	for _, e := range p.loads {
		most = max(most, formula{}.amps(p, e))
	}
	return most
}

// faults are wrong formulas that people use. Each is excluded by at least one row of the tables.
var faults = map[string]func(p puzzle) float64{
	"arithmetic sum": func(p puzzle) float64 {
		var sum float64
		for _, e := range p.loads {
			if d := (formula{}).leg(p, e); d != 0 || p.conductor == "N" && len(e.legs) == 1 {
				sum += formula{}.amps(p, e)
			}
		}
		return sum
	},
	"the sign of the returning current lost": func(p puzzle) float64 { return p.by(formula{noReturn: true}) },
	"the sign of the lag lost":               func(p puzzle) float64 { return p.by(formula{lag: math.Abs}) },
	"every load in phase with its voltage":   func(p puzzle) float64 { return p.by(formula{lag: inPhase}) },
	"power factor forgotten":                 func(p puzzle) float64 { return p.by(formula{noPF: true}) },
	"line-to-neutral voltage for every load": func(p puzzle) float64 {
		return p.by(formula{volts: func(s rig.Supply) float64 { return float64(s.LineNeutral) }})
	},
	"line-to-line voltage for every load": func(p puzzle) float64 {
		return p.by(formula{volts: func(s rig.Supply) float64 { return float64(s.LineLine) }})
	},
	"√3 forgotten":                              puzzle.largestLoad,
	"√3 in every leg":                           func(p puzzle) float64 { return math.Sqrt(3) * p.largestLoad() },
	"top corner only":                           func(p puzzle) float64 { return p.by(formula{}) },
	"wye angles on a split-phase supply":        func(p puzzle) float64 { return p.by(formula{wyeAngles: true}) },
	"a balanced load counted on one leg":        func(p puzzle) float64 { return p.by(formula{oneLeg: true}) },
	"a balanced load counted in the neutral":    func(p puzzle) float64 { return p.by(formula{balancedIn: true}) },
	"line-to-line loads counted in the neutral": func(p puzzle) float64 { return p.by(formula{pairsIn: true}) },
	"largest leg minus smallest": func(p puzzle) float64 {
		a := p.onLegs()
		return max(a[0], a[1], a[2]) - min(a[0], a[1], a[2])
	},
	"the neutral of two legs is their difference": func(p puzzle) float64 { a := p.onLegs(); return math.Abs(a[0] - a[1]) },
	"equal power factors taken for granted":       unbalance,
	"√(a² + b² − ab) on a split-phase supply":     unbalance,
	"only third harmonics in the neutral": func(p puzzle) float64 {
		return p.by(formula{join: func(_, third float64) float64 { return third }})
	},
	"third harmonic forgotten": func(p puzzle) float64 { return p.by(formula{thirdOf: func(entry) float64 { return 0 }}) },
	"third harmonic of one leg, not three": func(p puzzle) float64 {
		return p.by(formula{join: func(f, third float64) float64 { return math.Hypot(f, third/3) }})
	},
	"third harmonic added to the fundamental arithmetically": func(p puzzle) float64 {
		return p.by(formula{join: func(f, third float64) float64 { return f + third }})
	},
	"third harmonics of opposite legs add": func(p puzzle) float64 { return p.by(formula{thirdOf: func(e entry) float64 { return e.thirdIs }}) },
	"third harmonic on top of a leg":       func(p puzzle) float64 { return p.by(formula{inLeg: true}) },
}

func inPhase(float64) float64 { return 0 }

// unbalance is the closed form for equal power factors on a wye.
func unbalance(p puzzle) float64 {
	a := p.onLegs()
	return math.Sqrt(a[0]*a[0] + a[1]*a[1] + a[2]*a[2] - a[0]*a[1] - a[1]*a[2] - a[2]*a[0])
}
