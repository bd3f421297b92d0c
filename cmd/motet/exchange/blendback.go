package exchange

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/lint/motion"
)

// drivesWeight is the kind of a handle that is the weight of a morph target, in per cent. The rig has no drive of that
// kind: its dials keep their morph targets in a list of their own.
const drivesWeight motion.DriveKind = 255

// blendPulls adds the weights of morph targets to the handles, and what pulls at them.
func (g *gears) blendPulls(pulls []pull) []pull {
	for dial := range g.rig.Channels {
		for _, d := range g.rig.Channels[dial].Morphs {
			if d.Gain == 0 {
				continue
			}
			h := handle{kind: drivesWeight, joint: -1, chain: -1, axis: d.Target}
			pulls = append(pulls, pull{g.numberOf(h), dial, d.Gain})
		}
	}
	return pulls
}

// A seenTarget is one target of one node of a clip's file, the rig's targets that it is, and its weights at the footage's
// moments, as fractions.
type seenTarget struct {
	morphs []int
	at     []float64
}

// seeTargets reads the weights of a rig's morph targets. Those that the file has not are noted.
func (f *footage) seeTargets(d *Document, clip *Clip, rig *motion.Rig, time timing) error {
	tracks := map[int]*track{}
	for i := range clip.weights {
		tracks[clip.weights[i].node] = &clip.weights[i]
	}
	known := map[[2]int]int{}
	var missing []string
	for i := range rig.Morphs {
		found, err := blendsOf(&rig.Morphs[i].Target, d.blends, d.nodes)
		if err != nil {
			return fmt.Errorf("morph target `%s`: %w", rig.Morphs[i].Word, err)
		}
		if len(found) == 0 {
			missing = append(missing, rig.Morphs[i].Word)
		}
		for _, place := range found {
			n, there := known[place]
			if !there {
				n = len(f.targets)
				known[place] = n
				b := blendPlace{target: place[1], track: tracks[place[0]], rest: d.blends[place[0]].restOf(place[1])}
				seen := seenTarget{at: make([]float64, len(f.at))}
				for k := range seen.at {
					seen.at[k] = b.at(clip, time.seconds(k*stepsPerFrame)-clip.Start)
				}
				f.targets = append(f.targets, seen)
			}
			f.targets[n].morphs = append(f.targets[n].morphs, i)
		}
	}
	if len(missing) > 0 {
		named := missing
		if len(named) > 4 {
			named = append(named[:4:4], "…")
		}
		f.notes = append(f.notes, fmt.Sprintf("the file has no mesh with %s (%s), whose dials keep what they say", count(len(missing), "morph target"), strings.Join(named, ", ")))
	}
	return nil
}

// weightNeeds is by how many per cent more than a sheet a clip has each morph target, by moment; NaN for a target that the
// file has not. Where several meshes have one, that counts which is farthest from the sheet: somebody has changed it. What
// several targets of the rig give one of a mesh together is told apart by the meshes that have one of them alone.
func (f *footage) weightNeeds(m *motion.Motion) [][]float64 {
	needs := make([][]float64, len(f.at))
	sheet := make([][]float64, len(f.at))
	var values []float64
	for k, at := range f.at {
		values = m.Values(at, values)
		sheet[k] = m.Rig.Weights(values, nil)
		needs[k] = make([]float64, len(m.Rig.Morphs))
		for i := range needs[k] {
			needs[k][i] = unknown()
		}
	}
	known, together := make([]bool, len(m.Rig.Morphs)), 0
	for _, seen := range f.targets {
		together = max(together, len(seen.morphs))
	}
	for unknowns := 1; unknowns <= together; {
		most := map[int]float64{} // of the targets that come to be known now
		for _, seen := range f.targets {
			var open []int
			for _, i := range seen.morphs {
				if _, now := most[i]; !known[i] || now {
					open = append(open, i)
				}
			}
			if len(open) != unknowns {
				continue
			}
			off, worst := make([]float64, len(f.at)), 0.0
			for k := range off {
				off[k] = 100 * seen.at[k]
				for _, i := range seen.morphs {
					off[k] -= 100 * sheet[k][i]
					if !slices.Contains(open, i) {
						off[k] -= needs[k][i]
					}
				}
				off[k] /= float64(unknowns)
				worst = math.Max(worst, math.Abs(off[k]))
			}
			for _, i := range open {
				if before, now := most[i]; now && worst <= before {
					continue
				}
				most[i] = worst
				for k := range off {
					needs[k][i] = off[k]
				}
			}
		}
		for i := range most {
			known[i] = true
		}
		if len(most) > 0 {
			unknowns = 1
		} else {
			unknowns++
		}
	}
	return needs
}

// weightsApart adds to a distance how far the weights are off.
func (f *footage) weightsApart(m *motion.Motion, out *distance) {
	for k, needs := range f.weightNeeds(m) {
		for i, off := range needs {
			if off = math.Abs(off); off > out.percent {
				out.percent, out.target, out.percentAt = off, m.Rig.Morphs[i].Word, f.at[k]
			}
		}
	}
}
