package main

import (
	"bufio"
	"embed"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/motet-sheet/motet/grammar"
)

const initHelp = `
motet init [FLAGS] [FOLDER]

Makes a folder to begin in, the current one where none is named: a rig, a first
sheet, house rules, and settings for git and editors. Nothing in it is reported
by ` + "`motet check --strict`" + `. What is there already is left as it is.

  --name WHO   whom the first sheet is about (keeper)
  --rate FPS   frames a second (24)
  --tempo BPM  beats a minute (80)
  --yes        ask nothing, and take what stands in brackets here

On a terminal it asks for those of the three that no flag gives.

exit codes:
  0  done
  2  a file could not be written, or a flag is no name, rate or tempo
`

type initFlags struct {
	Folder string `arg:"" optional:"" default:"."`
	Name   string
	Rate   string
	Tempo  string
	Yes    bool
}

//go:embed starter/*.motet
var starter embed.FS

func (f *initFlags) run(c *console) int {
	if err := f.ask(c); err != nil {
		c.complain("the answer can't be read: %s", plainIO(err))
		return exitFailed
	}
	files, err := f.files()
	if err != nil {
		c.complain("%s", err)
		return exitFailed
	}
	// One word on the folder, and not the same for each file that should have gone there.
	if err := os.MkdirAll(f.Folder, 0o777); err != nil {
		c.complain("%s: the folder can't be made: %s", f.Folder, plainIO(err))
		return exitFailed
	}
	code := exitClean
	for _, file := range files {
		path := filepath.Join(f.Folder, filepath.FromSlash(file.name))
		switch err := writeNew(path, file.text); {
		case errors.Is(err, fs.ErrExist):
			c.print(fmt.Sprintf("kept   %s, which was there already\n", path))
		case errors.Is(err, fs.ErrPermission) && filepath.Dir(path) == filepath.Clean(f.Folder):
			c.complain("%s: this user may not write into this folder", f.Folder)
			return exitFailed
		case err != nil:
			c.complain("%s: %s", path, plainIO(err))
			code = exitFailed
		default:
			c.print(fmt.Sprintf("wrote  %s: %s\n", path, file.what))
		}
	}
	if code == exitClean {
		c.print(fmt.Sprintf("\nopen %s in your editor, and run `motet check` beside it\n", filepath.Join(f.Folder, f.Name+"-wait"+sheetSuffix)))
	}
	return code
}

// ask asks for what no flag gave, where somebody sits at a terminal to answer, and takes the usual for what is left.
func (f *initFlags) ask(c *console) error {
	questions := []struct {
		answer          *string
		question, usual string
	}{
		{&f.Name, "whom is the first sheet about?", "keeper"},
		{&f.Rate, "how many frames a second?", "24"},
		{&f.Tempo, "how many beats a minute?", "80"},
	}
	asking := !f.Yes && isTerminal(c.in)
	answers := bufio.NewReader(c.in)
	for _, q := range questions {
		if *q.answer == "" && asking {
			fmt.Fprintf(c.err, "%s (%s) ", q.question, q.usual)
			line, err := answers.ReadString('\n')
			if err != nil && !errors.Is(err, io.EOF) {
				return err
			}
			*q.answer = strings.TrimSpace(line)
		}
		if *q.answer == "" {
			*q.answer = q.usual
		}
	}
	return nil
}

// starterFile is a file to begin with.
type starterFile struct{ name, what, text string }

// files are the files to begin with; the error says which flag does not fit the sheet.
func (f *initFlags) files() ([]starterFile, error) {
	if grammar.Classify(f.Name) != grammar.Word {
		return nil, fmt.Errorf("--name: `%s` can't name a sheet; a name begins with a letter and goes on with letters, digits, - and _", f.Name)
	}
	sheet, err := f.sheet()
	if err != nil {
		return nil, err
	}
	return []starterFile{
		{"person.motet", "a rig, the dials that sheets turn", readStarter("person")},
		{f.Name + "-wait" + sheetSuffix, "a first sheet", sheet},
		{"house.motet", "rules of the house", readStarter("house")},
		{".gitattributes", "git keeps the line ends of sheets", "*.motet text eol=lf\n"},
		{".editorconfig", "editors indent sheets by two spaces", "[*.motet]\ncharset = utf-8\nend_of_line = lf\ninsert_final_newline = true\nindent_style = space\nindent_size = 2\ntrim_trailing_whitespace = true\n"},
		{".vscode/settings.json", "VS Code formats sheets when it saves them", "{\n  \"[motet]\": {\n    \"editor.formatOnSave\": true\n  }\n}\n"},
		{".vscode/extensions.json", "VS Code recommends the extension", "{\n  \"recommendations\": [\"motet-sheet.motet\"]\n}\n"},
	}, nil
}

// sheet is the first sheet, with its name, rate and tempo written in.
func (f *initFlags) sheet() (string, error) {
	text := strings.NewReplacer("WHO", f.Name, "RATE", f.Rate, "TEMPO", f.Tempo).Replace(readStarter("wait"))
	tree := grammar.Parse(f.Name, text)
	for _, block := range tree.Blocks {
		for _, line := range block.Lines {
			if line.Fault != nil {
				return "", fmt.Errorf("--%s: %s", strings.Fields(line.Text)[0], line.Fault.Message)
			}
		}
	}
	return grammar.Format(tree), nil
}

func readStarter(name string) string {
	text, err := starter.ReadFile("starter/" + name + sheetSuffix)
	if err != nil {
		panic(err) // The files are part of the program.
	}
	return string(text)
}

// writeNew writes a file that must not be there yet, and the folders above it.
func writeNew(path, text string) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		return err
	}
	file, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return err
	}
	_, err = file.WriteString(text)
	return errors.Join(err, file.Close())
}
