package artwork

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
)

// Format is a file format of the drawing.
type Format string

const (
	PDF Format = "pdf" // vector art, to print
	SVG Format = "svg" // vector art, to edit or cut
	PNG Format = "png" // raster, at a stated density
)

// FormatOf reads the format from a file's ending.
func FormatOf(path string) (Format, error) {
	switch f := Format(strings.ToLower(strings.TrimPrefix(filepath.Ext(path), "."))); f {
	case PDF, SVG, PNG:
		return f, nil
	}
	return "", UnknownEnding.With("file", path, "ending", filepath.Ext(path))
}

// Write writes the drawing in a format. dpi is the density of a PNG in dots per
// inch, DefaultDPI when 0, and has no meaning for the others.
func (d *Drawing) Write(w io.Writer, format Format, dpi float64) error {
	if dpi == 0 {
		dpi = DefaultDPI
	}
	switch format {
	case PDF:
		return d.WritePDF(w)
	case SVG:
		return d.WriteSVG(w)
	case PNG:
		return d.WritePNG(w, dpi)
	}
	return fmt.Errorf("unknown format %q; pdf, svg or png is needed", format)
}

// WriteFile writes the drawing to a file in the format of its ending. The file
// appears whole or not at all, and an older one of that name stays until then.
func (d *Drawing) WriteFile(path string, dpi float64) (err error) {
	format, err := FormatOf(path)
	if err != nil {
		return err
	}
	part, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*")
	if err != nil {
		return fmt.Errorf("writing the frame: %w", err)
	}
	defer func() {
		if err != nil {
			part.Close()
			os.Remove(part.Name())
		}
	}()
	if err = d.Write(part, format, dpi); err != nil {
		return err
	}
	if err = part.Chmod(0o644); err != nil {
		return fmt.Errorf("writing the frame: %w", err)
	}
	if err = part.Close(); err != nil {
		return fmt.Errorf("writing the frame: %w", err)
	}
	return os.Rename(part.Name(), path)
}
