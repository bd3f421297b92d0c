package server

import (
	"context"
	"errors"
	"testing"
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

func TestACheckMakesWayForAHover(t *testing.T) {
	var q questions
	c := &makingWay{context.Background(), &q, time.Minute}
	require.NoError(t, c.Err(), "nothing is asked")
	require.Equal(t, time.Minute, c.left)

	first, second := q.begin(protocol.MethodTextDocumentHover), q.begin(protocol.MethodTextDocumentCompletion)
	answer := asked(c)
	first()
	select {
	case <-answer:
		t.Fatal("the check went on although a question is open")
	case <-time.After(20 * time.Millisecond):
	}
	second()
	require.NoError(t, <-answer)
	require.Less(t, c.left, time.Minute)
	require.NoError(t, c.Err(), "and it goes on")
}

func TestACheckMakesWayForAFrameAtMost(t *testing.T) {
	var q questions
	defer q.begin(protocol.MethodTextDocumentHover)()
	c := &makingWay{context.Background(), &q, time.Millisecond}
	require.NoError(t, c.Err())
	require.LessOrEqual(t, c.left, time.Duration(0))
	require.NoError(t, c.Err())
}

func TestACheckDoesNotMakeWayForWhoWaitsForIt(t *testing.T) {
	var q questions
	defer q.begin(protocol.MethodTextDocumentCodeAction)()
	c := &makingWay{context.Background(), &q, time.Minute}
	require.NoError(t, c.Err())
	require.Equal(t, time.Minute, c.left)
}

func TestACheckThatMakesWayIsGivenUp(t *testing.T) {
	var q questions
	defer q.begin(protocol.MethodTextDocumentHover)()
	ctx, cancel := context.WithCancelCause(context.Background())
	c := &makingWay{ctx, &q, time.Minute}
	answer := asked(c)
	cancel(errors.New("the text changed"))
	require.ErrorIs(t, <-answer, context.Canceled)
}
