package lint

import (
	"math"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func heavyClip() *Rule {
	return &Rule{
		Name: "heavy-clip", Group: EconomyGroup, Level: Note, Asked: true,
		Limits: []grammar.Limit{{Value: math.Inf(1), Unit: "keys"}, {Value: math.Inf(1), Unit: "joints"}, {Value: math.Inf(1), Unit: "kB"}},
		Doc: Doc{
			Reports: "A clip that takes more keys, moving joints or bytes than the house allows.",
			Why:     "Nobody sees it. But a crowd that stands about in the background pays for each of its clips in memory and in time, and finds out late.",
			Decides: "An estimate of the clip as it goes into glTF 2.0 with a key on every frame, which is the most that it can take: the joints of which anything changes, goals that are solved among them; of each joint its place, its turn and its size, each where it changes, times the frames and one more for the closing one; and 32-bit numbers, 12 bytes for a place or a size, 16 for a turn and 4 for each time, which all share (glTF 2.0, accessors). The JSON around them, the skin and the meshes are left out, and an export that leaves frames out needs less. 1 kB is 1 000 bytes. There are no limits but those that a house sets, in its row: `600keys`, `40joints`, `20kB`, or several with commas between.",
			Allow:   "When this one clip may cost more: the hero's.",
			Bad:     "track hips\n  at      side\n  0b      3\n  5/2b    -3\n\ntrack head\n  at      nod\n  0b      3\n  2b      -3\n\nhouse\n  rule            level   limit\n  heavy-clip      note    100keys\n",
			Good:    "track hips\n  at      side\n  0b      3\n  5/2b    -3\n\nhouse\n  rule            level   limit\n  heavy-clip      note    100keys\n",
		},
		Check: checkHeavyClip,
	}
}

func checkHeavyClip(p *Pass) {
	s := p.Sampled()
	if s == nil {
		return
	}
	w := weightOf(s)
	at := p.Motion.Sheet.Block.RefLine(p.Motion.Sheet.Block.Open)
	for _, part := range [3]struct {
		unit, what, then string
		count            float64
	}{
		{"keys", "keys, one a frame for each place, turn or size that changes", "a shorter cycle, or fewer joints that move, would take fewer", float64(w.keys)},
		{"joints", "joints that move", "still those that nobody sees", float64(w.joints)},
		{"kB", "kB of keys and times", "a shorter cycle, or fewer joints that move, would take less", rounded(float64(w.bytes)/1000, 1)},
	} {
		if limit := p.Limit(part.unit); part.count > limit {
			p.Report(at, "the clip takes %s %s, and the house allows %s; %s", number(part.count), part.what, number(limit), part.then)
		}
	}
}

// clipWeight is what a clip takes with a key on every frame.
type clipWeight struct{ keys, joints, bytes int }

func weightOf(s *motion.Sampled) (w clipWeight) {
	frames := s.Count
	if s.Closed {
		frames++
	}
	for _, moved := range s.Moved() {
		bytes := 0
		for kind, changes := range moved {
			if changes {
				w.keys += frames
				bytes += frames * bytesAKey(motion.DriveKind(kind))
			}
		}
		if bytes > 0 {
			w.joints++
		}
		w.bytes += bytes
	}
	if w.joints > 0 {
		w.bytes += 4 * frames
	}
	return w
}

// bytesAKey is what a key of a joint's place, turn or size takes in 32-bit numbers: three of them, or the four of a
// quaternion (glTF 2.0, animations).
func bytesAKey(kind motion.DriveKind) int {
	if kind == motion.DrivesTurn {
		return 16
	}
	return 12
}
