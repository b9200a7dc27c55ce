package photo

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"unicode"
)

// Code says in one word why a file could not be read. Codes are stable.
type Code string

const (
	Unreadable        Code = "unreadable"         // missing, forbidden, or not a regular file
	EmptyFile         Code = "empty_file"         // no bytes
	NotAPhoto         Code = "not_a_photo"        // the bytes are no picture
	Truncated         Code = "truncated"          // a picture that ends too early
	Damaged           Code = "damaged"            // a picture that contradicts itself
	TooManyPixels     Code = "too_many_pixels"    // above Limits.Pixels
	TooLarge          Code = "too_large"          // above Limits.Bytes
	UnsupportedFormat Code = "unsupported_format" // a picture of a kind that is not read
)

// ReadError is the error of Read and Decode: what was seen, what is needed and
// what to do about it, each a phrase without a full stop.
type ReadError struct {
	Name   string // of the file, as given
	Code   Code
	Form   string // of the code, where it is said in several ways
	Seen   string
	Needed string
	Hint   string
	Err    error // the cause, nil where the bytes themselves are
}

// Error is one line: the name, what was seen, what is needed, the hint.
func (e *ReadError) Error() string {
	line := fmt.Sprintf("%s; %s", e.Message(), e.Hint)
	if e.Name == "" {
		return line
	}
	return printable(e.Name) + ": " + line
}

// Message is what was seen and what is needed, without the name and the hint.
func (e *ReadError) Message() string {
	return fmt.Sprintf("%s (needed: %s)", e.Seen, e.Needed)
}

// Unwrap gives the cause.
func (e *ReadError) Unwrap() error { return e.Err }

// printable quotes a name that would break a line or a terminal.
func printable(name string) string {
	if strings.ContainsFunc(name, func(r rune) bool { return !unicode.IsPrint(r) }) {
		return strconv.Quote(name)
	}
	return name
}

const needPhoto = "a JPEG, PNG, TIFF, WebP or HEIC picture"

func errEmpty() *ReadError {
	return &ReadError{Code: EmptyFile, Seen: "the file is empty (0 bytes)", Needed: needPhoto,
		Hint: "copy it again"}
}

func errTooLarge(size, limit int64) *ReadError {
	return &ReadError{Code: TooLarge, Seen: "the file has " + megabytes(size),
		Needed: "at most " + megabytes(limit),
		Hint:   "save it as JPEG, or scan it with fewer dots per inch"}
}

func megabytes(n int64) string {
	if n < 100_000 {
		return fmt.Sprintf("%d bytes", n)
	}
	return fmt.Sprintf("%.1f MB", float64(n)/1e6)
}

func errTooManyPixels(w, h, limit int64) *ReadError {
	return &ReadError{Code: TooManyPixels, Seen: fmt.Sprintf("the picture is %d x %d pixels", w, h),
		Needed: fmt.Sprintf("at most %.3g megapixels", float64(limit)/1e6),
		Hint:   "photograph or scan it with fewer pixels; 12 megapixels or 300 dots per inch are plenty"}
}

func errNotAPhoto(seen string) *ReadError {
	return &ReadError{Code: NotAPhoto, Seen: seen, Needed: needPhoto,
		Hint: "choose the photo itself; a file's ending does not make it one"}
}

func errUnsupported(seen string) *ReadError {
	return &ReadError{Code: UnsupportedFormat, Seen: "this is " + seen, Needed: needPhoto,
		Hint: "save or export it as JPEG at full size"}
}

// errPDF is a scan in a document: what is measured are its pages.
func errPDF() *ReadError {
	return &ReadError{Code: UnsupportedFormat, Form: "pdf", Seen: "this is a PDF document", Needed: needPhoto,
		Hint: "save its pages as TIFF or PNG with the resolution that they were scanned with"}
}

func errDamaged(format Format, cause error) *ReadError {
	return &ReadError{Code: Damaged, Seen: fmt.Sprintf("the %s data are damaged", format),
		Needed: "an intact picture", Hint: "copy it again, or take it again", Err: cause}
}

func errTruncated(format Format, cause error) *ReadError {
	return &ReadError{Code: Truncated, Seen: fmt.Sprintf("the %s file ends before the picture does", format),
		Needed: "the whole file", Hint: "copy or download it again", Err: cause}
}

func errUnreadable(seen string, cause error) *ReadError {
	return &ReadError{Code: Unreadable, Seen: seen, Needed: "a regular file that may be read",
		Hint: "check the name and the permissions", Err: cause}
}

// decoderError sorts a decoder's error into truncated, unsupported and damaged;
// dry says that the decoder ran out of bytes.
func decoderError(format Format, err error, dry bool) *ReadError {
	var e *ReadError
	switch {
	case errors.As(err, &e):
		return e
	case isUnsupported(err):
		e = errUnsupported(fmt.Sprintf("a kind of %s that is not read", format))
		e.Err = err
		return e
	case dry:
		return errTruncated(format, err)
	}
	return errDamaged(format, err)
}
