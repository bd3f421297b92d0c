package main

import (
	"errors"
	"fmt"
	"io"
	"reflect"
	"strings"

	"github.com/alecthomas/kong"

	"github.com/motet-sheet/motet/grammar"
)

// The exit codes of every command.
const (
	exitClean  = 0 // done, and nothing to complain about
	exitFound  = 1 // done, and something fails: a finding, or a file that format would change
	exitFailed = 2 // not done: wrong use, or files that could not be read or written

	// exitUnheard is that of a program which writes to a reader that has gone: 128 and the number of SIGPIPE, with which
	// the system ends it unless the program asks not to be.
	exitUnheard = 141
)

// command is one of motet's commands.
type command struct {
	name string
	does string // in the list of commands
	help string
	// flags makes what the command line is read into; its run does the work.
	flags func() runner
}

// runner is a command line that was read.
type runner interface {
	run(c *console) int
}

// commands lists the commands in the order in which a new user meets them.
func commands() []command {
	return []command{
		{"init", "make a folder to begin in: a rig, a first sheet, settings", initHelp, func() runner { return &initFlags{} }},
		{"check", "report what an eye trained on motion would stumble over", checkHelp, func() runner { return &checkFlags{} }},
		{"format", "bring sheets into the one canonical form", formatHelp, func() runner { return &formatFlags{} }},
		{"import", "make a sheet of a clip", importHelp, func() runner { return &importFlags{} }},
		{"export", "write a sheet as a clip for animation packages and engines", exportHelp, func() runner { return &exportFlags{} }},
		{"explain", "tell what a rule looks for, or list the rules", explainHelp, func() runner { return &explainFlags{} }},
		{"rules", "list the rules in force for a folder, and where each was set", rulesHelp, func() runner { return &rulesFlags{} }},
		{"compare", "tell what differs between sheets, or sheet and clip, as motion", compareHelp, func() runner { return &compareFlags{} }},
		{"trace", "tell how a channel comes to its value", traceHelp, func() runner { return &traceFlags{} }},
		{"flatten", "write a variant out as a sheet that stands alone", flattenHelp, func() runner { return &flattenFlags{} }},
		{"family", "tell what each member of a cast is, and whom it is most like", familyHelp, func() runner { return &familyFlags{} }},
		{"plot", "draw curves, the figure, its poses, or who leads whom", plotHelp, func() runner { return &plotFlags{} }},
		{"watch", "show sheets as they move, in the browser, and follow their files", watchHelp, func() runner { return &watchFlags{} }},
		{"review", "write a page for whoever gives notes, and take the notes in", reviewHelp, func() runner { return &reviewFlags{} }},
		{"serve", "be the language server of an editor", serveHelp, func() runner { return &serveFlags{} }},
		{"version", "print the version", versionHelp, func() runner { return &versionFlags{} }},
	}
}

// run carries out a command line and gives its exit code. It prints nothing but on the streams that it is given.
func run(args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	c := newConsole(stdin, stdout, stderr)
	code := dispatch(args, c)
	return max(code, c.close())
}

func dispatch(args []string, c *console) int {
	if len(args) == 0 {
		_, _ = io.WriteString(c.err, topHelp())
		return exitFailed
	}
	name, rest := args[0], args[1:]
	switch name {
	case "help", "-h", "--help":
		if len(rest) == 0 || strings.HasPrefix(rest[0], "-") {
			c.print(topHelp())
			return exitClean
		}
		name, rest = rest[0], []string{"--help"}
	case "--version":
		name = "version"
	}
	known := commands()
	for i := range known {
		if known[i].name == name {
			return known[i].start(rest, c)
		}
	}
	c.complain("%s", unknownCommand(name, known))
	return exitFailed
}

func unknownCommand(name string, known []command) string {
	names := make([]string, len(known))
	for i := range known {
		names[i] = known[i].name
	}
	text := fmt.Sprintf("there is no command `%s`", name)
	switch near := grammar.Nearest(name, names); {
	case near != "":
		text += fmt.Sprintf("; did you mean `motet %s`?", near)
	case strings.HasSuffix(name, sheetSuffix):
		text += fmt.Sprintf("; to check that file, `motet check %s`", name)
	default:
		text += "; `motet help` lists them"
	}
	return text
}

// start reads the rest of the command line and runs the command.
func (cmd *command) start(args []string, c *console) int {
	if asksForHelp(args) {
		c.print(strings.TrimPrefix(cmd.help, "\n"))
		return exitClean
	}
	for _, arg := range args {
		if name, value, _ := strings.Cut(arg, "="); arg == "" || value == "" && strings.HasPrefix(name, "--") && strings.HasSuffix(arg, "=") {
			c.complain("an argument is empty, as a variable of the shell is that was never set; `motet %s --help` tells how to use it", cmd.name)
			return exitFailed
		}
	}
	flags := cmd.flags()
	parser, err := kong.New(flags, kong.Name("motet "+cmd.name), kong.NoDefaultHelp(), kong.Writers(c.err, c.err), kong.KindMapper(reflect.String, kong.MapperFunc(asGiven)))
	if err == nil {
		_, err = parser.Parse(args)
	}
	if err != nil {
		c.complain("%s; `motet %s --help` tells how to use it", plainError(err), cmd.name)
		return exitFailed
	}
	return flags.run(c)
}

// asGiven takes a word of the command line byte for byte. Kong's own way goes over JSON, in which the name of a file that is
// not UTF-8 becomes another one.
func asGiven(ctx *kong.DecodeContext, target reflect.Value) error {
	token, err := ctx.Scan.PopValue("string")
	if err != nil {
		return err
	}
	target.SetString(fmt.Sprint(token.Value))
	return nil
}

// asksForHelp looks for a question for help anywhere before `--`, so that it needs no complete command line.
func asksForHelp(args []string) bool {
	for _, arg := range args {
		switch arg {
		case "--":
			return false
		case "-h", "--help":
			return true
		}
	}
	return false
}

// plainError is the message of an error in the words of a command line.
func plainError(err error) string {
	var parse *kong.ParseError
	if errors.As(err, &parse) {
		err = parse.Unwrap()
	}
	if missing, ok := strings.CutPrefix(err.Error(), `expected "<`); ok {
		name, _, _ := strings.Cut(missing, ">")
		return strings.ToUpper(name) + " is missing"
	}
	return err.Error()
}

func topHelp() string {
	var out strings.Builder
	out.WriteString(`motet keeps idle cycles for character animators: readable sheets that can be
checked, compared and moved to and from glTF.

  motet COMMAND [FLAGS] [PATH…]

commands:
`)
	for _, cmd := range commands() {
		fmt.Fprintf(&out, "  %-10s%s\n", cmd.name, cmd.does)
	}
	out.WriteString(`
` + "`motet COMMAND --help`" + ` tells more about one of them.

exit codes:
  0  done, nothing to complain about
  1  done, and something fails: a finding, or a file that format would change
  2  not done: wrong use, or a file that could not be read or written
  141  stopped, since the reader of the output, such as head, wanted no more
`)
	return out.String()
}
