package exchange

import (
	"fmt"
	"math"
)

// summary tells what came of several clips together.
func (e *ensemble) summary(all *AllResult, cuts []cut, channels [][]channel, offs []errorReport) []string {
	keys, baked, holds, single := 0, 0, 0, 0
	for _, c := range cuts {
		keys, baked = keys+all.Clips[c.at].Keys, baked+all.Clips[c.at].Baked
	}
	for n := range channels[0] {
		in := 0
		for k := range channels {
			c := &channels[k][n]
			if c.dropped {
				continue
			}
			in++
			if c.constant {
				holds++
			}
		}
		if in == 1 {
			single++
		}
	}
	for n := range e.lead.shapes {
		in := 0
		for _, f := range e.figures {
			if s := &f.shapes[n]; !s.dropped {
				in++
				if s.path == nil {
					holds++
				}
			}
		}
		if in == 1 {
			single++
		}
	}
	head := fmt.Sprintf("%s over one rig of %s and %s: %s", count(len(cuts), "clip"), count(len(e.lead.skeleton.joints), "joint"), count(all.Dials, "dial"), count(keys, "key"))
	if baked > 0 && keys > 0 {
		head += fmt.Sprintf(" for %d baked ones, 1 in %s", baked, number(float64(baked)/float64(keys), 1))
	}
	lines := []string{head}
	if len(cuts) > 1 {
		lines = append(lines, fmt.Sprintf("%s for one clip only; %s for what stays in a clip elsewhere than the rig rests", areCount(single, "dial"), areCount(holds, "key")))
	}
	lines = append(lines, e.largestLine(cuts, offs))
	if len(cuts) > 1 && e.over == nil {
		lines = append(lines, all.comparedLine(cuts, keys)...)
	}
	return lines
}

// areCount is a number of things with its verb.
func areCount(n int, noun string) string {
	if n == 1 {
		return "1 " + noun + " is"
	}
	return count(n, noun) + " are"
}

// largestLine tells the largest errors of all clips.
func (e *ensemble) largestLine(cuts []cut, offs []errorReport) string {
	turn, place := 0, 0
	for k := range offs {
		if offs[k].turnDeg.error > offs[turn].turnDeg.error {
			turn = k
		}
		if offs[k].worldCM.error > offs[place].worldCM.error {
			place = k
		}
	}
	at := func(k int, w worst) string {
		return fmt.Sprintf("clip %q, %s, frame %s", cuts[k].clip.Name, e.lead.skeleton.joints[w.joint].name, number(float64(w.step)/stepsPerFrame, 2))
	}
	return fmt.Sprintf("largest error at the frames of all clips: a joint's own turn %s° (%s); its place in the world %s cm (%s)",
		roundUp(offs[turn].turnDeg.error, 3), at(turn, offs[turn].turnDeg), roundUp(offs[place].worldCM.error, 3), at(place, offs[place].worldCM))
}

// comparedLine tells what one rig for all costs and saves against one rig each.
func (all *AllResult) comparedLine(cuts []cut, keys int) []string {
	aloneKeys, aloneDials, aloneBytes, bytes := 0, 0, 0, len(all.Rig.Text)
	for _, c := range cuts {
		if c.alone == nil {
			return nil
		}
		aloneKeys, aloneDials = aloneKeys+c.alone.Keys, aloneDials+len(c.alone.Channels)
		aloneBytes += len(c.alone.RigText) + len(c.alone.SheetText)
		bytes += len(all.Clips[c.at].SheetText)
	}
	return []string{fmt.Sprintf("each clip over a rig of its own: %d rigs with %s together, and %s; over one rig it is %s in the keys and %s in the text", len(cuts), count(aloneDials, "dial"), count(aloneKeys, "key"), change(aloneKeys, keys), change(aloneBytes, bytes))}
}

// change says how much larger or smaller a number has become.
func change(from, to int) string {
	if from == 0 || from == to {
		return "the same"
	}
	share := 100 * float64(to-from) / float64(from)
	text := number(math.Abs(share), 1) + "%"
	if share < 0 {
		return text + " less"
	}
	return text + " more"
}
