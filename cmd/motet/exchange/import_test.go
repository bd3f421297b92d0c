package exchange

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestImportOfAnExportersClip(t *testing.T) {
	r, data := importPuppet(t, lampKeeper(60, 30), Options{})
	off := compare(t, r, data, 0)
	requireWithin(t, DefaultWithin(), off)
	assert.Equal(t, Closes, r.Loop)
}
