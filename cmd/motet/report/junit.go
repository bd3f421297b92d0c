package report

import (
	"encoding/xml"
	"fmt"
	"io"
	"strings"

	"github.com/motet-sheet/motet/lint"
)

// JUnit writes findings as the XML in which CI systems take in test results: one suite a file, in it one test case a
// finding, which fails where the finding makes the check fail, and one passing case for a file without findings.
type JUnit struct {
	Out    io.Writer
	Strict bool // warnings fail too

	begun bool
}

type junitSuite struct {
	XMLName  xml.Name    `xml:"testsuite"`
	Name     string      `xml:"name,attr"`
	Tests    int         `xml:"tests,attr"`
	Failures int         `xml:"failures,attr"`
	Errors   int         `xml:"errors,attr"`
	Cases    []junitCase `xml:"testcase"`
}

type junitCase struct {
	Name    string      `xml:"name,attr"`
	Class   string      `xml:"classname,attr"`
	Error   *junitFault `xml:"error"`
	Failure *junitFault `xml:"failure"`
	Output  *junitText  `xml:"system-out"`
}

type junitText struct {
	Text string `xml:",cdata"`
}

type junitFault struct {
	Message string `xml:"message,attr"`
	Type    string `xml:"type,attr"`
	Text    string `xml:",cdata"` // what a terminal may show, which XML may hold too
}

// Checked writes a file and its findings.
func (j *JUnit) Checked(path string, found []Finding) {
	suite := junitSuite{Name: path}
	for i := range found {
		f := &found[i]
		c := junitCase{Name: fmt.Sprintf("%s at %d:%d", f.Rule, f.At.line(), f.At.column(f.At.Span.Start)), Class: path}
		text := plainText(f)
		if f.Level == lint.Error || j.Strict && f.Level == lint.Warning {
			c.Failure = &junitFault{f.Message, f.Level.String(), text}
			suite.Failures++
		} else {
			c.Output = &junitText{text}
		}
		suite.Cases = append(suite.Cases, c)
	}
	if len(found) == 0 {
		suite.Cases = []junitCase{{Name: "nothing to report", Class: path}}
	}
	j.suite(suite)
}

// Close writes what could not be checked.
func (j *JUnit) Close(failures []Failure) {
	for _, f := range failures {
		j.suite(junitSuite{Name: f.Path, Errors: 1, Cases: []junitCase{{
			Name: "can be checked", Class: f.Path, Error: &junitFault{f.Message, "failure", f.Path + ": " + f.Message},
		}}})
	}
	j.begin()
	j.print("</testsuites>\n")
}

func (j *JUnit) suite(s junitSuite) {
	j.begin()
	s.Tests = len(s.Cases)
	encoder := xml.NewEncoder(j.Out)
	encoder.Indent("  ", "  ")
	if err := encoder.Encode(s); err != nil {
		return // Only the writer can fail, and it keeps its first error.
	}
	j.print("\n")
}

func (j *JUnit) begin() {
	if !j.begun {
		j.begun = true
		j.print(xml.Header + "<testsuites name=\"motet check\">\n")
	}
}

// plainText is a finding as the text report has it.
func plainText(f *Finding) string {
	var out strings.Builder
	(&Text{Out: &out}).finding(f)
	return out.String()
}

func (j *JUnit) print(text string) { _, _ = io.WriteString(j.Out, text) }
