package photo

import (
	"errors"
	"os"
	"testing"
)

// FuzzDecode: whatever the bytes, Decode gives either an upright picture within
// the limits or a *ReadError, and never panics.
func FuzzDecode(f *testing.F) {
	picture := sample().grey(8)
	f.Add([]byte{})
	f.Add([]byte("no photo"))
	f.Add(jpegFile(f, picture, jfifSegment(1, 300, 300), exifSegment(cameraBlock(6, 48, 32))))
	f.Add(jpegFile(f, inRGBA(picture)))
	f.Add(pngFile(f, picture, physChunk(11811, 11811, 1), chunk("eXIf", orientationBlock(5))))
	f.Add(pngFile(f, inPalette(picture)))
	f.Add(tiffFile(picture, tag{0x0112, uint16(8)}))
	f.Add(phoneHEIC(3, 0, cameraBlock(6, 240, 160)).build(f))
	f.Add(singleHEIC("single.heic", 0).build(f))
	for _, name := range []string{"lossy.webp", "lossless.webp"} {
		simple, err := os.ReadFile("testdata/" + name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(simple)
		f.Add(webpFile(simple, 240, 160, orientationBlock(7)))
	}
	limits := Limits{Bytes: 1 << 16, Pixels: 1 << 16}
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := Decode(data, "fuzz", limits)
		if err != nil {
			if e := (*ReadError)(nil); !errors.As(err, &e) {
				t.Fatalf("%T is no *ReadError", err)
			}
			return
		}
		if n := int64(p.Width) * int64(p.Height); n < 1 || n > limits.Pixels {
			t.Fatalf("%d pixels", n)
		}
		if p.Grey().Rect != p.Bounds() || p.Colour(50).Rect.Dx() > 50 || p.Colour(50).Rect.Dy() > 50 {
			t.Fatal("pictures of a wrong size")
		}
		if p.Orientation < 1 || p.Orientation > 8 {
			t.Fatal("orientation", p.Orientation)
		}
	})
}
