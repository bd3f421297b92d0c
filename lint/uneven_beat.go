package lint

import (
	"fmt"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func unevenBeat() *Rule {
	return &Rule{
		Name: "uneven-beat", Group: TimingGroup, Level: Note,
		Doc: Doc{
			Reports: "A beat that is not a whole number of frames.",
			Why:     "Its beats fall between frames, each one elsewhere, so accents that are even on paper are uneven to the eye.",
			Decides: "One beat is the rate times 60 divided by the tempo, exactly: 24 fps at 80 bpm are 18 frames (film click-track arithmetic, common practice). The nearest tempos on each side that are whole are named. A sheet that gives no tempo is reported only where it counts in beats.",
			Allow:   "When the tempo is that of music which is there already.",
			Mends:   "Writes the nearest slower or faster tempo, or the beat in frames where that tempo has no short decimal. All times in beats move with it, so --fix leaves it.",
			Bad:     "sheet example\n  rig       small in \"small.motet\"\n  rate      24 fps\n  tempo     85 bpm\n  cycle     4b\n\ntrack hips\n  at      side\n  0b      2\n  5/2b    -2\n",
			Good:    "sheet example\n  rig       small in \"small.motet\"\n  rate      24 fps\n  tempo     80 bpm\n  cycle     4b\n\ntrack hips\n  at      side\n  0b      2\n  5/2b    -2\n",
		},
		Check: checkUnevenBeat,
	}
}

func checkUnevenBeat(p *Pass) {
	s := p.Motion.Sheet
	if len(p.Strands()) == 0 || s.Beat.IsWhole() {
		return
	}
	at, given := s.Lines["tempo"]
	if !given {
		at, given = s.Lines["beat"]
	}
	if !given && !countsInBeats(p.Motion.File) {
		return
	}
	if !given {
		at = s.At("rate")
	}
	slower, faster := grammar.Whole(s.Beat.Floor()+1), grammar.Whole(s.Beat.Floor())
	lines := []string{beatLine(s, slower)}
	if faster.Sign() > 0 {
		lines = append(lines, beatLine(s, faster))
	}
	finding := p.Report(at, "one beat is %s frames, so beats fall between frames; %s", frameNumber(s.Beat), nearby(s, slower, faster))
	for _, line := range lines {
		edit := writeCell(at.Block, at.Line, at.Span, line)
		if !given {
			end := len(at.Block.Lines[at.Line].Text)
			edit = motion.Edit{At: at.Block.Ref(at.Line, grammar.Span{Start: end, End: end}), Text: lineEnd(p.Motion.File) + "  " + line}
		}
		finding.Mends = append(finding.Mends, motion.Mend{Title: "write `" + strings.Join(strings.Fields(line), " ") + "`", Edits: []motion.Edit{edit}})
	}
}

// beatLine is the header line for a beat of some frames: its tempo where that is a short decimal.
func beatLine(s *motion.Sheet, frames grammar.Rat) string {
	if bpm := tempoOf(s, frames); 1000%bpm.Den() == 0 {
		return "tempo     " + number(bpm.Float()) + " bpm"
	}
	return "beat      " + frames.String() + "f"
}

func tempoOf(s *motion.Sheet, frames grammar.Rat) grammar.Rat {
	return s.Rate.Mul(grammar.Whole(60)).Div(frames)
}

func nearby(s *motion.Sheet, slower, faster grammar.Rat) string {
	text := fmt.Sprintf("%s frames are %s bpm", slower, number(tempoOf(s, slower).Float()))
	if faster.Sign() > 0 {
		text += fmt.Sprintf(", %s are %s", faster, number(tempoOf(s, faster).Float()))
	}
	return text
}

// countsInBeats tells whether any row of a file has a time in beats.
func countsInBeats(f *grammar.File) bool {
	for _, b := range f.Blocks {
		for line := range b.Rows() {
			if t := b.Lines[line].Cells[0].Time; t != nil && !t.Beats.IsZero() {
				return true
			}
		}
	}
	return false
}
