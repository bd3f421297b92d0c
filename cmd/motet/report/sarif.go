package report

import (
	"io"
	"net/url"
	"strings"

	"github.com/motet-sheet/motet/lint"
)

// SARIF writes findings in the Static Analysis Results Interchange Format, version 2.1.0 (OASIS, errata 01), in which
// code hosts take in what a linter found. A log holds one run: the rules with their documents, one result a finding
// with its region, related places and mends, and what could not be checked as notifications of the run's invocation.
// Columns count Unicode code points, which the run's columnKind says. Results are written as they come, so that a long
// check does not hold them all.
type SARIF struct {
	Out     io.Writer
	Version string // of motet

	begun bool
	some  bool
	index map[string]int // of the rules in the head
}

const (
	sarifSchema = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
	// sourceRoot stands for the folder that relative paths count from, by the name that code hosts look for.
	sourceRoot = "%SRCROOT%"
)

type sarifTool struct {
	Driver sarifDriver `json:"driver"`
}

type sarifDriver struct {
	Name     string      `json:"name"`
	Version  string      `json:"version,omitempty"`
	Language string      `json:"language"`
	Rules    []sarifRule `json:"rules"`
}

type sarifRule struct {
	ID       string    `json:"id"`
	Short    sarifText `json:"shortDescription"`
	Full     sarifText `json:"fullDescription"`
	Help     sarifHelp `json:"help"`
	Defaults struct {
		Enabled bool   `json:"enabled"`
		Level   string `json:"level"`
	} `json:"defaultConfiguration"`
	Properties struct {
		Tags []string `json:"tags"`
	} `json:"properties"`
}

type sarifText struct {
	Text string `json:"text"`
}

type sarifHelp struct {
	Text     string `json:"text"`
	Markdown string `json:"markdown"`
}

type sarifResult struct {
	RuleID       string            `json:"ruleId"`
	RuleIndex    *int              `json:"ruleIndex,omitempty"`
	Level        string            `json:"level"`
	Message      sarifText         `json:"message"`
	Locations    []sarifLocation   `json:"locations"`
	Related      []sarifLocation   `json:"relatedLocations,omitempty"`
	Fingerprints map[string]string `json:"partialFingerprints"`
	Fixes        []sarifFix        `json:"fixes,omitempty"`
}

type sarifLocation struct {
	ID       int           `json:"id,omitempty"`
	Physical sarifPhysical `json:"physicalLocation"`
	Message  *sarifText    `json:"message,omitempty"`
}

type sarifPhysical struct {
	Artifact sarifArtifact `json:"artifactLocation"`
	Region   *sarifRegion  `json:"region,omitempty"`
}

type sarifArtifact struct {
	URI  string `json:"uri"`
	Base string `json:"uriBaseId,omitempty"`
}

// sarifRegion is a stretch of text; its end column is the one behind it.
type sarifRegion struct {
	StartLine   int `json:"startLine"`
	StartColumn int `json:"startColumn"`
	EndLine     int `json:"endLine"`
	EndColumn   int `json:"endColumn"`
}

type sarifFix struct {
	Description sarifText     `json:"description"`
	Changes     []sarifChange `json:"artifactChanges"`
}

type sarifChange struct {
	Artifact     sarifArtifact      `json:"artifactLocation"`
	Replacements []sarifReplacement `json:"replacements"`
}

type sarifReplacement struct {
	Deleted  sarifRegion `json:"deletedRegion"`
	Inserted sarifText   `json:"insertedContent"`
}

type sarifInvocation struct {
	Successful    bool                `json:"executionSuccessful"`
	Notifications []sarifNotification `json:"toolExecutionNotifications,omitempty"`
}

type sarifNotification struct {
	Level     string          `json:"level"`
	Message   sarifText       `json:"message"`
	Locations []sarifLocation `json:"locations"`
}

// Findings writes the findings of a file.
func (s *SARIF) Findings(found []Finding) {
	s.begin()
	for i := range found {
		if s.some {
			s.print(",")
		}
		s.some = true
		s.print("\n")
		writeJSON(s.Out, s.result(&found[i]))
	}
}

// Close writes what could not be checked.
func (s *SARIF) Close(failures []Failure) {
	s.begin()
	s.print("],\n\"invocations\":")
	done := sarifInvocation{Successful: len(failures) == 0}
	for _, f := range failures {
		done.Notifications = append(done.Notifications, sarifNotification{
			Level: "error", Message: sarifText{f.Message},
			Locations: []sarifLocation{{Physical: sarifPhysical{Artifact: artifact(f.Path)}}},
		})
	}
	writeJSON(s.Out, []sarifInvocation{done})
	s.print("}]}\n")
}

func (s *SARIF) begin() {
	if s.begun {
		return
	}
	s.begun = true
	s.index = map[string]int{}
	driver := sarifDriver{Name: "motet", Version: s.Version, Language: "en-US"}
	for i, r := range lint.Rules() {
		s.index[r.Name] = i
		driver.Rules = append(driver.Rules, ruleSARIF(r))
	}
	s.print("{\"$schema\":\"" + sarifSchema + "\",\n\"version\":\"2.1.0\",\n\"runs\":[{\"tool\":")
	writeJSON(s.Out, sarifTool{driver})
	s.print(",\n\"language\":\"en-US\",\n\"newlineSequences\":[\"\\r\\n\",\"\\n\"],\n\"columnKind\":\"unicodeCodePoints\",\n\"results\":[")
}

func ruleSARIF(r *lint.Rule) sarifRule {
	d := &r.Doc
	rule := sarifRule{ID: r.Name, Short: sarifText{d.Reports}, Full: sarifText{d.Reports + " " + d.Why}}
	parts := []struct{ title, text string }{{"Why it matters to the eye", d.Why}, {"How it decides", d.Decides}, {"Mends", d.Mends}, {"When to allow it", d.Allow}}
	text, markdown := []string{d.Reports}, []string{d.Reports}
	for _, p := range parts {
		if p.text != "" {
			text = append(text, p.title+": "+p.text)
			markdown = append(markdown, "**"+p.title+".** "+p.text)
		}
	}
	rule.Help = sarifHelp{strings.Join(text, "\n\n"), strings.Join(markdown, "\n\n")}
	rule.Defaults.Enabled, rule.Defaults.Level = !r.Asked, r.Level.String()
	rule.Properties.Tags = []string{strings.ToLower(string(r.Group))}
	return rule
}

func (s *SARIF) result(f *Finding) sarifResult {
	out := sarifResult{
		RuleID: f.Rule, Level: f.Level.String(), Message: sarifText{f.Message},
		Locations:    []sarifLocation{{Physical: f.At.physical()}},
		Fingerprints: map[string]string{"motetContent/v1": f.Print()},
	}
	if i, ok := s.index[f.Rule]; ok {
		out.RuleIndex = &i
	}
	for i, r := range f.Related {
		out.Related = append(out.Related, sarifLocation{ID: i + 1, Physical: r.At.physical(), Message: &sarifText{r.Message}})
	}
	for _, m := range f.Mends {
		fix := sarifFix{Description: sarifText{m.Title}}
		for _, e := range m.Edits {
			fix.add(e)
		}
		out.Fixes = append(out.Fixes, fix)
	}
	return out
}

// add puts an edit among those of its file.
func (f *sarifFix) add(e Edit) {
	replacement := sarifReplacement{Deleted: e.At.region(), Inserted: sarifText{e.Text}}
	at := artifact(e.At.Path)
	for i := range f.Changes {
		if f.Changes[i].Artifact == at {
			f.Changes[i].Replacements = append(f.Changes[i].Replacements, replacement)
			return
		}
	}
	f.Changes = append(f.Changes, sarifChange{at, []sarifReplacement{replacement}})
}

func (p Place) physical() sarifPhysical {
	region := p.region()
	return sarifPhysical{artifact(p.Path), &region}
}

func (p Place) region() sarifRegion {
	start, end := p.point(p.Span.Start), p.point(p.Span.End)
	return sarifRegion{start.Line, start.Column, end.Line, end.Column}
}

// artifact is a path as a URI: relative to the source root, or of the file scheme where it is absolute.
func artifact(path string) sarifArtifact {
	if drive := len(path) > 1 && path[1] == ':'; drive || strings.HasPrefix(path, "/") {
		if drive {
			path = "/" + path
		}
		return sarifArtifact{URI: (&url.URL{Scheme: "file", Path: path}).String()}
	}
	// A first segment with a colon would be read as a scheme, which URL.String knows to prevent.
	return sarifArtifact{(&url.URL{Path: path}).String(), sourceRoot}
}

func (s *SARIF) print(text string) { _, _ = io.WriteString(s.Out, text) }
