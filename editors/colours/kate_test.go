package colours

import (
	"encoding/xml"
	"os"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// kateFile is what of Kate's syntax definitions a definition can be wrong about: names that are said and nowhere given.
type kateFile struct {
	Contexts []struct {
		Name       string     `xml:"name,attr"`
		Attribute  string     `xml:"attribute,attr"`
		LineEnd    string     `xml:"lineEndContext,attr"`
		Rules      []kateRule `xml:"RegExpr"`
		Inclusions []kateRule `xml:"IncludeRules"`
	} `xml:"highlighting>contexts>context"`
	Styles []struct {
		Name  string `xml:"name,attr"`
		Style string `xml:"defStyleNum,attr"`
	} `xml:"highlighting>itemDatas>itemData"`
}

type kateRule struct {
	Attribute string `xml:"attribute,attr"`
	Context   string `xml:"context,attr"`
}

// kateStyles are the default styles (KSyntaxHighlighting's language.xsd, version 5.0; from memory).
var kateStyles = []string{
	"dsNormal", "dsKeyword", "dsFunction", "dsVariable", "dsControlFlow", "dsOperator", "dsBuiltIn", "dsExtension", "dsPreprocessor",
	"dsAttribute", "dsChar", "dsSpecialChar", "dsString", "dsVerbatimString", "dsSpecialString", "dsImport", "dsDataType", "dsDecVal",
	"dsBaseN", "dsFloat", "dsConstant", "dsComment", "dsDocumentation", "dsAnnotation", "dsCommentVar", "dsRegionMarker",
	"dsInformation", "dsWarning", "dsAlert", "dsError", "dsOthers",
}

func TestKateKnowsEveryNameThatItsRulesSay(t *testing.T) {
	text, err := os.ReadFile("../kate/motet.xml")
	require.NoError(t, err)
	var file kateFile
	require.NoError(t, xml.Unmarshal(text, &file))
	contexts, styles := []string{"#stay", "#pop", "#pop#pop"}, []string{}
	for _, c := range file.Contexts {
		require.NotContains(t, contexts, c.Name)
		contexts = append(contexts, c.Name)
	}
	for _, s := range file.Styles {
		require.Contains(t, kateStyles, s.Style)
		styles = append(styles, s.Name)
	}
	for _, c := range file.Contexts {
		require.Contains(t, styles, c.Attribute)
		require.Contains(t, contexts, c.LineEnd)
		for _, r := range slices.Concat(c.Rules, c.Inclusions) {
			require.Contains(t, contexts, r.Context)
			if r.Attribute != "" {
				require.Contains(t, styles, r.Attribute, "in the context %s", c.Name)
			}
		}
	}
	require.Greater(t, len(file.Contexts), 40)
}
