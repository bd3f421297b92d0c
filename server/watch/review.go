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
	carried
	Title  string     `json:"title"`
	Since  string     `json:"since"`  // what the earlier round is called; empty for none
	Gone   []string   `json:"gone"`   // that were there then
	Broken []string   `json:"broken"` // the paths of sheets that can't be played
	Cards  []toldCard `json:"cards"`  // in the members' order
}

// toldCard is what is said of a member.
type toldCard struct {
	Facts    []string   `json:"facts"`
	Findings []string   `json:"findings"`
	Notes    []toldNote `json:"notes"`   // the open ones, and those that were open at the earlier round
	Changes  []string   `json:"changes"` // since the earlier round
}

// toldNote is a note as a card shows it.
type toldNote struct {
	At   string `json:"at"`
	Text string `json:"text"`
	Is   string `json:"is"` // open, new (since the earlier round), done or withdrawn
}

// ReviewOptions is what a review says besides what the sheets do.
type ReviewOptions struct {
	Title   string // what is under review
	Earlier *Round // the round before, for what changed since; nil for none
}

// Review writes one file that shows a family as it moves, with each member's facts, findings and open notes, and takes
// new notes. With an earlier round it says of each member what has changed since. It needs no server and loads nothing:
// whoever has the file has all of it, and the sheets too, for a later round to compare itself with.
func Review(w io.Writer, sheets []Sheet, o ReviewOptions) error {
	told := toldReview{toldFamily: tellFamily(sheets), carried: carry(sheets), Title: o.Title, Gone: []string{}, Broken: []string{}}
	if o.Earlier != nil {
		told.Since, told.Gone = o.Earlier.Name, o.Earlier.gone(sheets)
	}
	for i := range sheets {
		if sheets[i].Motion.Whole() {
			told.Cards = append(told.Cards, card(&sheets[i], o.Earlier))
		} else {
			told.Broken = append(told.Broken, sheets[i].Path)
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
	_, err = strings.NewReplacer("{title}", html.EscapeString(o.Title), "{policy}", html.EscapeString(policy), "{style}", style, "{data}", dataOpens+string(data)+dataCloses, "{script}", script).WriteString(w, string(page))
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

func card(s *Sheet, earlier *Round) toldCard {
	m := s.Motion
	c := toldCard{Facts: []string{lasts(m.Sheet)}, Findings: []string{}, Changes: []string{}}
	if m.Base != nil {
		c.Facts = append(c.Facts, "made from "+m.Base.Sheet.Name)
	}
	for _, f := range s.Findings() {
		if f.Rule != "open-note" {
			c.Findings = append(c.Findings, f.Level.String()+" "+f.Rule+": "+f.Message)
		}
	}
	if earlier == nil {
		c.Notes = carryOver(nil, m, false)
		return c
	}
	old := earlier.before(m)
	c.Notes = carryOver(old, m, true)
	switch {
	case old == nil:
		c.Changes = append(c.Changes, "is new")
	case !old.Whole():
		c.Changes = append(c.Changes, "could not be played then")
	default:
		if c.Changes = append(c.Changes, changes(old, m)...); len(c.Changes) == 0 {
			c.Changes = append(c.Changes, "moves as it did")
		}
	}
	return c
}

// Note is a row of a sheet's notes.
type Note struct {
	At, Text string
	Open     bool
}

// NotesIn are the notes of a sheet's own file.
func NotesIn(file *grammar.File) []Note {
	var out []Note
	for _, b := range file.Blocks {
		at, status, note := b.ColumnIndex("at"), b.ColumnIndex("status"), b.ColumnIndex("note")
		if b.Kind != grammar.NotesBlock || at < 0 || status < 0 || note < 0 {
			continue
		}
		for i := range b.Rows() {
			l := &b.Lines[i]
			if len(l.Cells) > max(at, status, note) {
				out = append(out, Note{l.CellText(at), strings.Trim(l.CellText(note), `"`), l.CellText(status) == "open"})
			}
		}
	}
	return out
}

// carryOver are the open notes of a sheet, and what became of those that were open at the earlier round: a note is the
// same one as long as its words are.
func carryOver(old, now *motion.Motion, asked bool) []toldNote {
	was := map[string]bool{}
	if old != nil {
		for _, note := range NotesIn(old.File) {
			was[note.Text] = was[note.Text] || note.Open
		}
	}
	out, there := []toldNote{}, map[string]bool{}
	for _, note := range NotesIn(now.File) {
		there[note.Text] = true
		switch {
		case note.Open && asked && !was[note.Text]:
			out = append(out, toldNote{note.At, note.Text, "new"})
		case note.Open:
			out = append(out, toldNote{note.At, note.Text, "open"})
		case was[note.Text]:
			out = append(out, toldNote{note.At, note.Text, "done"})
		}
	}
	if old != nil {
		for _, note := range NotesIn(old.File) {
			if note.Open && !there[note.Text] {
				out = append(out, toldNote{note.At, note.Text, "withdrawn"})
			}
		}
	}
	return out
}
