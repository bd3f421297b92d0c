package motion

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// One round of 24 frames through 0, 6 and 0, all at rest: each half is the cubic 6·(3u² − 2u³), whose second derivative
// by u is 6·(6 − 12u), so ±36 over 12² frames at its ends (worked out by hand).
func TestBendsOfRestingHalves(t *testing.T) {
	knots := []Knot{{Time: 0, Value: 0, Shape: Rest}, {Time: 12, Value: 6, Shape: Rest}, {Time: 24, Value: 0, Shape: Rest}}
	c := NewCurve(knots, Extent{Length: 24, Closed: true})
	assert.InDelta(t, 0.25, c.PeakAcceleration(), 1e-12)
	assert.InDelta(t, 0, c.SeamBend(), 1e-12, "it leaves as it arrives")
	assert.InDelta(t, 0, c.SharpestBend(), 1e-12)
}

// The same with 18 frames out and 6 back.
func TestBendsOfUnevenHalves(t *testing.T) {
	knots := []Knot{{Time: 0, Value: 0, Shape: Rest}, {Time: 18, Value: 6, Shape: Rest}, {Time: 24, Value: 0, Shape: Rest}}
	c := NewCurve(knots, Extent{Length: 24, Closed: true})
	out, back := 36.0/(18*18), 36.0/(6*6)
	assert.InDelta(t, back, c.PeakAcceleration(), 1e-12)
	assert.InDelta(t, out-back, c.SeamBend(), 1e-12)
	assert.InDelta(t, back-out, c.SharpestBend(), 1e-12, "at frame 18 it goes from −out to −back")
}

func TestBendsOfASpanAndOfAStay(t *testing.T) {
	span := NewCurve([]Knot{{Time: 0, Shape: Rest}, {Time: 24, Value: 6, Shape: Rest}}, Extent{Length: 24})
	assert.Zero(t, span.SeamBend())
	stays := NewCurve([]Knot{{Time: 0, Shape: Rest}, {Time: 12, Value: 6, Shape: Stay}, {Time: 24, Shape: Rest}}, Extent{Length: 24, Closed: true})
	assert.Zero(t, stays.SeamBend())
	assert.Zero(t, stays.SharpestBend())
}
