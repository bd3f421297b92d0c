package exchange

import (
	"fmt"
	"math"
	"slices"

	"github.com/motet-sheet/motet/lint/motion"
)

// A sampled sheet is its motion on a dense grid of moments, in the rig's own units: what fitted curves are held to.
type sampled struct {
	motion *motion.Motion
	// at are the moments in frames, rising, from 0 to the length. Where anything may jump there are two of one moment:
	// just before, and from then on.
	at []float64
	// asked is the same with the moments before a jump a little earlier, and after one a little later.
	asked []float64
	// values of each channel that moves; nil for the others.
	values [][]float64
	// corners of each channel that moves.
	corners []motion.Corners
	// solved are the own transforms of the joints that a chain moves, or that stand below an uneven scale that a chain
	// turns; nil for the others, which the channels alone move.
	solved [][]transform
}

const (
	// samplesPerFrame and samplesPerSecond say how dense the grid is: whichever asks for more.
	samplesPerFrame  = 4
	samplesPerSecond = 120
	// besideJump is how many frames beside a jump the values on its two sides are read.
	besideJump = 1e-6
	// mostSamples bounds channels × moments, and joints × moments: about 400 MB.
	mostSamples = 24_000_000
)

// sampleSheet works out the motion of a whole sheet on the grid.
func sampleSheet(m *motion.Motion) (*sampled, error) {
	s := &sampled{motion: m, corners: make([]motion.Corners, len(m.Channels))}
	length := m.Sheet.Length.Float()
	step := 1 / math.Max(samplesPerFrame, math.Ceil(samplesPerSecond/m.Sheet.Rate.Float()))
	if columns := float64(len(m.Channels) + len(m.Rig.Joints)); length/step*columns > mostSamples {
		return nil, fmt.Errorf("%s: %s frames of %s and %s are more than is written at once; make the sheet shorter", m.File.Path, m.Sheet.Length, count(len(m.Channels), "channel"), count(len(m.Rig.Joints), "joint"))
	}
	s.grid(step)
	s.readAll()
	for range mostRefinings {
		if !s.refine() {
			break
		}
		s.readAll()
	}
	return s, nil
}

// readAll reads everything that moves at the moments of the grid.
func (s *sampled) readAll() {
	m := s.motion
	s.values, s.solved = make([][]float64, len(m.Channels)), make([][]transform, len(m.Rig.Joints))
	for i := range m.Channels {
		if !m.Channels[i].Moves() {
			continue
		}
		s.values[i] = make([]float64, len(s.at))
		for k, t := range s.asked {
			s.values[i][k] = m.Channels[i].At(t)
		}
	}
	s.solve()
}

// grid lays out the moments: whole steps, the corners of all channels, and both sides of what may jump.
func (s *sampled) grid(step float64) {
	m := s.motion
	length := m.Sheet.Length.Float()
	var times, jumps []float64
	for k := 0; float64(k)*step < length; k++ {
		times = append(times, float64(k)*step)
	}
	for i := range m.Channels {
		if !m.Channels[i].Moves() {
			continue
		}
		s.corners[i] = m.Corners(i)
		times = append(times, s.corners[i].Times...)
		if s.corners[i].Steps {
			jumps = append(jumps, s.corners[i].Times...)
		}
	}
	for i := range m.Plants {
		p := &m.Plants[i]
		for round := -1.0; round*p.Period() < length && len(jumps) < mostSamples; round++ {
			jumps = append(jumps, p.From+round*p.Period(), p.To+round*p.Period())
			if p.Period() <= 0 {
				break
			}
		}
	}
	times = append(times, length)
	times, jumps = inOrder(append(times, jumps...), length), inOrder(jumps, length)
	for _, t := range times {
		if _, jump := slices.BinarySearchFunc(jumps, t, sameMoment); jump && t > 0 && t < length {
			s.at = append(s.at, t, t)
			s.asked = append(s.asked, t-besideJump, t+besideJump)
			continue
		}
		s.at, s.asked = append(s.at, t), append(s.asked, t)
	}
	// A cycle's end is asked for just before it: at it, the next round has begun.
	last := len(s.asked) - 1
	s.asked[last] = length - besideJump
	if !slices.ContainsFunc(m.Channels, func(c motion.Channel) bool { return c.Moves() }) {
		s.asked[last] = length
	}
}

// mostRefinings bounds how often the grid is made finer, four times each.
const mostRefinings = 4

// refine puts more moments where a solved joint turns so sharply that its neighbours do not tell where it is, as a limb
// does that becomes straight: its bend goes with the square root of what is left to the goal.
func (s *sampled) refine() bool {
	const rough = 1e-4      // radians; at the end of a limb less than a tenth of a millimetre
	finer := map[int]bool{} // moments before the intervals to divide
	for _, solved := range s.solved {
		for k := 1; k+1 < len(solved); k++ {
			beside := s.beside(k)
			if len(beside) < 3 || !slices.Contains(beside, k-1) || !slices.Contains(beside, k+1) {
				continue
			}
			if turns.apart(slerp(solved[k-1].turn, solved[k+1].turn, (s.at[k]-s.at[k-1])/(s.at[k+1]-s.at[k-1])), solved[k].turn) < rough {
				continue
			}
			// Through those beside it, by Lagrange's formula.
			var guess quat
			for _, i := range beside {
				weight := 1.0
				for _, j := range beside {
					if j != i {
						weight *= (s.at[k] - s.at[j]) / (s.at[i] - s.at[j])
					}
				}
				guess = guess.plus(solved[i].turn.times(weight))
			}
			if turns.apart(unitOr(guess), solved[k].turn) > rough {
				finer[k-1], finer[k] = true, true
			}
		}
	}
	if len(finer) == 0 || (len(s.at)+3*len(finer))*(len(s.solved)+len(s.values)) > mostSamples {
		return false
	}
	var at, asked []float64
	for k := range s.at {
		at, asked = append(at, s.at[k]), append(asked, s.asked[k])
		if finer[k] {
			for part := 1.0; part < 4; part++ {
				t := s.at[k] + (s.at[k+1]-s.at[k])*part/4
				at, asked = append(at, t), append(asked, t)
			}
		}
	}
	s.at, s.asked = at, asked
	return true
}

// beside are up to two moments on each side of one, as far as nothing jumps between.
func (s *sampled) beside(k int) (out []int) {
	for i := k - 1; i >= max(0, k-2) && s.at[i] != s.at[i+1]; i-- {
		out = append(out, i)
	}
	for i := k + 1; i < min(len(s.at), k+3) && s.at[i] != s.at[i-1]; i++ {
		out = append(out, i)
	}
	return out
}

// closestMoments are how many frames apart two moments must be to count as two.
const closestMoments = 1e-4

func sameMoment(a, b float64) int {
	switch {
	case math.Abs(a-b) < closestMoments:
		return 0
	case a < b:
		return -1
	}
	return 1
}

// inOrder sorts moments from 0 to the length, each once; both ends stay exact.
func inOrder(times []float64, length float64) []float64 {
	slices.Sort(times)
	var out []float64
	for _, t := range times {
		if t < 0 || t > length {
			continue
		}
		if length-t < closestMoments {
			t = length
		}
		if n := len(out); n > 0 && t-out[n-1] < closestMoments {
			continue
		}
		out = append(out, t)
	}
	return out
}

// solve reads the transforms of joints that chains move from the sheet's own figures.
func (s *sampled) solve() {
	m := s.motion
	inChain := make([]bool, len(m.Rig.Joints))
	for i := range m.Rig.Chains {
		if c := &m.Rig.Chains[i]; solvesChain(m, i) {
			inChain[c.Root], inChain[c.Middle], inChain[c.End] = true, true, true
		}
	}
	if !slices.Contains(inChain, true) {
		return
	}
	below := slices.Clone(inChain)
	for i := range below {
		up := m.Rig.Joints[i].Parent
		below[i] = below[i] || up >= 0 && below[up] && s.scalesAbove(up)
		if below[i] {
			s.solved[i] = make([]transform, len(s.at))
		}
	}
	player := m.Player()
	var values []float64
	var poses []motion.JointPose
	placed := make([]placedJoint, len(m.Rig.Joints))
	for k, t := range s.asked {
		values = m.Values(t, values)
		poses = m.Rig.Pose(values, poses)
		world := player.Figure(t).World
		for i := range m.Rig.Joints {
			if own, from := place(m.Rig, placed, i, &world[i], &poses[i], inChain[i]); below[i] {
				if from && k > 0 && own.turn.dot(s.solved[i][k-1].turn) < 0 {
					own.turn = own.turn.times(-1)
				}
				s.solved[i][k] = own
			}
		}
	}
}

// solvesChain tells whether a chain is ever solved: its goal is keyed or planted.
func solvesChain(m *motion.Motion, chain int) bool {
	for i := range m.Plants {
		if m.Plants[i].Chain == chain {
			return true
		}
	}
	for i := range m.Channels {
		for _, d := range m.Channels[i].Dial.Drives {
			if d.Joint < 0 && d.Goal == m.Rig.Chains[chain].Goal && m.Channels[i].Moves() {
				return true
			}
		}
	}
	return false
}

// scalesAbove tells whether a joint or one that carries it changes its size.
func (s *sampled) scalesAbove(joint int) bool {
	for ; joint >= 0; joint = s.motion.Rig.Joints[joint].Parent {
		for i := range s.motion.Channels {
			for _, d := range s.motion.Channels[i].Dial.Drives {
				if d.Kind == motion.DrivesScale && d.Joint == joint && s.values[i] != nil {
					return true
				}
			}
		}
	}
	return false
}

// A placedJoint is where a player will put a joint in the world.
type placedJoint struct {
	move   vec3
	linear matrix
	// sheared says that nodes can't follow the sheet here, since a node has no shear: the joint's place is exact, its
	// axes are the nearest.
	sheared bool
}

// place finds the own transform with which a player puts joint i where the sheet has it, and where that is. Where no
// chain turns the joint, and the one that carries it stands as in the sheet, that is the joint's own pose. Elsewhere it
// is what is left of the joint's place in the world when the place of what carries it is taken off: so an uneven scale
// above a solved limb, such as a breath's, is made up for below. It tells too whether it had to be worked out so.
func place(rig *motion.Rig, placed []placedJoint, i int, world *motion.Transform, pose *motion.JointPose, inChain bool) (own transform, workedOut bool) {
	j := &rig.Joints[i]
	up := placedJoint{linear: matrix{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}}
	if j.Parent >= 0 {
		up = placed[j.Parent]
	}
	at := placedJoint{move: vec3(world.Position()), linear: linearOf(world)}
	if !inChain && !up.sheared {
		placed[i] = at
		return transform{move: vec3(pose.Move), turn: orderOf(j).quat(vec3(pose.Turn)), scale: vec3(pose.Scale)}, false
	}
	back := up.linear.inverse()
	local := back.times(at.linear)
	own = transform{move: back.apply(at.move.minus(up.move)), scale: vec3{local.column(0).length(), local.column(1).length(), local.column(2).length()}}
	if local.determinant() < 0 {
		own.scale[0] = -own.scale[0]
	}
	for axis := range own.scale {
		if own.scale[axis] == 0 {
			own.scale[axis] = 1e-9
		}
	}
	own.turn = local.columnsScaled(vec3{1 / own.scale[0], 1 / own.scale[1], 1 / own.scale[2]}).nearestTurn()
	if math.Abs(own.scale[0]-1)+math.Abs(own.scale[1]-1)+math.Abs(own.scale[2]-1) < 1e-9 {
		own.scale = vec3{1, 1, 1}
	}
	at.linear = up.linear.times(own.turn.matrix().columnsScaled(own.scale))
	for axis := range 3 {
		at.sheared = at.sheared || at.linear.column(axis).to(vec3{world[3*axis], world[3*axis+1], world[3*axis+2]}) > 1e-9
	}
	placed[i] = at
	return own, true
}

func linearOf(t *motion.Transform) (m matrix) {
	for column := range 3 {
		for row := range 3 {
			m[row][column] = t[3*column+row]
		}
	}
	return m
}

// inverse is the matrix that undoes m, by the adjugate; that of a flat one is the identity.
func (m matrix) inverse() matrix {
	volume := m.determinant()
	if volume == 0 {
		return matrix{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	}
	x, y, z := m.column(0), m.column(1), m.column(2)
	return matrix{y.cross(z).times(1 / volume), z.cross(x).times(1 / volume), x.cross(y).times(1 / volume)}
}

// nearestTurn is the turn nearest to a matrix with columns of unit length: the limit of averaging it with its inverse
// transposed (N. J. Higham, Computing the Polar Decomposition, 1986; from memory).
func (m matrix) nearestTurn() quat {
	for range 20 {
		back := m.inverse()
		change := 0.0
		for i := range 3 {
			for j := range 3 {
				next := (m[i][j] + back[j][i]) / 2
				change = math.Max(change, math.Abs(next-m[i][j]))
				m[i][j] = next
			}
		}
		if change < 1e-15 {
			break
		}
	}
	return m.quat()
}
