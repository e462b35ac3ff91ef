package power

import (
	"cmp"
	"math"
	"slices"
)

// arm is one kind of load as one conductor sees it: a current of unknown size in a direction.
type arm struct {
	group    int     // whose amps
	angle    float64 // degrees
	spread   float64 // degrees that the direction may be off, either way
	third    float64 // third harmonic a computed amp; its sign is the side of a split-phase supply
	form     int     // third harmonics of one form are in step, those of different forms may be anyhow to each other
	balanced bool    // on all legs: no fundamental in the neutral
	re, im   float64 // unit vector of the angle
}

// Above these numbers of arms a neutral is bounded instead of solved: the cost of its corners doubles with each (manyApart, manyBlurred) or grows with
// the square (many).
const (
	few         = 8
	many        = 24
	manyApart   = 12
	manyBlurred = 6
)

// wire is the sum on one conductor, prepared: the sizes of its arms come with each solve, their directions never change.
type wire struct {
	arms     []arm
	balanced []arm
	corners  [][]arm // sets of arms, one of which is the worst whatever the sizes; nil where box is used
	box      *sweep  // largest sum over arms from nothing to their size
	point    *sweep  // largest sum with every arm at its size; nil where all directions are known
	third    bool    // third harmonics count
	off      float64 // radians that drop may have turned any of its currents from where they are counted, either way
	corner   bool    // every corner is solved by point, since directions are unknown and third harmonics count
}

func newWire(arms []arm) wire {
	var w wire
	for _, a := range arms {
		w.third = w.third || a.third != 0
		if a.balanced {
			w.balanced = append(w.balanced, a)
			continue
		}
		w.arms = append(w.arms, a)
	}
	slices.SortStableFunc(w.arms, func(a, b arm) int { return cmp.Compare(a.form, b.form) })
	w.turn()
	w.prepare()
	return w
}

// turn counts angles from the first arm: only differences matter, and one direction alone then has no rounding in it.
func (w *wire) turn() {
	for i := len(w.arms) - 1; i >= 0; i-- {
		w.arms[i].angle -= w.arms[0].angle
		w.arms[i].re, w.arms[i].im = unit(w.arms[i].angle)
	}
	if len(w.arms) == 1 {
		w.arms[0].spread = 0
	}
}

// prepare chooses how the wire is solved. The choice depends on the directions alone, so the worst current is monotone in the sizes.
func (w *wire) prepare() {
	blurred, apart := w.blurred(), w.apart()
	switch n := len(w.arms); {
	case blurred:
		w.box, w.point = newSweep(w.arms, true), newSweep(w.arms, false)
		w.corner = w.third && n <= manyBlurred
	case n <= few || apart && n <= manyApart:
		w.corners = undominated(w.arms, everySet(w.arms))
	case !apart && n <= many:
		w.corners = undominated(w.arms, outerSets(w.arms))
	default:
		w.box = newSweep(w.arms, true)
	}
}

func (w *wire) blurred() bool {
	for _, a := range w.arms {
		if a.spread > 0 {
			return true
		}
	}
	return false
}

// apart reports whether third harmonics of different forms meet, so that they have no common direction.
func (w *wire) apart() bool {
	for _, a := range w.arms {
		if a.third != 0 && a.form != 0 {
			return true
		}
	}
	return false
}

// worst gives the largest current over all arms from nothing to x, which is indexed by their groups.
func (w *wire) worst(x []float64) float64 {
	if w.off == 0 {
		return w.largest(x)
	}
	sum := 0.0
	for i := range w.arms {
		sum += x[w.arms[i].group]
	}
	return w.largest(x) + w.off*sum
}

func (w *wire) largest(x []float64) float64 {
	switch {
	case w.corners != nil:
		best := 0.0
		for _, c := range w.corners {
			best = max(best, w.length(c, x))
		}
		return best
	case w.corner:
		return w.worstCorner(x)
	}
	var own [stack]float64
	f := w.box.largest(w.gather(x, room(own[:], len(w.arms))))
	if !w.third {
		return f
	}
	return rss(f, w.thirdBound(x))
}

// exactly gives the current with every arm at x, directions that are unknown at their worst.
func (w *wire) exactly(x []float64) float64 {
	if w.point == nil {
		return w.length(w.arms, x)
	}
	var own [stack]float64
	y := w.gather(x, room(own[:], len(w.arms)))
	return rss(w.point.largest(y), w.thirdSum(y)+w.balancedThird(x))
}

// length gives the current of some of the arms at x, their directions known.
func (w *wire) length(arms []arm, x []float64) float64 {
	var re, im, part, third float64
	form := 0
	for i := range arms {
		a := &arms[i]
		v := x[a.group]
		re, im = re+v*a.re, im+v*a.im
		if a.form != form {
			third, part, form = third+math.Abs(part), 0, a.form
		}
		part += v * a.third
	}
	if !w.third {
		return math.Sqrt(re*re + im*im)
	}
	third += math.Abs(part) + w.balancedThird(x)
	return math.Sqrt(re*re + im*im + third*third)
}

// worstCorner tries every set of arms: the current is convex in their sizes, so it is largest where each is at nothing or at its size.
func (w *wire) worstCorner(x []float64) float64 {
	var y [manyBlurred]float64
	balanced, best := w.balancedThird(x), 0.0
	for set := range 1 << len(w.arms) {
		for i, a := range w.arms {
			y[i] = 0
			if set>>i&1 == 1 {
				y[i] = x[a.group]
			}
		}
		best = max(best, rss(w.point.largest(y[:len(w.arms)]), w.thirdSum(y[:])+balanced))
	}
	return best
}

// gather takes the arms' sizes out of x.
func (w *wire) gather(x, y []float64) []float64 {
	for i := range w.arms {
		y[i] = x[w.arms[i].group]
	}
	return y
}

// thirdSum gives the third harmonic of the arms at y: in step within a form, at worst in step between them.
func (w *wire) thirdSum(y []float64) float64 {
	var part, sum float64
	form := 0
	for i := range w.arms {
		if w.arms[i].form != form {
			sum, part, form = sum+math.Abs(part), 0, w.arms[i].form
		}
		part += y[i] * w.arms[i].third
	}
	return sum + math.Abs(part)
}

// thirdOf gives the third harmonic with every kind of load at its size in x.
func (w *wire) thirdOf(x []float64) float64 {
	var own [stack]float64
	return w.thirdSum(w.gather(x, room(own[:], len(w.arms)))) + w.balancedThird(x)
}

// thirdBound gives the largest third harmonic with every arm anywhere from nothing to x: of each form the heavier side.
func (w *wire) thirdBound(x []float64) float64 {
	var plus, minus, sum float64
	form := 0
	for i := range w.arms {
		if w.arms[i].form != form {
			sum, plus, minus, form = sum+max(plus, minus), 0, 0, w.arms[i].form
		}
		if v := x[w.arms[i].group] * w.arms[i].third; v > 0 {
			plus += v
		} else {
			minus -= v
		}
	}
	return sum + max(plus, minus) + w.balancedThird(x)
}

func (w *wire) balancedThird(x []float64) float64 {
	var sum float64
	for i := range w.balanced {
		sum += x[w.balanced[i].group] * w.balanced[i].third
	}
	return sum
}

func rss(a, b float64) float64 { return math.Sqrt(a*a + b*b) }
