package lint

import (
	"context"
	"math"

	"github.com/motet-sheet/motet/lint/motion"
)

// Memory is what the rules found out in one check that can serve the next check of the same file. It never changes once
// the check has given it, and may be dropped at any time.
//
// Each fact stands under a key that holds all that the fact was worked out from: blocks, curves and rules' limits, none of
// which ever changes. So a fact that is found is a fact that holds, whatever else has changed; what a check does not ask
// for is not carried on, so the memory is never larger than what one check works out.
type Memory struct {
	path    string // of the file
	facts   map[any]any
	byFrame *motion.Sampled // nil where no rule asked for it
}

// stopped is what a check that was given up panics with, from wherever a rule is, to the check itself.
type stopped struct{}

// CheckAgain is [Check] for a file that was checked before: earlier, which may be nil, is what that check remembered. The
// findings are the same as Check's. When ctx ends the check is given up, and there is nothing but the reason.
func CheckAgain(ctx context.Context, m *motion.Motion, earlier *Memory) (found []Finding, now *Memory, err error) {
	s := newSubject(m)
	s.ctx = ctx
	if earlier != nil && earlier.path == m.File.Path {
		s.earlier, s.sampledBefore = earlier.facts, earlier.byFrame
		s.facts = make(map[any]any, len(earlier.facts))
	}
	defer func() {
		fault := recover()
		if _, ok := fault.(stopped); ok {
			found, now, err = nil, nil, context.Cause(ctx)
		} else if fault != nil {
			panic(fault)
		}
	}()
	found = s.check(Rules())
	return found, &Memory{m.File.Path, s.facts, s.byFrame}, nil
}

// stopIfAsked gives the check up when nobody waits for it any more. It may only be called where no other goroutine and no
// sync.Once is in the way.
func (s *subject) stopIfAsked() {
	if s.ctx.Err() != nil {
		panic(stopped{})
	}
}

// remembered is what work gives for a key, worked out once for all checks in which the key stays the same. The key is a
// struct type of its own, and names all that work looks at. What work gives must not be changed afterwards.
//
// Keys are looked up a thousand times in a check. One that is nothing but addresses and whole numbers of 64 bits is hashed at
// once, any other field by field, and through each interface: so what is longer gets an address of its own, as [alone] does,
// and the rest are words.
func remembered[K comparable, V any](s *subject, key K, work func() V) V {
	fact, known := s.facts[key]
	if !known {
		if fact, known = s.earlier[key]; !known {
			s.stopIfAsked()
			fact = work()
		}
		s.facts[key] = fact
	}
	return fact.(V)
}

// reportAgain reports what work reports, which goes by what the key names and nothing else: it works that out once for all
// checks in which the key stays the same.
func (p *Pass) reportAgain(key any, work func()) {
	if p.once {
		work()
		return
	}
	found := remembered(p.subject, key, func() []Finding {
		before := p.found
		p.found = nil
		work()
		keepColumns(p.found)
		found := p.found
		p.found = before
		return found
	})
	p.found = append(p.found, found...)
}

// word is a part of a key: a number or a truth in 64 bits.
type word uint64

// number64 is a number as a word. 0 and -0 are two, and what is not a number is like itself.
func number64(v float64) word { return word(math.Float64bits(v)) }

func (w word) number() float64 { return math.Float64frombits(uint64(w)) }

func truth(v bool) word {
	if v {
		return 1
	}
	return 0
}
