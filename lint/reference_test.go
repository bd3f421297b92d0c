package lint

import "testing"

func TestReferenceIsWrittenFromTheRules(t *testing.T) {
	golden(t, "RULES.md", []byte(Reference()))
}
