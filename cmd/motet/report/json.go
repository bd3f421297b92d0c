package report

import (
	"bytes"
	"encoding/json"
	"io"
)

// Format names the shape of [JSON]'s output. A program should refuse a name that it does not know; fields may be added
// under the same name, but none is removed and none changes its meaning.
const Format = "motet-check-1"

// JSON writes findings for programs, as one object on one line each for its head, each finding and its foot:
//
//	{"format": "motet-check-1",
//	 "findings": [
//	  {"path": "keeper.motet", "rule": "seam-gap", "level": "error",
//	   "message": "…", "span": SPAN,
//	   "related": [{"path": "…", "span": SPAN, "message": "…"}],
//	   "mends":   [{"title": "…", "safe": false, "edits": [{"path": "…", "span": SPAN, "text": "…"}]}]}],
//	 "mended": [{"path": "…", "line": 14, "rule": "seam-gap", "title": "…"}],
//	 "failures": [{"path": "…", "message": "…"}],
//	 "totals": {"files": 2, "sheets": 1, "rigs": 1, "keys": 25, "errors": 1, "warnings": 0, "notes": 0, "mendable": 0, "accepted": 2},
//	 "accepted": {"file": "accepted.json", "recorded": false, "gone": ["…"]},
//	 "stat": {"keys": 25, "keysPerSecond": 6.25, "beats": 6, "seconds": 4, "busiest": "keeper.motet",
//	          "busiestKeysPerSecond": 6.25, "rules": [{"rule": "seam-gap", "errors": 1, "warnings": 0, "notes": 0}]}}
//
// A SPAN is {"start": POINT, "end": POINT}, its end not included, and a POINT {"byte": 211, "line": 14, "column": 11}:
// bytes of the file from 0, lines from 1, and columns in characters (Unicode code points) from 1. All lists are there
// even when empty; mended is what --fix did, at the lines where the findings stood before; stat is there with --stat
// only, its busiest empty where no sheet could be measured; accepted is there with --accept only, and in the totals where
// it is not 0. Levels are error, warning and note. The edits of one mend are
// meant together, on the file as it was checked. Findings stand in the order of paths and then of the text.
type JSON struct {
	Out  io.Writer
	Stat *Stat // for the foot; nil where it is not asked for
	// Accepted is for the foot; nil where no reports are accepted.
	Accepted *Accepted

	begun  bool
	some   bool
	mended []jsonMended
}

type jsonFinding struct {
	Path    string        `json:"path"`
	Rule    string        `json:"rule"`
	Level   string        `json:"level"`
	Message string        `json:"message"`
	Span    jsonSpan      `json:"span"`
	Related []jsonRelated `json:"related"`
	Mends   []jsonMend    `json:"mends"`
}

type jsonSpan struct {
	Start jsonPoint `json:"start"`
	End   jsonPoint `json:"end"`
}

type jsonPoint struct {
	Byte   int `json:"byte"`
	Line   int `json:"line"`
	Column int `json:"column"`
}

type jsonRelated struct {
	Path    string   `json:"path"`
	Span    jsonSpan `json:"span"`
	Message string   `json:"message"`
}

type jsonMend struct {
	Title string     `json:"title"`
	Safe  bool       `json:"safe"`
	Edits []jsonEdit `json:"edits"`
}

type jsonEdit struct {
	Path string   `json:"path"`
	Span jsonSpan `json:"span"`
	Text string   `json:"text"`
}

type jsonMended struct {
	Path  string `json:"path"`
	Line  int    `json:"line"`
	Rule  string `json:"rule"`
	Title string `json:"title"`
}

type jsonFailure struct {
	Path    string `json:"path"`
	Message string `json:"message"`
}

type jsonTotals struct {
	Files    int `json:"files"`
	Sheets   int `json:"sheets"`
	Rigs     int `json:"rigs"`
	Keys     int `json:"keys"`
	Errors   int `json:"errors"`
	Warnings int `json:"warnings"`
	Notes    int `json:"notes"`
	Mendable int `json:"mendable"`
	Accepted int `json:"accepted,omitempty"`
}

// Mended notes what was mended in a file, for the foot.
func (j *JSON) Mended(done []Mended) {
	for _, d := range done {
		j.mended = append(j.mended, jsonMended(d))
	}
}

// Findings writes the findings of a file.
func (j *JSON) Findings(found []Finding) {
	j.begin()
	for i := range found {
		if j.some {
			j.print(",")
		}
		j.some = true
		j.print("\n")
		writeJSON(j.Out, findingJSON(&found[i]))
	}
}

// Close writes what could not be checked, and the totals.
func (j *JSON) Close(failures []Failure, n Totals) {
	j.begin()
	if j.some {
		j.print("\n")
	}
	list := []jsonFailure{}
	for _, f := range failures {
		list = append(list, jsonFailure(f))
	}
	if j.mended == nil {
		j.mended = []jsonMended{}
	}
	j.print("],\n\"mended\":")
	writeJSON(j.Out, j.mended)
	j.print(",\n\"failures\":")
	writeJSON(j.Out, list)
	j.print(",\n\"totals\":")
	writeJSON(j.Out, jsonTotals(n))
	if j.Accepted != nil {
		j.print(",\n\"accepted\":")
		writeJSON(j.Out, j.Accepted)
	}
	if j.Stat != nil {
		j.print(",\n\"stat\":")
		writeJSON(j.Out, j.Stat.json())
	}
	j.print("}\n")
}

func (j *JSON) begin() {
	if !j.begun {
		j.begun = true
		j.print("{\"format\":\"" + Format + "\",\n\"findings\":[")
	}
}

func findingJSON(f *Finding) jsonFinding {
	out := jsonFinding{
		Path: f.At.Path, Rule: f.Rule, Level: f.Level.String(), Message: f.Message, Span: f.At.json(),
		Related: []jsonRelated{}, Mends: []jsonMend{},
	}
	for _, r := range f.Related {
		out.Related = append(out.Related, jsonRelated{r.At.Path, r.At.json(), r.Message})
	}
	for _, m := range f.Mends {
		mend := jsonMend{Title: m.Title, Safe: m.Safe, Edits: []jsonEdit{}}
		for _, e := range m.Edits {
			mend.Edits = append(mend.Edits, jsonEdit{e.At.Path, e.At.json(), e.Text})
		}
		out.Mends = append(out.Mends, mend)
	}
	return out
}

func (p Place) json() jsonSpan { return jsonSpan{p.point(p.Span.Start), p.point(p.Span.End)} }

func (p Place) point(offset int) jsonPoint {
	return jsonPoint{Byte: offset, Line: p.File.LineAt(offset) + 1, Column: p.column(offset)}
}

// writeJSON writes a value without a line end, and its <, > and & as they are.
func writeJSON(out io.Writer, v any) {
	var text bytes.Buffer
	encoder := json.NewEncoder(&text)
	encoder.SetEscapeHTML(false)
	if err := encoder.Encode(v); err != nil {
		panic(err) // Numbers, strings and lists of them always encode.
	}
	_, _ = out.Write(bytes.TrimSuffix(text.Bytes(), []byte("\n")))
}

func (j *JSON) print(text string) { _, _ = io.WriteString(j.Out, text) }
