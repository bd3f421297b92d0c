package lint

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestEveryRuleIsDocumentedAndItsExamplesHold(t *testing.T) {
	for _, rule := range Rules() {
		t.Run(rule.Name, func(t *testing.T) {
			for _, text := range []string{rule.Doc.Reports, rule.Doc.Why, rule.Doc.Decides, rule.Doc.Allow, rule.Doc.Bad, rule.Doc.Good} {
				require.NotEmpty(t, text)
			}
			bad := CheckExample(rule.Doc.Bad)
			require.NotEmpty(t, bad, "the bad example is reported")
			for _, f := range bad {
				assert.Equal(t, rule.Name, f.Rule, f.Message)
			}
			for _, f := range CheckExample(rule.Doc.Good) {
				assert.NotEqual(t, rule.Name, f.Rule, f.Message)
				assert.NotEqual(t, Error, f.Level, f.Message)
			}
		})
	}
}
