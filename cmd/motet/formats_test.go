package main

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/owenrumney/go-sarif/v3/pkg/report/v210/sarif"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/lint"
	"github.com/motet-sheet/motet/lint/motion/reference"
)

// ruleSheets is a folder of the rules' sheets, which hold a report of every rule, and of one with characters outside the
// Basic Multilingual Plane, where columns in UTF-16 would be others.
func ruleSheets(t *testing.T) string {
	t.Helper()
	folder := t.TempDir()
	require.NoError(t, os.CopyFS(folder, os.DirFS(filepath.Join("..", "..", "testdata", "rules"))))
	wide := "sheet wide\n  cycle 2b\n\npose läs𝄞\n  hips/side 1,5  # x\n\nblocking\n  at  pose\n  0b  läs𝄞\n  1b  los𝄞\n"
	require.NoError(t, os.WriteFile(filepath.Join(folder, "a b#é.motet"), []byte(wide), 0o666))
	return folder
}

// printed is what motet prints in a folder.
func printed(t *testing.T, folder string, args ...string) string {
	t.Helper()
	before, err := os.Getwd()
	require.NoError(t, err)
	require.NoError(t, os.Chdir(folder))
	defer func() { require.NoError(t, os.Chdir(before)) }()
	var stdout, stderr bytes.Buffer
	run(args, strings.NewReader(""), &stdout, &stderr)
	return stdout.String()
}

func checked(t *testing.T, folder string, args ...string) string {
	t.Helper()
	return printed(t, folder, append([]string{"check"}, args...)...)
}

// jsonLog is the part of the JSON form that the tests read.
type jsonLog struct {
	Findings []struct {
		Path, Rule, Level, Message string
		Span                       jsonStretch
		Related                    []struct{ Span jsonStretch }
		Mends                      []struct {
			Title string
			Edits []struct {
				Path, Text string
				Span       jsonStretch
			}
		}
	}
	Totals struct{ Files int }
}

type jsonStretch struct{ Start, End struct{ Byte int } }

// TestSARIFIsValid holds the log to the OASIS schema of SARIF 2.1.0, errata 01, which github.com/owenrumney/go-sarif
// carries, and has that library read every field.
func TestSARIFIsValid(t *testing.T) {
	folder := ruleSheets(t)
	for _, args := range [][]string{{}, {"seam-gap"}, {"nowhere.motet"}, {"--rule", "seam-gap"}} {
		text := checked(t, folder, append([]string{"--format", "sarif"}, args...)...)
		log := readSARIF(t, text)
		require.NoError(t, log.Validate(), "%v", args)
		require.Len(t, log.Runs, 1)
	}
	log := readSARIF(t, checked(t, folder, "--format", "sarif"))
	*log.Runs[0].Results[0].RuleID, log.Runs[0].Results[0].Level = "", "loud"
	require.Error(t, log.Validate(), "the schema would tell")
}

func readSARIF(t *testing.T, text string) *sarif.Report {
	t.Helper()
	var log sarif.Report
	decoder := json.NewDecoder(strings.NewReader(text))
	decoder.DisallowUnknownFields()
	require.NoError(t, decoder.Decode(&log))
	full, err := sarif.FromBytes([]byte(text))
	require.NoError(t, err)
	return full
}

// TestSARIFIsValidForAnother holds the text itself to the OASIS schema by ajv.
func TestSARIFIsValidForAnother(t *testing.T) {
	folder := ruleSheets(t)
	var faults [][]string
	good := checked(t, folder, "--format", "sarif")
	reference.Ask(t, "sarif.mjs", []string{good, strings.Replace(good, `"level":"error"`, `"level":"loud"`, 1)}, &faults)
	require.Len(t, faults, 2)
	assert.Empty(t, faults[0])
	assert.NotEmpty(t, faults[1])
}

// TestSARIFPointsWhereJSONDoes reads each region by lines and code points, as its columnKind says, and compares the text
// there with that of the JSON form's bytes.
func TestSARIFPointsWhereJSONDoes(t *testing.T) {
	folder := ruleSheets(t)
	var want jsonLog
	require.NoError(t, json.Unmarshal([]byte(checked(t, folder, "--json")), &want))
	log := readSARIF(t, checked(t, folder, "--format", "sarif"))
	got := log.Runs[0]
	require.Equal(t, "unicodeCodePoints", *got.ColumnKind)
	require.Len(t, got.Results, len(want.Findings))
	rules := map[string]bool{}
	mends := 0
	for i, w := range want.Findings {
		r := got.Results[i]
		rules[w.Rule] = true
		require.Equal(t, w.Rule, *r.RuleID)
		require.Equal(t, w.Level, r.Level)
		require.Equal(t, w.Message, *r.Message.Text)
		require.Equal(t, w.Rule, *got.Tool.Driver.Rules[r.RuleIndex].ID)
		require.NotEmpty(t, r.PartialFingerprints["motetContent/v1"])
		sameStretch(t, filepath.Join(folder, w.Path), w.Span, r.Locations[0].PhysicalLocation.Region)
		require.Len(t, r.RelatedLocations, len(w.Related))
		require.Len(t, r.Fixes, len(w.Mends))
		for k, m := range w.Mends {
			changed := r.Fixes[k].ArtifactChanges
			require.Len(t, changed, 1, "every mend is about one file")
			require.Len(t, changed[0].Replacements, len(m.Edits))
			for n, e := range m.Edits {
				sameStretch(t, filepath.Join(folder, e.Path), e.Span, changed[0].Replacements[n].DeletedRegion)
				require.Equal(t, e.Text, *changed[0].Replacements[n].InsertedContent.Text)
				mends++
			}
		}
	}
	assert.Greater(t, mends, 50)
	assert.Len(t, rules, len(lint.Rules()), "there is a report of every rule")
	first := got.Results[0].Locations[0].PhysicalLocation
	assert.Equal(t, "a%20b%23%C3%A9.motet", *first.ArtifactLocation.URI)
	assert.Equal(t, "%SRCROOT%", *first.ArtifactLocation.URIBaseID)
}

func sameStretch(t *testing.T, path string, want jsonStretch, got *sarif.Region) {
	t.Helper()
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	lines := strings.SplitAfter(string(text), "\n")
	byteAt := func(line, column int) int {
		at := len(strings.Join(lines[:line-1], ""))
		for range column - 1 {
			_, size := utf8.DecodeRune(text[at:])
			at += size
		}
		return at
	}
	require.Equal(t, want.Start.Byte, byteAt(*got.StartLine, *got.StartColumn), path)
	require.Equal(t, want.End.Byte, byteAt(*got.EndLine, *got.EndColumn), path)
}

func TestSARIFTellsWhatCouldNotBeChecked(t *testing.T) {
	folder := ruleSheets(t)
	log := readSARIF(t, checked(t, folder, "--format", "sarif", "nowhere.motet"))
	done := log.Runs[0].Invocations[0]
	assert.False(t, *done.ExecutionSuccessful)
	require.Len(t, done.ToolExecutionNotifications, 1)
	assert.Equal(t, "there is no such file or folder", *done.ToolExecutionNotifications[0].Message.Text)
}

// TestJUnitIsValid holds the log to the schema by which Jenkins reads test results.
func TestJUnitIsValid(t *testing.T) {
	folder := ruleSheets(t)
	logs := []string{checked(t, folder, "--format", "junit"), checked(t, folder, "--format", "junit", "nowhere.motet"), "<testsuites><testsuite/></testsuites>"}
	var faults [][]string
	reference.Ask(t, "junit.mjs", logs, &faults)
	require.Len(t, faults, 3)
	assert.Empty(t, faults[0])
	assert.Empty(t, faults[1])
	assert.NotEmpty(t, faults[2])
}

func TestJUnitFailsWhatTheCheckFails(t *testing.T) {
	type suites struct {
		Suites []struct {
			Tests    int `xml:"tests,attr"`
			Failures int `xml:"failures,attr"`
			Cases    []struct {
				Failure *struct {
					Type string `xml:"type,attr"`
				} `xml:"failure"`
			} `xml:"testcase"`
		} `xml:"testsuite"`
	}
	folder := ruleSheets(t)
	var want jsonLog
	require.NoError(t, json.Unmarshal([]byte(checked(t, folder, "--json")), &want))
	for _, strict := range []bool{false, true} {
		args := []string{"--format", "junit"}
		failing := map[string]int{}
		for _, f := range want.Findings {
			if f.Level == "error" || strict && f.Level == "warning" {
				failing[f.Level]++
			}
		}
		if strict {
			args = append(args, "--strict")
		}
		var log suites
		require.NoError(t, xml.Unmarshal([]byte(checked(t, folder, args...)), &log))
		require.Len(t, log.Suites, want.Totals.Files, "a suite for every file")
		got := map[string]int{}
		for _, s := range log.Suites {
			assert.Len(t, s.Cases, s.Tests)
			failures := 0
			for _, c := range s.Cases {
				if c.Failure != nil {
					got[c.Failure.Type]++
					failures++
				}
			}
			assert.Equal(t, s.Failures, failures)
		}
		assert.Equal(t, failing, got)
	}
}
