package server

import (
	"context"
	"errors"
	"io"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
	"go.lsp.dev/protocol"
)

// asked runs Err beside the test, and gives where its answer comes.
func asked(c *makingWay) <-chan error {
	answer := make(chan error, 1)
	go func() { answer <- c.Err() }()
	return answer
}

// quietMachine is one on which nobody is offered the core, so that how long others kept it does not count.
func quietMachine() *others { return &others{busyUntil: time.Now().Add(time.Hour)} }

func TestACheckMakesWayForAHover(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var q questions
		c := &makingWay{t.Context(), &q, quietMachine(), time.Now(), time.Minute}
		require.NoError(t, c.Err(), "nothing is asked")
		require.Equal(t, time.Minute, c.left)

		first, second := q.begin(protocol.MethodTextDocumentHover), q.begin(protocol.MethodTextDocumentCompletion)
		answer := asked(c)
		first()
		time.Sleep(20 * time.Second)
		select {
		case <-answer:
			t.Fatal("the check went on although a question is open")
		default:
		}
		second()
		require.NoError(t, <-answer)
		require.Equal(t, 40*time.Second, c.left)
		require.NoError(t, c.Err(), "and it goes on")
	})
}

func TestACheckMakesWayForAFrameAtMost(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var q questions
		defer q.begin(protocol.MethodTextDocumentHover)()
		begun := time.Now()
		c := &makingWay{t.Context(), &q, quietMachine(), begun, frame}
		for range 3 {
			require.NoError(t, c.Err())
			require.Equal(t, frame, time.Since(begun))
		}
	})
}

func TestACheckDoesNotMakeWayForWhoWaitsForIt(t *testing.T) {
	var q questions
	defer q.begin(protocol.MethodTextDocumentCodeAction)()
	c := &makingWay{context.Background(), &q, quietMachine(), time.Now(), time.Minute}
	require.NoError(t, c.Err())
	require.Equal(t, time.Minute, c.left)
}

func TestACheckThatMakesWayIsGivenUp(t *testing.T) {
	var q questions
	defer q.begin(protocol.MethodTextDocumentHover)()
	ctx, cancel := context.WithCancelCause(context.Background())
	c := &makingWay{ctx, &q, quietMachine(), time.Now(), time.Minute}
	answer := asked(c)
	cancel(errors.New("the text changed"))
	require.ErrorIs(t, <-answer, context.Canceled)
}

// While others keep a core that they were offered, offering it again would cost a check a slice of it at each step.
func TestACheckOffersNothingOnABusyMachine(t *testing.T) {
	var o others
	now := time.Now()
	check := func(away ...time.Duration) (keeps bool) {
		o.begin()
		for _, d := range away {
			o.note(now, d)
		}
		return o.kept
	}
	require.False(t, check(longHold, longHold), "an editor needs so long to send a question")
	require.True(t, check(longHold, longHold+1))
	require.Zero(t, o.letThrough(), "once is enough for one check")
	require.False(t, check(longHold))
	require.True(t, check(longHold+1))
	require.True(t, check(longHold+1))
	require.True(t, o.busyUntil.IsZero(), "two in a row, since one went without")
	require.True(t, check(longHold+1))
	require.Equal(t, now.Add(busyWhile), o.busyUntil)

	o.begin()
	o.busyUntil = time.Now().Add(time.Hour)
	require.Zero(t, o.letThrough())
}

// reader gives its parts one after the other, as a pipe does.
type reader struct{ parts []string }

func (r *reader) Read(p []byte) (int, error) {
	if len(r.parts) == 0 {
		return 0, io.EOF
	}
	n := copy(p, r.parts[0])
	r.parts = r.parts[1:]
	return n, nil
}

// What came in the same breath as an edit may be a question, so it counts as one until the reader wants more.
func TestACheckMakesWayForWhatIsNotUnderstoodYet(t *testing.T) {
	var q questions
	in := &attentive{Reader: &reader{[]string{"an edit and a hover", "another edit"}}, questions: &q}
	c := &makingWay{context.Background(), &q, quietMachine(), time.Now(), time.Minute}
	buffer := make([]byte, 64)
	n, err := in.Read(buffer)
	require.NoError(t, err)
	require.Equal(t, "an edit and a hover", string(buffer[:n]))
	answer := asked(c)
	hover := q.begin(protocol.MethodTextDocumentHover)
	_, err = in.Read(buffer)
	require.NoError(t, err)
	select {
	case <-answer:
		t.Fatal("the check went on although a hover is open, and an edit was read")
	case <-time.After(20 * time.Millisecond):
	}
	hover()
	_, err = in.Read(buffer)
	require.ErrorIs(t, err, io.EOF)
	require.NoError(t, <-answer)
	require.NoError(t, in.Close())
}
