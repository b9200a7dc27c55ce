package photo

import (
	"fmt"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// contained is the picture b after irot and imir. Source: ISO/IEC 23008-12,
// irot (angle x 90 degrees anticlockwise) and imir (axis 0 exchanges top and
// bottom, 1 left and right, as the 2022 edition words it): irot as
// public implementations quote it, imir from memory; the edition settles it.
func (b blocks) contained(rot, mirror int) blocks {
	for range rot {
		turned := make(blocks, len(b[0]))
		for y := range turned {
			for x := range b {
				turned[y] = append(turned[y], b[x][len(b[0])-1-y]) // the right column becomes the top row
			}
		}
		b = turned
	}
	out := make(blocks, len(b))
	for y := range b {
		for x := range b[y] {
			switch mirror {
			case 0:
				out[y] = append(out[y], b[len(b)-1-y][x])
			case 1:
				out[y] = append(out[y], b[y][len(b[y])-1-x])
			default:
				out[y] = append(out[y], b[y][x])
			}
		}
	}
	return out
}

// A phone's HEIC claims its turn in the container and in EXIF. The container's
// is obeyed, EXIF's is not, whether or not the two agree.
func TestHEICTurnsOnce(t *testing.T) {
	for rot := range 4 {
		for mirror := -1; mirror <= 1; mirror++ {
			want := sample().contained(rot, mirror)
			agreeing := 0
			for o := 1; o <= 8; o++ {
				if fmt.Sprint(sample().upright(o)) == fmt.Sprint(want) {
					agreeing = o
				}
			}
			for _, claimed := range []int{agreeing, 1, 6} {
				t.Run(fmt.Sprintf("irot %d imir %d EXIF %d", rot, mirror, claimed), func(t *testing.T) {
					p, err := Decode(phoneHEIC(rot, mirror, cameraBlock(claimed, 240, 160)).build(t), "a.heic", Limits{})
					require.NoError(t, err)
					requireBlocks(t, want, p, blockWidth)
					assert.Equal(t, agreeing, p.Orientation)
					assert.EqualValues(t, 26, p.Focal35)
				})
			}
		}
	}
}

func TestHEICMetadata(t *testing.T) {
	p, err := Decode(phoneHEIC(3, -1, cameraBlock(6, 240, 160)).build(t), "a.heic", Limits{})
	require.NoError(t, err)
	assert.Equal(t, HEIC, p.Format)
	assert.True(t, p.HasCamera)
	assert.Equal(t, 6.8, p.FocalLength)
	assert.Empty(t, p.FocalDoubts, "3:2, EXIF's pixel dimensions are those before the turn")
	assert.Nil(t, p.Density)
	assert.True(t, time.Date(2026, 5, 14, 8, 24, 0, 0, time.UTC).Equal(p.TakenAt))
}

// Files of a converter: heif-enc's own layout, without turning properties.
func TestHEICWithoutGrid(t *testing.T) {
	data, err := os.ReadFile("testdata/single.heic")
	require.NoError(t, err)
	p, err := Decode(data, "single.heic", Limits{})
	require.NoError(t, err)
	requireBlocks(t, sample(), p, blockWidth)
	assert.Equal(t, []FocalDoubt{FocalMissing}, p.FocalDoubts)
}

// The major brand mif1 does not name the codec; some cameras write it.
func TestHEICUnderTheGenericBrand(t *testing.T) {
	f := singleHEIC("single.heic", -1)
	f.brand = "mif1"
	data := f.build(t)
	p, err := Decode(data, "a.heif", Limits{})
	require.NoError(t, err)
	requireBlocks(t, sample(), p, blockWidth)
	assert.Equal(t, "mif1", string(data[8:12]), "the caller's bytes are left alone")
}

// studio.heic was coded with luma from 16 to 235; its levels come back only
// where nclx says so and is heeded.
func TestHEICStudioSwing(t *testing.T) {
	p, err := Decode(singleHEIC("studio.heic", 0).build(t), "a.heic", Limits{})
	require.NoError(t, err)
	requireBlocks(t, sample(), p, blockWidth)
	p, err = Decode(singleHEIC("single.heic", 1).build(t), "a.heic", Limits{})
	require.NoError(t, err)
	requireBlocks(t, sample(), p, blockWidth)
}

func TestHEICSizeIsCheckedBeforeDecoding(t *testing.T) {
	f := singleHEIC("single.heic", -1)
	f.w, f.h = 100_000, 100_000
	requireCode(t, TooManyPixels, f.build(t))
	f.w, f.h = 1<<32-1, 1<<32-1
	requireCode(t, TooManyPixels, f.build(t))
	f.w, f.h = 0, 160
	requireCode(t, Damaged, f.build(t))
	f.w, f.h = 240, 100
	requireCode(t, UnsupportedFormat, f.build(t))
}
