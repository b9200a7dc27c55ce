package photo

import (
	"bytes"
	"math"
	"strings"
	"time"

	"github.com/bep/imagemeta"
)

// exif is what is kept of a file's EXIF data: nothing that tells where the
// picture was taken or by whom. Zero means unknown, except orientation, which
// is 1 then.
type exif struct {
	orientation    int       // 1 to 8
	focal35, focal float64   // mm
	zoom           float64   // digital zoom ratio, 1 = none
	model          string    // empty where not stated
	camera         bool      // a maker, a model or a focal length is stated
	width, height  float64   // px, as the camera wrote the picture
	taken          time.Time // DateTimeOriginal
	xres, yres     float64   // px per unit
	unit           int       // 1 none, 2 inch, 3 cm; 0 where it is not stated
	raw            bool      // a DNG, or IFD0 is a reduced preview
}

// wanted are the only tags read, by imagemeta's names (those of ExifTool).
var wanted = map[string]bool{
	"Orientation": true, "Make": true, "Model": true,
	"FocalLength": true, "FocalLengthIn35mmFormat": true, "DigitalZoomRatio": true,
	"ExifImageWidth": true, "ExifImageHeight": true, // PixelXDimension, PixelYDimension
	"DateTimeOriginal": true, "OffsetTimeOriginal": true,
	"XResolution": true, "YResolution": true, "ResolutionUnit": true,
	"SubfileType": true, "DNGVersion": true,
}

// readEXIF reads the tags of a TIFF stream, which is what an EXIF block is, or
// of a whole HEIC file. Damaged blocks give what was read before the damage.
func readEXIF(data []byte, container imagemeta.ImageFormat) exif {
	tags := map[string]any{}
	_ = guard(func() error {
		_, err := imagemeta.Decode(imagemeta.Options{
			R:           bytes.NewReader(data),
			ImageFormat: container,
			Sources:     imagemeta.EXIF,
			ShouldHandleTag: func(t imagemeta.TagInfo) bool {
				// IFD1 describes the thumbnail, GPSInfoIFD the place.
				return wanted[t.Tag] && (t.Namespace == "IFD0" || t.Namespace == "IFD0/ExifIFDP")
			},
			HandleTag: func(t imagemeta.TagInfo) error {
				if _, seen := tags[t.Tag]; !seen {
					tags[t.Tag] = t.Value
				}
				return nil
			},
		})
		return err
	})
	return exifFromTags(tags)
}

func exifFromTags(tags map[string]any) exif {
	number := func(tag string) float64 { return toNumber(tags[tag]) }
	text := func(tag string) string { s, _ := tags[tag].(string); return strings.TrimSpace(s) }
	e := exif{
		orientation: int(number("Orientation")),
		focal35:     plausible(number("FocalLengthIn35mmFormat"), 5, 2000),
		focal:       plausible(number("FocalLength"), 0.5, 2000),
		zoom:        number("DigitalZoomRatio"),
		width:       number("ExifImageWidth"),
		height:      number("ExifImageHeight"),
		taken:       parseTime(text("DateTimeOriginal"), text("OffsetTimeOriginal")),
		xres:        number("XResolution"),
		yres:        number("YResolution"),
		unit:        int(number("ResolutionUnit")),
	}
	if e.orientation < 1 || e.orientation > 8 {
		e.orientation = 1
	}
	_, dng := tags["DNGVersion"]
	e.raw = dng || int(number("SubfileType"))&1 != 0 // TIFF 6.0, NewSubfileType bit 0
	e.model = text("Model")
	e.camera = text("Make") != "" || text("Model") != "" || e.focal > 0 || e.focal35 > 0
	return e
}

// plausible gives v, or 0 (unknown) outside [low, high]. EXIF 2.32 writes an
// unknown 35 mm focal length as 0; the bounds only keep nonsense out.
func plausible(v, low, high float64) float64 {
	if v < low || v > high {
		return 0
	}
	return v
}

// toNumber turns a tag's value into a finite number, 0 where it is none.
func toNumber(v any) float64 {
	var f float64
	switch v := v.(type) {
	case interface{ Float64() float64 }:
		f = v.Float64()
	case uint8:
		f = float64(v)
	case uint16:
		f = float64(v)
	case uint32:
		f = float64(v)
	case int32:
		f = float64(v)
	case float32:
		f = float64(v)
	case float64:
		f = v
	}
	if math.IsNaN(f) || math.IsInf(f, 0) {
		return 0
	}
	return f
}

// parseTime reads EXIF's "YYYY:MM:DD HH:MM:SS" and "+HH:MM".
func parseTime(clock, offset string) time.Time {
	if t, err := time.Parse("2006:01:02 15:04:05-07:00", clock+offset); err == nil {
		return t
	}
	t, _ := time.Parse("2006:01:02 15:04:05", clock)
	return t
}
