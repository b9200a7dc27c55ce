//go:build !linux || !cgo

package native

import "image"

// JPEG decodes nothing here.
func JPEG([]byte, int, int) image.Image { return nil }

// HEIC decodes nothing here.
func HEIC([]byte, int, int) image.Image { return nil }

// EncodeJPEG writes nothing here.
func EncodeJPEG(*image.RGBA, int) []byte { return nil }
