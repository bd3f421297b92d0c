package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"hash/crc32"
	"io"
	"os"
)

// A picture that motet draws says so, with a hash of the rest, so that it can be drawn anew in its own place, and nothing is
// drawn over what somebody else made or has worked on since: an SVG in a comment behind its end, a PNG in a text chunk of
// the keyword that is for that, Software, right behind the header (PNG Specification, third edition, 11.3.3.2).
const (
	svgMark, svgMarkEnd = "<!-- drawn by motet, ", " -->\n"
	pngMark             = "tEXtSoftware\x00motet "

	// pngHeader is how many bytes of a PNG stand before the second chunk: the signature and IHDR, whose length is fixed.
	pngHeader = 8 + 4 + 4 + 13 + 4
)

// markSVG signs the text of an SVG.
func markSVG(picture []byte) []byte {
	return append(picture, svgMark+digest(picture)+svgMarkEnd...)
}

// markPNG signs the bytes of a PNG.
func markPNG(picture []byte) []byte {
	chunk := []byte(pngMark + digest(picture))
	out := make([]byte, 0, len(picture)+len(chunk)+8)
	out = append(out, picture[:pngHeader]...)
	out = binary.BigEndian.AppendUint32(out, uint32(len(chunk)-4)) // without the chunk's type
	out = append(out, chunk...)
	out = binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(chunk))
	return append(out, picture[pngHeader:]...)
}

// digestBytes of a hash are enough to tell that a picture has been changed, and digestLength characters long.
const digestBytes, digestLength = 8, 16

func digest(picture []byte) string {
	sum := sha256.Sum256(picture)
	return hex.EncodeToString(sum[:digestBytes])
}

// isOurPicture tells whether a file is a picture as motet drew it.
func isOurPicture(path string) bool {
	data, err := readClip(path)
	if err != nil {
		return false
	}
	if i := bytes.LastIndex(data, []byte(svgMark)); i >= 0 && bytes.Equal(data, markSVG(bytes.Clone(data[:i]))) {
		return true
	}
	chunk := 4 + len(pngMark) + digestLength + 4
	if len(data) < pngHeader+chunk {
		return false
	}
	return bytes.Equal(data, markPNG(append(bytes.Clone(data[:pngHeader]), data[pngHeader+chunk:]...)))
}

// isOurFrame tells by a PNG's first bytes alone whether motet drew it, since a film has thousands.
func isOurFrame(path string) bool {
	file, err := os.Open(path)
	if err != nil {
		return false
	}
	defer func() { _ = file.Close() }()
	head := make([]byte, pngHeader+4+len(pngMark))
	_, err = io.ReadFull(file, head)
	return err == nil && string(head[pngHeader+4:]) == pngMark
}
