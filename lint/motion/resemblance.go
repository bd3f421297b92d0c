package motion

// Resemblance is how far the cycles of a family are apart from one another.
type Resemblance struct {
	Members   []*Member // those that are cycles
	Distances [][]Distance
	// Base is the RMS motion of the first member that is made from no other, or of the first one, in figure heights.
	Base float64
}

// samplesABeat is how finely members are compared: the least motion of an idle that an eye tells apart lasts longer than
// a twelfth of a beat (common practice).
const samplesABeat = 24

// Resemblance compares all cycles of a family with one another. The work grows with the members for looking at each, and
// with their pairs for the comparing.
func (f *Family) Resemblance() *Resemblance {
	r := &Resemblance{}
	var likes []*Likeness
	original := -1
	for i := range f.Members {
		m := &f.Members[i]
		if !m.Motion.Whole() || !m.Motion.Sheet.Closed {
			continue
		}
		like := m.Motion.Likeness()
		if like == nil {
			continue
		}
		if original < 0 && m.Motion.Base == nil {
			original = len(likes)
		}
		r.Members, likes = append(r.Members, m), append(likes, like)
	}
	if len(likes) == 0 {
		return r
	}
	r.Base = likes[max(original, 0)].MotionRMS()
	var known distances
	if before := f.apart.Load(); before != nil {
		known = *before
	}
	r.Distances, known = distancesAgain(likes, known)
	f.apart.Store(&known)
	return r
}

// Share is the distance of two members as a share of the base's motion; 0 where the base does not move.
func (r *Resemblance) Share(i, k int) float64 {
	if r.Base == 0 {
		return 0
	}
	return r.Distances[i][k].RMS / r.Base
}

// Nearest is the member that comes closest to member i and their distance as a share, -1 where there is no other.
func (r *Resemblance) Nearest(i int) (nearest int, share float64) {
	nearest = -1
	for k := range r.Members {
		if s := r.Share(i, k); k != i && (nearest < 0 || s < share) {
			nearest, share = k, s
		}
	}
	return nearest, share
}
