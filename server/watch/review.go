package watch

import (
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"html"
	"io"
	"io/fs"
	"regexp"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/draw"
	"github.com/motet-sheet/motet/lint/motion"
)

// toldReview is what a review file shows.
type toldReview struct {
	*toldFamily
	Cards []toldCard `json:"cards"` // in the members' order
}

// toldCard is what is said of a member.
type toldCard struct {
	Facts    []string `json:"facts"`
	Findings []string `json:"findings"`
	Notes    []string `json:"notes"`
}

// Review writes one file that shows a family as it moves, with each member's facts, findings and open notes, and takes
// new notes. It needs no server and loads nothing: whoever has the file has all of it.
func Review(w io.Writer, sheets []Sheet) error {
	told := toldReview{toldFamily: tellFamily(sheets)}
	for i := range sheets {
		if sheets[i].Motion.Whole() {
			told.Cards = append(told.Cards, card(&sheets[i]))
		}
	}
	data, err := json.Marshal(told) // which writes < as an escape, so that no text can end the element
	if err != nil {
		return err
	}
	script, err := reviewScript()
	if err != nil {
		return err
	}
	rules, err := fs.ReadFile(files, "review.css")
	if err != nil {
		return err
	}
	page, err := fs.ReadFile(files, "review.html")
	if err != nil {
		return err
	}
	style := fmt.Sprintf(":root{color-scheme:light dark;%s}\n@media (prefers-color-scheme:dark){:root{%s}}\n%s", draw.Light().CSS(), draw.Dark().CSS(), rules)
	policy := fmt.Sprintf("default-src 'none'; script-src %s; style-src %s; base-uri 'none'; form-action 'none'", hashOf(script), hashOf(style))
	_, err = strings.NewReplacer("{policy}", html.EscapeString(policy), "{style}", style, "{data}", string(data), "{script}", script).WriteString(w, string(page))
	return err
}

// hashOf is how a content security policy names the one script or style that may stand in a page (W3C CSP Level 3, 2.3.1).
func hashOf(text string) string {
	sum := sha256.Sum256([]byte(text))
	return "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
}

// reviewScript is the page's modules as one, since a file on disk may not import others.
func reviewScript() (string, error) {
	imports := regexp.MustCompile(`(?m)^import .*\n|^export `)
	var out strings.Builder
	for _, name := range []string{"figure.js", "family.js", "review.js"} {
		text, err := fs.ReadFile(files, name)
		if err != nil {
			return "", err
		}
		out.WriteString(imports.ReplaceAllString(string(text), ""))
	}
	return out.String(), nil
}

func card(s *Sheet) toldCard {
	m, sheet := s.Motion, s.Motion.Sheet
	c := toldCard{Findings: []string{}, Notes: []string{}}
	kind := "a span"
	if sheet.Closed {
		kind = "a cycle"
	}
	c.Facts = append(c.Facts, fmt.Sprintf("%s of %s beats, %.2f s", kind, sheet.Beats(sheet.Length), sheet.Seconds(sheet.Length).Float()), fmt.Sprintf("%d keys", m.KeyCount()))
	if m.Base != nil {
		c.Facts = append(c.Facts, "from "+m.Base.Sheet.Name)
	}
	for _, f := range s.Findings() {
		if f.Rule != "open-note" {
			c.Findings = append(c.Findings, f.Level.String()+" "+f.Rule+": "+f.Message)
		}
	}
	for _, note := range OpenNotes(m) {
		c.Notes = append(c.Notes, note.At+" "+note.Text)
	}
	return c
}

// Note is a row of a sheet's notes.
type Note struct{ At, Text string }

// OpenNotes are the notes of a sheet's own file that are not done.
func OpenNotes(m *motion.Motion) []Note {
	var out []Note
	for _, b := range m.File.Blocks {
		at, status, note := b.ColumnIndex("at"), b.ColumnIndex("status"), b.ColumnIndex("note")
		if b.Kind != grammar.NotesBlock || at < 0 || status < 0 || note < 0 {
			continue
		}
		for i := range b.Rows() {
			l := &b.Lines[i]
			if len(l.Cells) > max(at, status, note) && l.CellText(status) == "open" {
				out = append(out, Note{l.CellText(at), strings.Trim(l.CellText(note), `"`)})
			}
		}
	}
	return out
}
