package exchange

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func faceTexts() map[string]string {
	return map[string]string{"rig.motet": faceRig, "sheet.motet": faceSheet}
}

// A round of edits of a face comes back as the cells that were edited, and nothing else.
func TestOntoTakesFacesBack(t *testing.T) {
	same := retaken(t, faceTexts(), "sheet.motet", faceSheet)
	assert.Equal(t, faceSheet, same.Text)
	for name, edit := range map[string][]string{
		"a smile":                      {"1b      60^ ", "1b      70^ "},
		"a blink that is held":         {"1b      100=", "1b      80="},
		"a blink of straight lines":    {"2b      100>", "2b      90>"},
		"a jaw that also turns":        {"2b      25", "2b      30"},
		"a target of one node":         {"10      heavy", "25      heavy"},
		"two dials of one target, one": {"20@8    40 ", "20@8    60 "},
	} {
		t.Run(name, func(t *testing.T) {
			edited := replaced(t, faceSheet, edit...)
			got := retaken(t, faceTexts(), "sheet.motet", edited)
			assert.Zero(t, got.Short, strings.Join(got.Report, "\n"))
			m, want := faceMotion(t, got.Text), faceMotion(t, edited)
			for k := range 72 {
				have := m.Rig.Weights(m.Values(float64(k), nil), nil)
				assert.InDeltaSlice(t, want.Rig.Weights(want.Values(float64(k), nil), nil), have, 0.006, "frame %d", k)
			}
			if name != "two dials of one target, one" { // which the clip can't tell from the other
				assert.Equal(t, edited, got.Text)
			}
		})
	}
}

// Into the animator's own file and back, where one of several meshes was touched.
func TestOntoFromTheAnimatorsFile(t *testing.T) {
	edited := replaced(t, faceSheet, "2b      100>", "2b      90>")
	rig := strings.Replace(faceRig, "root\n", "root    # node 1 \"Keeper_Hips\" scale 1\n", 1)
	take, err := NewTake(sheetOf(t, map[string]string{"rig.motet": rig, "sheet.motet": edited}, "sheet.motet"), TakeWish{})
	require.NoError(t, err)
	data, err := Into("keeper.glb", glb(t, faceFile(t)), take)
	require.NoError(t, err)
	texts := map[string]string{"rig.motet": rig, "sheet.motet": faceSheet}
	trees := treesOf(texts)
	sheet, err := trees("sheet.motet")
	require.NoError(t, err)
	got, err := Onto(OntoOptions{Path: "keeper.glb", ReadFile: func(string) ([]byte, error) { return data, nil }, Sheet: sheet, Trees: trees})
	require.NoError(t, err)
	assert.Equal(t, edited, got.Text)
	assert.Contains(t, strings.Join(got.Report, "\n"), "; the weight of ")

	// A file without the meshes says so, and leaves the dials alone.
	bare, err := NewTake(coatSheet(t, "keeper-chat"), TakeWish{})
	require.NoError(t, err)
	assert.NotNil(t, bare)
	stripped := *take
	stripped.weights = nil
	data = mustGLB(t, &stripped)
	got, err = Onto(OntoOptions{Path: "keeper.glb", ReadFile: func(path string) ([]byte, error) {
		if path != "keeper.glb" {
			return nil, os.ErrNotExist
		}
		return data, nil
	}, Sheet: sheet, Trees: trees})
	require.NoError(t, err)
	assert.Equal(t, faceSheet, got.Text)
	assert.Contains(t, strings.Join(got.Report, "\n"), "the file has no mesh with 8 morph targets (smile, cheek, eyeBlinkLeft, eyeBlinkRight, …), whose dials keep what they say")
}
