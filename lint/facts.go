package lint

import (
	"sync/atomic"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// Memory is what the rules found out in one check that can serve the next check of the same file. It may be dropped at any
// time, and serve several checks at once.
//
// Facts hang on what they are about: a curve, a block, a joint, none of which ever changes. Beside each stands what else it was
// worked out from, such as rules' limits: so a fact that is found is a fact that holds, whatever else has changed. What a check
// does not ask about is not carried on, so the memory is never larger than what one check works out.
type Memory struct {
	path    string // of the file
	curves  map[*motion.Curve]*curveFacts
	voices  map[*motion.Voice]*voiceFacts
	blocks  map[*grammar.Block]*blockFacts
	sways   map[swayAsked]*fact[swayTerms, sway]
	byFrame *motion.Sampled // nil where no rule asked for it
}

func newMemory(path string, before *Memory) *Memory {
	return &Memory{
		path:   path,
		curves: make(map[*motion.Curve]*curveFacts, len(before.curves)),
		voices: make(map[*motion.Voice]*voiceFacts, len(before.voices)),
		blocks: make(map[*grammar.Block]*blockFacts, len(before.blocks)),
		sways:  make(map[swayAsked]*fact[swayTerms, sway], len(before.sways)),
	}
}

// fact is the newest answer to one question, and what it was worked out from beside what it hangs on.
type fact[T, V any] struct {
	known atomic.Pointer[answer[T, V]]
}

type answer[T, V any] struct {
	terms T
	value V
}

// recall is what work gives on some terms, worked out once for all checks that ask on the same. The terms, with what the fact
// hangs on, are all that work looks at. What work gives must not be changed afterwards, and must not hold on to this check's
// motion.
//
// In a check that no later one begins from nothing is kept, and f is not even looked at.
func recall[T comparable, V any](s *subject, f *fact[T, V], terms T, work func() V) V {
	if s.once {
		return work()
	}
	return kept(s, f, terms, work)
}

// kept is recall for what is asked for again in the same check as well.
func kept[T comparable, V any](s *subject, f *fact[T, V], terms T, work func() V) V {
	if known := f.known.Load(); known != nil && known.terms == terms {
		return known.value
	}
	return f.workOut(s, terms, work)
}

// recallBy is recall on terms that are compared by a function, as slices are.
func recallBy[T, V any](s *subject, f *fact[T, V], terms T, same func(a, b T) bool, work func() V) V {
	if s.once {
		return work()
	}
	if known := f.known.Load(); known != nil && same(known.terms, terms) {
		return known.value
	}
	return f.workOut(s, terms, work)
}

func (f *fact[T, V]) workOut(s *subject, terms T, work func() V) V {
	s.stopIfAsked()
	value := work()
	f.known.Store(&answer[T, V]{terms, value})
	return value
}

// carried gives the facts about something, those of the check before where it had some, and notes them for the next check.
func carried[K comparable, F any](now, before map[K]*F, about K) *F {
	facts, ok := now[about]
	if !ok {
		if facts, ok = before[about]; !ok {
			facts = new(F)
		}
		now[about] = facts
	}
	return facts
}

// curveFacts are about a curve. It stands for its keys too, but for their places: see [motion.Strand].
type curveFacts struct {
	densest fact[grammar.Rat, second] // by the frames of a second
	spare   fact[float64, []int]      // by the limit
	strand  fact[*motion.Strand, *strandFacts]
}

// strandFacts are about a curve whose keys stand in certain places.
type strandFacts struct {
	turns fact[float64, []*grammar.Block] // the blocks with its turns of some size
	spare fact[float64, []*grammar.Block] // the blocks with its spare keys by some limit
}

// blockFacts are about a block.
type blockFacts struct {
	rows     fact[rowsTerms, tableRows]
	offFrame fact[offFrameTerms, []Finding]
	accents  fact[accentsTerms, accents]
	drops    fact[[]sparing, spareDrops]
}

func (s *subject) blockFacts(b *grammar.Block) *blockFacts {
	return carried(s.now.blocks, s.before.blocks, b)
}

// Where nothing is kept these stand for all facts, so that none need room.
var (
	noCurve curveFacts
	noVoice voiceFacts
)

// ofCurve are the facts about a strand's curve.
func (s *subject) ofCurve(strand *Strand) *curveFacts {
	switch {
	case s.once:
		return &noCurve
	case strand.facts == nil:
		strand.facts = carried(s.now.curves, s.before.curves, strand.Curve)
	}
	return strand.facts
}

// ofStrand are the facts about a strand.
func (s *subject) ofStrand(strand *Strand) *strandFacts {
	return recall(s, &s.ofCurve(strand).strand, strand.Strand, func() *strandFacts { return new(strandFacts) })
}
