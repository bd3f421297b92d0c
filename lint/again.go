package lint

import (
	"context"

	"github.com/motet-sheet/motet/lint/motion"
)

// stopped is what a check that was given up panics with, from wherever a rule is, to the check itself.
type stopped struct{}

// CheckAgain is [Check] for a file that was checked before: earlier, which may be nil, is what that check remembered. The
// findings are the same as Check's. When ctx ends the check is given up, and there is nothing but the reason.
func CheckAgain(ctx context.Context, m *motion.Motion, earlier *Memory) (found []Finding, now *Memory, err error) {
	s := newSubject(m)
	s.ctx = ctx
	if earlier != nil && earlier.path == m.File.Path {
		s.before, s.now = earlier, newMemory(m.File.Path, earlier)
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
	s.now.byFrame = s.byFrame
	return found, s.now, nil
}

// stopIfAsked gives the check up when nobody waits for it any more. It may only be called where no other goroutine and no
// sync.Once is in the way.
func (s *subject) stopIfAsked() {
	if s.ctx.Err() != nil {
		panic(stopped{})
	}
}

// reportAgain reports what work reports, which goes by what the fact hangs on and the terms and nothing else: it works that out
// once for all checks on the same terms.
func reportAgain[T comparable](p *Pass, f *fact[T, []Finding], terms T, work func()) {
	found := recall(p.subject, f, terms, func() []Finding {
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
