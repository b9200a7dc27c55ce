//go:build !linux || !cgo

package native

import "image"

// JPEG decodes nothing here.
func JPEG([]byte, int, int) image.Image { return nil }

// HEVC decodes nothing here.
func HEVC([]byte, int, int, int, int) image.Image { return nil }

// EncodeJPEG writes nothing here.
func EncodeJPEG(*image.RGBA, int) []byte { return nil }
