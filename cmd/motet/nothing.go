package main

import (
	"path"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/cmd/motet/report"
	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint"
	"github.com/motet-sheet/motet/lint/motion"
)

// nothingIn reports a file in which nothing stands, or comments alone: somebody may have saved it so by mistake, and a check
// that finds nothing to report in it would say that all is well. It is no rule's business, since an editor's new buffer holds
// nothing either, and is not to be told so; and a house file may be empty, to say where a project begins.
func nothingIn(file *grammar.File, shown string, rules []*lint.Rule) []report.Finding {
	const rule = "missing-line"
	if path.Base(file.Path) == motion.HouseFile || !slices.ContainsFunc(rules, func(r *lint.Rule) bool { return r.Name == rule }) {
		return nil
	}
	what := "nothing stands in this file"
	for _, b := range file.Blocks {
		for i := range b.Lines {
			switch b.Lines[i].Kind {
			case grammar.BlankLine:
			case grammar.CommentLine:
				what = "only comments stand in this file"
			default:
				return nil
			}
		}
	}
	way := "if it was saved so by mistake, fetch back what it held, or else begin with `sheet NAME`"
	if strings.ContainsRune(file.Text, '\r') && !strings.ContainsRune(file.Text, '\n') {
		way = "its lines end in returns without line feeds, as old programs write them, so that it is one long comment; save it with the line ends of Unix or Windows"
	}
	return []report.Finding{{
		Rule: rule, Level: lint.Note, At: report.Place{Path: shown, File: file}, Message: what + ", no sheet and no rig; " + way,
	}}
}
