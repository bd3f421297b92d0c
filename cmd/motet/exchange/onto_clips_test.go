package exchange

import (
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

// A real clip brought back into the sheet that was made of it changes no byte; nor does what the sheet is exported as.
func TestOntoLeavesImportedClipsAlone(t *testing.T) {
	long(t)
	for _, path := range emotes(t) {
		if name := filepath.Base(path); name != "idle.glb" && name != "walk.glb" && name != "dab.glb" {
			continue // an import takes long; all of them were held to this once
		}
		made := imported(t, path)
		texts := map[string]string{made.RigFile: made.RigText, made.SheetFile: made.SheetText}
		r := onto(t, texts, made.SheetFile, path)
		assert.Equal(t, made.SheetText, r.Text, "%s: %s", filepath.Base(path), strings.Join(r.Report, "\n"))
	}
}
