package grammar

import (
	"io"
	"sync"

	"github.com/alecthomas/participle/v2/lexer"
)

// lineLexer gives participle the same tokens that [Tokens] gives, so that both see one language.
type lineLexer struct {
	line string
	at   int
}

type lineLexerDefinition struct{}

// Symbols names the token kinds for the productions. White space and comments stand in the stream and are elided by
// the parser, which keeps a node's end exact.
func (lineLexerDefinition) Symbols() map[string]lexer.TokenType { return symbols() }

// symbols are the token kinds by name; participle asks for them several times a production, and only reads them.
var symbols = sync.OnceValue(func() map[string]lexer.TokenType {
	found := map[string]lexer.TokenType{"EOF": lexer.EOF}
	for c := range classNames {
		found[classNames[c]] = tokenType(Class(c))
	}
	return found
})

func tokenType(c Class) lexer.TokenType { return lexer.TokenType(-2 - int(c)) }

func (lineLexerDefinition) Lex(_ string, r io.Reader) (lexer.Lexer, error) {
	text, err := io.ReadAll(r)
	return &lineLexer{line: string(text)}, err
}

func (lineLexerDefinition) LexString(_, line string) (lexer.Lexer, error) {
	return &lineLexer{line: line}, nil
}

func (l *lineLexer) Next() (lexer.Token, error) {
	pos := lexer.Position{Offset: l.at, Line: 1, Column: l.at + 1}
	if l.at >= len(l.line) {
		return lexer.EOFToken(pos), nil
	}
	t := nextToken(l.line, l.at)
	l.at = t.Span.End
	return lexer.Token{Type: tokenType(t.Class), Value: l.line[t.Span.Start:t.Span.End], Pos: pos}, nil
}
