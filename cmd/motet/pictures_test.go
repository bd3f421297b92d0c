package main

import (
	"bytes"
	"encoding/xml"
	"image"
	"image/color"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A marked picture is still one to whoever reads pictures, and is known again as long as nobody has worked on it. The
// standard library's reader of PNG checks the sum of every chunk, known or not.
func TestMarkedPictures(t *testing.T) {
	drawn := image.NewGray(image.Rect(0, 0, 3, 2))
	drawn.SetGray(1, 1, color.Gray{Y: 200})
	var plain bytes.Buffer
	require.NoError(t, png.Encode(&plain, drawn))
	marked := markPNG(plain.Bytes())
	read, err := png.Decode(bytes.NewReader(marked))
	require.NoError(t, err)
	assert.Equal(t, drawn, read)

	svg := markSVG([]byte("<svg xmlns=\"http://www.w3.org/2000/svg\">\n</svg>\n"))
	decoder := xml.NewDecoder(bytes.NewReader(svg))
	for err = nil; err == nil; _, err = decoder.Token() {
	}
	require.ErrorIs(t, err, io.EOF)

	folder := t.TempDir()
	ours := func(data []byte) (picture, frame bool) {
		path := filepath.Join(folder, "p")
		require.NoError(t, os.WriteFile(path, data, 0o666))
		return isOurPicture(path), isOurFrame(path)
	}
	for _, row := range []struct {
		name           string
		data           []byte
		picture, frame bool
	}{
		{"a PNG", marked, true, true},
		{"an SVG", svg, true, false},
		{"a PNG of somebody else's", plain.Bytes(), false, false},
		{"an SVG of somebody else's", []byte("<svg/>\n"), false, false},
		{"a PNG that was worked on", bytes.Replace(marked, []byte("IDAT"), []byte("IDAS"), 1), false, true},
		{"an SVG that was worked on", bytes.Replace(svg, []byte("</svg>"), []byte("<g/></svg>"), 1), false, false},
		{"half a PNG", marked[:len(marked)/2], false, len(marked)/2 >= pngHeader+4+len(pngMark)},
		{"a header", marked[:pngHeader], false, false},
		{"nothing", nil, false, false},
	} {
		picture, frame := ours(row.data)
		assert.Equal(t, row.picture, picture, row.name)
		assert.Equal(t, row.frame, frame, "%s, as a frame", row.name)
	}
}
