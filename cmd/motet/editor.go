package main

import (
	"errors"
	"fmt"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/motet-sheet/motet/server/watch"
)

// The words of an editor's command that stand for the file and for the line, which counts from 1.
const (
	fileWord = "FILE"
	lineWord = "LINE"
)

// ownWindow says how editors that have a window of their own, apart from the terminal, are told of a line. All others would
// want the terminal in which motet runs.
var ownWindow = map[string]string{
	"code": "--goto FILE:LINE", "codium": "--goto FILE:LINE", "code-insiders": "--goto FILE:LINE",
	"subl": "FILE:LINE", "zed": "FILE:LINE", "kate": "--line LINE FILE",
	"emacsclient": "-n +LINE FILE", "gvim": "--remote-silent +LINE FILE", "gedit": "+LINE FILE",
}

// editorOpener runs a command that shows a line of a sheet: the one that was asked for, or the first of the usual ones that
// has a window of its own. It is nil where there is none.
func editorOpener(asked string, usual ...string) (watch.Opener, error) {
	words, err := commandWords(asked)
	if err != nil {
		return nil, fmt.Errorf("--editor: %w", err)
	}
	if asked != "" {
		if !strings.Contains(asked, fileWord) {
			return nil, fmt.Errorf("--editor: `%s` does not say where the file goes; write FILE in its place, and LINE for the line, as in \"emacsclient -n +LINE FILE\"", asked)
		}
		if _, err := exec.LookPath(words[0]); err != nil {
			return nil, fmt.Errorf("--editor: there is no program `%s`", words[0])
		}
	}
	for _, command := range usual {
		if words != nil {
			break
		}
		known, err := commandWords(command)
		if err != nil || len(known) == 0 {
			continue
		}
		if args, ok := ownWindow[strings.TrimSuffix(filepath.Base(known[0]), ".exe")]; ok {
			words = append(known, strings.Fields(args)...)
		}
	}
	if words == nil {
		return nil, nil
	}
	return func(path string, line int) error {
		full, err := filepath.Abs(filepath.FromSlash(path))
		if err != nil {
			return err
		}
		// No shell reads the command, so that nothing in a file's name can be a command too.
		args := make([]string, 0, len(words))
		for _, word := range words[1:] {
			args = append(args, strings.NewReplacer(fileWord, full, lineWord, strconv.Itoa(line+1)).Replace(word))
		}
		cmd := exec.Command(words[0], args...)
		if err := cmd.Start(); err != nil {
			return err
		}
		go func() { _ = cmd.Wait() }()
		return nil
	}, nil
}

// commandWords cuts a command into its words, at spaces outside quotes of either kind. It is nil where there are none.
func commandWords(command string) ([]string, error) {
	var words []string
	var word strings.Builder
	quote, inWord := rune(0), false
	for _, r := range command {
		switch {
		case quote != 0 && r == quote:
			quote = 0
		case quote != 0:
			word.WriteRune(r)
		case r == '"' || r == '\'':
			quote, inWord = r, true
		case r == ' ' || r == '\t':
			if inWord {
				words = append(words, word.String())
				word.Reset()
				inWord = false
			}
		default:
			word.WriteRune(r)
			inWord = true
		}
	}
	if quote != 0 {
		return nil, errors.New("a quote is not closed")
	}
	if inWord {
		words = append(words, word.String())
	}
	return words, nil
}
