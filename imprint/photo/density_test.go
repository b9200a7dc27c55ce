package photo

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const (
	tenth  = 0.1 // cm per mm
	inchMM = 1 / 25.4
)

func TestDensity(t *testing.T) {
	picture := sample().grey(8)
	jpegs := func(segments ...[]byte) []byte { return jpegFile(t, picture, segments...) }
	pngs := func(chunks ...[]byte) []byte { return pngFile(t, picture, chunks...) }
	rational := func(n, d uint32) [2]uint32 { return [2]uint32{n, d} }
	scanEXIF := func(x, y [2]uint32, unit uint16, more ...tag) []byte {
		return tiffBlock(append([]tag{{0x011a, x}, {0x011b, y}, {0x0128, unit}}, more...), nil, false, nil)
	}
	tests := []struct {
		name   string
		file   []byte
		x, y   float64 // px per mm, 0 where unknown
		stated string
		source string // of the rule
	}{
		{"JFIF unit 1", jpegs(jfifSegment(1, 300, 300)), 300 * inchMM, 300 * inchMM, "JFIF",
			"JFIF 1.02, units 1 = dots per inch"},
		{"JFIF unit 2", jpegs(jfifSegment(2, 118, 118)), 118 * tenth, 118 * tenth, "JFIF",
			"JFIF 1.02, units 2 = dots per cm"},
		{"JFIF x and y apart", jpegs(jfifSegment(1, 300, 600)), 300 * inchMM, 600 * inchMM, "JFIF",
			"JFIF 1.02, Xdensity, Ydensity"},
		{"JFIF unit 0", jpegs(jfifSegment(0, 300, 300)), 0, 0, "", "JFIF 1.02, units 0 = aspect ratio only"},
		{"JFIF unit 0, 1 x 1", jpegs(jfifSegment(0, 1, 1)), 0, 0, "", "JFIF 1.02, as OpenCV's left*.jpg have it"},
		{"JFIF unit 3", jpegs(jfifSegment(3, 300, 300)), 0, 0, "", "JFIF 1.02 knows no unit 3"},
		{"JFIF 72", jpegs(jfifSegment(1, 72, 72)), 0, 0, "", "EXIF 2.3x: 72 dpi is to be written when unknown"},
		{"JFIF 96", jpegs(jfifSegment(1, 96, 96)), 0, 0, "", "common practice, no source: screens"},
		{"JFIF 28 per cm", jpegs(jfifSegment(2, 28, 28)), 0, 0, "", "72 dpi = 28.35 per cm"},
		{"JFIF 38 per cm", jpegs(jfifSegment(2, 38, 38)), 0, 0, "", "96 dpi = 37.80 per cm"},
		{"JFIF 0", jpegs(jfifSegment(1, 0, 0)), 0, 0, "", "no scale"},
		{"JFIF 72 in x only", jpegs(jfifSegment(1, 72, 300)), 0, 0, "", "one axis unknown: no scale"},
		{"no JFIF", jpegs(), 0, 0, "", "nothing stated"},
		{"JFIF turned", jpegs(jfifSegment(1, 300, 600), exifSegment(orientationBlock(6))), 600 * inchMM,
			300 * inchMM, "JFIF", "EXIF 2.3x, orientation 6 exchanges the axes"},
		{"JFIF upside down", jpegs(jfifSegment(1, 300, 600), exifSegment(orientationBlock(3))), 300 * inchMM,
			600 * inchMM, "JFIF", "EXIF 2.3x, orientation 3 does not"},
		{"JFIF from a camera", jpegs(jfifSegment(1, 300, 300), exifSegment(cameraBlock(1, 48, 32))), 0, 0, "",
			"a camera does not know the distance"},
		{"JFIF with a focal length", jpegs(jfifSegment(1, 300, 300),
			exifSegment(tiffBlock(nil, []tag{{0x920a, rational(5, 1)}}, false, nil))), 0, 0, "", "likewise"},

		{"EXIF inch", jpegs(exifSegment(scanEXIF(rational(300, 1), rational(300, 1), 2))), 300 * inchMM,
			300 * inchMM, "EXIF", "EXIF 2.3x, ResolutionUnit 2 = inch"},
		{"EXIF cm", jpegs(exifSegment(scanEXIF(rational(11811, 100), rational(11811, 100), 3))), 118.11 * tenth,
			118.11 * tenth, "EXIF", "EXIF 2.3x, ResolutionUnit 3 = cm"},
		{"EXIF none", jpegs(exifSegment(scanEXIF(rational(300, 1), rational(300, 1), 1))), 0, 0, "",
			"TIFF 6.0, ResolutionUnit 1 = no absolute unit"},
		{"EXIF 72", jpegs(exifSegment(scanEXIF(rational(72, 1), rational(72, 1), 2))), 0, 0, "",
			"EXIF 2.3x: 72 dpi is to be written when unknown"},
		{"EXIF 72 through metres", jpegs(exifSegment(scanEXIF(rational(72009, 1000), rational(72009, 1000), 2))), 0,
			0, "", "2835 px/m = 72.009 dpi"},
		{"EXIF divided by 0", jpegs(exifSegment(scanEXIF(rational(300, 0), rational(300, 0), 2))), 0, 0, "",
			"no number"},
		{"EXIF by a maker", jpegs(exifSegment(scanEXIF(rational(300, 1), rational(300, 1), 2,
			tag{0x010f, "Field"}))), 0, 0, "", "docs/decisions.md: beside a camera it is a habit"},
		{"JFIF 72, EXIF 300", jpegs(jfifSegment(1, 72, 72), exifSegment(scanEXIF(rational(300, 1), rational(300, 1),
			2))), 300 * inchMM, 300 * inchMM, "EXIF", "the one that means something"},
		{"JFIF and EXIF agree", jpegs(jfifSegment(2, 118, 118),
			exifSegment(scanEXIF(rational(300, 1), rational(300, 1), 2))), 118 * tenth, 118 * tenth, "JFIF",
			"118.11 per cm, rounded"},
		{"JFIF and EXIF differ", jpegs(jfifSegment(1, 150, 150),
			exifSegment(scanEXIF(rational(300, 1), rational(300, 1), 2))), 0, 0, "", "one of them is wrong"},

		{"PNG metre", pngs(physChunk(11811, 23622, 1)), 11.811, 23.622, "PNG pHYs",
			"PNG 11.3.5.3, unit 1 = metre; 300 and 600 dpi"},
		{"PNG unknown", pngs(physChunk(11811, 11811, 0)), 0, 0, "", "PNG 11.3.5.3, unit 0 = aspect only"},
		{"PNG 72", pngs(physChunk(2835, 2835, 1)), 0, 0, "", "72 dpi = 2834.6 px/m"},
		{"PNG 72 rounded down", pngs(physChunk(2834, 2834, 1)), 0, 0, "", "likewise"},
		{"PNG 96", pngs(physChunk(3780, 3780, 1)), 0, 0, "", "96 dpi = 3779.5 px/m"},
		{"PNG 75", pngs(physChunk(2953, 2953, 1)), 2.953, 2.953, "PNG pHYs", "75 dpi is a scanner's, 2952.8 px/m"},
		{"PNG huge", pngs(physChunk(1<<31, 1<<31, 1)), 0, 0, "", "beyond optics"},
		{"PNG turned", pngs(physChunk(11811, 23622, 1), chunk("eXIf", orientationBlock(8))), 23.622, 11.811,
			"PNG pHYs", "EXIF 2.3x, orientation 8 exchanges the axes"},
		{"PNG none", pngs(), 0, 0, "", "nothing stated"},

		{"TIFF inch", tiffFile(picture, tag{0x011a, rational(600, 1)}, tag{0x011b, rational(300, 1)},
			tag{0x0128, uint16(2)}), 600 * inchMM, 300 * inchMM, "EXIF", "TIFF 6.0, ResolutionUnit 2 = inch"},
		{"TIFF default unit", tiffFile(picture, tag{0x011a, rational(600, 1)}, tag{0x011b, rational(600, 1)}),
			600 * inchMM, 600 * inchMM, "EXIF", "TIFF 6.0, ResolutionUnit defaults to 2"},
		{"TIFF cm", tiffFile(picture, tag{0x011a, rational(118, 1)}, tag{0x011b, rational(118, 1)},
			tag{0x0128, uint16(3)}), 118 * tenth, 118 * tenth, "EXIF", "TIFF 6.0, ResolutionUnit 3 = cm"},
		{"TIFF none", tiffFile(picture), 0, 0, "", "nothing stated"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			p, err := Decode(test.file, "a", Limits{})
			require.NoError(t, err)
			if test.x == 0 {
				assert.Nil(t, p.Density, test.source)
				assert.NotEmpty(t, p.DensityNote)
				return
			}
			require.NotNil(t, p.Density, p.DensityNote)
			// 1e-12: the tests and the tool multiply in another order.
			assert.InEpsilon(t, test.x, p.Density.X, 1e-12, test.source)
			assert.InEpsilon(t, test.y, p.Density.Y, 1e-12, test.source)
			assert.Equal(t, test.stated, p.Density.Source)
			assert.Empty(t, p.DensityNote)
		})
	}
}
