package report

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/jpeg"
	"io"
	"os"
	"strings"

	"sitspan/cmd/sitspan/internal/words"
)

// overlayMark stands in an overlay's comment before the language of its words.
const overlayMark = "sitspan overlay, language "

// WriteOverlay writes an overlay as JPEG: pixels, and in a comment the language of the words among them (a
// COM segment, ITU-T T.81, B.2.4.5).
func WriteOverlay(w io.Writer, img image.Image, lang words.Lang, quality int) error {
	var b bytes.Buffer
	if n, ok := img.(*image.NRGBA); ok && n.Opaque() { // the same bytes, which the encoder takes quickly
		img = &image.RGBA{Pix: n.Pix, Stride: n.Stride, Rect: n.Rect}
	}
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: quality}); err != nil {
		return err
	}
	text := overlayMark + string(lang)
	head := append(b.Bytes()[:2:2], 0xff, 0xfe)
	head = binary.BigEndian.AppendUint16(head, uint16(2+len(text)))
	if _, err := w.Write(append(head, text...)); err != nil {
		return err
	}
	_, err := w.Write(b.Bytes()[2:])
	return err
}

// OverlayLang is the language of an overlay's words; empty where the file does not say.
func OverlayLang(path string) words.Lang {
	f, err := os.Open(path)
	if err != nil {
		return ""
	}
	defer f.Close()
	head := make([]byte, 64)
	n, _ := io.ReadFull(f, head) // a shorter file has no such comment
	_, after, found := strings.Cut(string(head[:n]), overlayMark)
	if !found || len(after) < 2 {
		return ""
	}
	lang, err := words.Parse(after[:2])
	if err != nil {
		return ""
	}
	return lang
}
