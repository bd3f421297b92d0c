package motion

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// member resolves a sheet of a family whose base is a sway of the limb figure.
func member(t *testing.T, header, body string) *Motion {
	t.Helper()
	m := resolved(t, map[string]string{
		"rig.motet":   limbRig,
		"tall.motet":  tallRig(),
		"base.motet":  "sheet base\n  rig figure in \"rig.motet\"\n  tempo 80 bpm\n  cycle 4b\n\n" + unevenSway,
		"sheet.motet": "sheet s\n" + header + "\n" + body,
	})
	require.Empty(t, m.Problems)
	return m
}

// unevenSway moves the hips and one wrist, and looks the same at no other phase and in no mirror.
const unevenSway = `track hips
  at   side  drop
  0b   0     -3
  1b   3     -5
  2b   -1    -3
  3b   -4    -6

track spine
  at  lean
  0b  4
  3b  -9

track wrist.left
  at  turn
  0b  0
`

const fromBase = "  from base in \"base.motet\"\n"

// tallRig is the figure in double size, and without a head.
func tallRig() string {
	var out strings.Builder
	for _, line := range strings.Split(strings.Replace(limbRig, "rig figure\n  height 100", "rig tall\n  height 200", 1), "\n") {
		var name, on string
		var x, y, z float64
		switch n, _ := fmt.Sscan(line, &name, &on, &x, &y, &z); {
		case name == "head" || name == "head/tilt":
		case n == 5:
			fmt.Fprintf(&out, "  %s %s %g %g %g\n", name, on, 2*x, 2*y, 2*z)
		default:
			out.WriteString(strings.ReplaceAll(line, "-12..12", "-24..24") + "\n")
		}
	}
	return out.String()
}

func TestHowFarMembersAreApart(t *testing.T) {
	base := member(t, fromBase, "").SampledByBeat(24).Likeness()
	for name, c := range map[string]struct {
		header, body string
		apart, lag   float64
		mirrored     bool
	}{
		"the same":                      {fromBase, "", 0, 0, false},
		"begun elsewhere":               {fromBase, "change\n  start  1b\n", 0, -1, false},
		"mirrored":                      {fromBase, "change\n  mirror\n", 0, 0, true},
		"mirrored and begun elsewhere":  {fromBase, "change\n  mirror\n  start  3b\n", 0, 1, true},
		"at another tempo":              {fromBase + "  tempo 63 bpm\n", "", 0, 0, false},
		"two rounds of the base":        {fromBase + "  cycle 8b\n", "", 0, 0, false},
		"a rig of double size, no head": {fromBase + "  rig tall in \"tall.motet\"\n", "", 0, 0, false},
		"all that, and begun elsewhere": {fromBase + "  rig tall in \"tall.motet\"\n  tempo 63 bpm\n  cycle 8b\n", "change\n  mirror\n  start  1b\n", 0, -1, true},
	} {
		t.Run(name, func(t *testing.T) {
			m := member(t, c.header, c.body)
			got := Apart(base, m.SampledByBeat(24).Likeness())
			assert.InDelta(t, c.apart, got.RMS, 1e-9)
			assert.InDelta(t, c.lag, got.LagBeats, 1e-6)
			assert.Equal(t, c.mirrored, got.Mirrored)
			assert.Equal(t, len(m.Rig.Joints), got.Joints)
		})
	}
}

func TestAWalkIsLikeOneOnTheSpot(t *testing.T) {
	header := "  rig figure in \"rig.motet\"\n  tempo 80 bpm\n  cycle 4b\n"
	body := "track hips\n  at  drop\n  0b  -3\n  1b  -5\n\ntrack spine\n  at  lean\n  0b  4\n  3b  -9\n"
	spot := member(t, header, body)
	walk := member(t, header+"  advance hips/side 50\n", strings.Replace(body, "drop\n  0b  -3\n  1b  -5", "drop side\n  0b  -3 0>\n  1b  -5 .", 1))
	require.InDelta(t, 25, walk.World(36)[0].Position()[0], 1e-9)
	assert.InDelta(t, 0, Apart(spot.SampledByBeat(24).Likeness(), walk.SampledByBeat(24).Likeness()).RMS, 1e-9)
}

func TestASwayOfFourFifthsIsAFifthAway(t *testing.T) {
	// All joints go where the hips go. |x − 0.8·x| is a fifth of |x|, and at no other phase or mirror is it less.
	body := "track hips\n  at side\n  0b  0^\n  1b  5^\n  2b  0\n  3b  -5^\n  7/2b  -2\n"
	header := "  rig figure in \"rig.motet\"\n  tempo 80 bpm\n  cycle 4b\n"
	a := member(t, header, body)
	smaller := strings.NewReplacer(" 5^", " 4^", "-5^", "-4^", "-2", "-1.6").Replace(body)
	b := member(t, header, smaller)
	mean := a.Channel("hips/side").Base.Curve.Mean()
	first, second := a.SampledByBeat(24).Likeness(), b.SampledByBeat(24).Likeness()
	d := Apart(first, second)
	// The means differ by a fifth too, and count, since displacements are from rest.
	rms := 0.0
	for _, v := range a.SampledByBeat(24).Channel(0).Samples {
		rms += (v - mean) * (v - mean) / 96
	}
	assert.InDelta(t, math.Sqrt(rms)/100, first.MotionRMS(), 1e-6)
	assert.InDelta(t, 0.2*math.Hypot(math.Sqrt(rms), mean)/100, d.RMS, 1e-6)
	assert.InDelta(t, 0, d.LagBeats, 0.05)
}

// plainDistance is the definition, in the time domain: at every whole lag of samples, plain and mirrored, the mean square
// of the difference of the joints' displacements over a time in which both cycles come out.
func plainDistance(a, b *Sampled) (rms float64, lagSamples int, mirrored bool) {
	rig := a.Motion.Rig
	rms = math.Inf(1)
	rest := rig.RestWorld()
	together := a.Count
	for together%b.Count != 0 {
		together += a.Count
	}
	for _, side := range []bool{false, true} {
		for lag := range b.Count {
			sum := 0.0
			for joint := range rig.Joints {
				other := joint
				if side {
					other = rig.MirroredJoint(joint)
				}
				for axis := range 3 {
					sign := 1.0
					if side && axis == 0 {
						sign = -1
					}
					x, y := a.Place(joint, axis).Samples, b.Place(other, axis).Samples
					restX, restY := rest[joint][9+axis], rest[other][9+axis]
					for i := range together {
						d := (x[i%a.Count] - restX) - sign*(y[(i+lag)%b.Count]-restY)
						sum += d * d
					}
				}
			}
			one := math.Sqrt(sum/float64(together*len(rig.Joints))) / rig.Height
			if one < rms-1e-12 {
				rms, lagSamples, mirrored = one, lag, side
			}
		}
	}
	return rms, lagSamples, mirrored
}

func TestDistancesAreTheLeastOfAllPhasesAndSides(t *testing.T) {
	const samplesABeat = 12
	motions := []*Motion{
		member(t, fromBase, ""),
		member(t, fromBase, "change\n  mirror\n  start  5/3b\n  amplify hips/* 60%\n"),
		member(t, fromBase+"  cycle 8b\n", "track spine in glance\n  at lean\n  5b  0^\n  6b  20^\n  7b  0^\n"),
		member(t, "  rig figure in \"rig.motet\"\n  tempo 80 bpm\n  cycle 3b\n", "track hips\n  at  side\n  0b  5\n  1b  -3\n"),
		member(t, "  rig figure in \"rig.motet\"\n  tempo 80 bpm\n  cycle 4b\n", busyLimbs),
	}
	var sampled []*Sampled
	var members []*Likeness
	for _, m := range motions {
		s := m.SampledByBeat(samplesABeat)
		sampled, members = append(sampled, s), append(members, s.Likeness())
	}
	all := Distances(members)
	for i := range all {
		for j := range all {
			if i == j {
				assert.Zero(t, all[i][j].RMS)
				continue
			}
			got := all[i][j]
			want, lag, mirrored := plainDistance(sampled[i], sampled[j])
			assert.LessOrEqual(t, got.RMS, want+1e-6)
			assert.InEpsilon(t, want, got.RMS, 0.03, "%d and %d", i, j)
			if motions[i].Sheet.Length == motions[j].Sheet.Length {
				assert.Equal(t, mirrored, got.Mirrored)
				whole := math.Remainder(got.LagBeats*samplesABeat-float64(lag), float64(sampled[j].Count))
				assert.LessOrEqual(t, math.Abs(whole), 1.0, "%d and %d", i, j)
			}
			assert.InDelta(t, all[j][i].RMS, got.RMS, 1e-9)
			assert.InDelta(t, -all[j][i].LagBeats, got.LagBeats, 1e-9)
			assert.InDelta(t, Apart(members[i], members[j]).RMS, got.RMS, 1e-9)
		}
	}
}

func TestWhatHasNoDistance(t *testing.T) {
	span := member(t, "  rig figure in \"rig.motet\"\n  span 24f\n", "")
	assert.Nil(t, span.SampledByBeat(24).Likeness())
	base := member(t, fromBase, "").SampledByBeat(24).Likeness()
	other := resolved(t, sheet("  cycle 4b\n")).SampledByBeat(24).Likeness()
	all := Distances([]*Likeness{base, nil, other})
	assert.Equal(t, math.Inf(1), all[0][1].RMS)
	assert.Equal(t, math.Inf(1), all[1][1].RMS)
	assert.Equal(t, 2, all[0][2].Joints) // hips and spine
	assert.False(t, math.IsInf(all[0][2].RMS, 0))
	assert.Zero(t, other.MotionRMS())
}
