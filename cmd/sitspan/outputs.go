package main

import (
	"errors"
	"image"
	"io"
	"os"
	"path/filepath"

	"sitspan/cmd/sitspan/internal/intake"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/report"
	"sitspan/cmd/sitspan/internal/wholefile"
	"sitspan/cmd/sitspan/internal/words"
)

// outputs are the folders that a run keeps files in; empty for none.
type outputs struct{ overlays, records string }

// kept is a file that was written; what is the key of its label.
type kept struct{ what, path string }

// openOutputs makes the folders and tries to write into them, so that trouble
// with them shows before the first photo is measured.
func openOutputs(overlays, records string) (outputs, error) {
	for _, dir := range []string{overlays, records} {
		if dir == "" {
			continue
		}
		if err := tryFolder(dir); err != nil {
			return outputs{}, notWritten(dir, err)
		}
	}
	return outputs{overlays, records}, nil
}

func tryFolder(dir string) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	trial, err := os.CreateTemp(dir, ".sitspan-*")
	if err != nil {
		return err
	}
	return errors.Join(trial.Close(), os.Remove(trial.Name()))
}

// keep writes an outcome's overlay and record. Their names are the photo's and
// the beginning of its hash, so that photos of one name in two folders do not
// overwrite each other's.
func (out outputs) keep(o outcome, lang words.Lang, suffix string) (files []kept, errs []error) {
	if o.Record.Measurement.Status == record.Failed {
		return nil, nil // there is no picture to draw on, and no hash to name it by
	}
	name := o.Record.Name() + suffix
	if out.overlays != "" {
		path := filepath.Join(out.overlays, name+overlayEnding)
		if err := writeOverlay(path, lang, func() (image.Image, error) {
			return o.Overlay(intake.OverlaySide, lang)
		}); err != nil {
			errs = append(errs, words.Fault("error.overlay", words.Values{"why": notWritten(path, err)}))
		} else {
			files = append(files, kept{"terminal.overlay", path})
		}
	}
	if out.records != "" {
		path, err := record.Save(out.records, name, o.Record)
		if err != nil {
			errs = append(errs, recordNotWritten(filepath.Join(out.records, name+record.Extension), err))
		} else {
			files = append(files, kept{"terminal.record", path})
		}
	}
	return files, errs
}

func writeOverlay(path string, lang words.Lang, draw func() (image.Image, error)) error {
	picture, err := draw()
	if err != nil {
		return err
	}
	return wholefile.Write(path, func(w io.Writer) error {
		return report.WriteOverlay(w, picture, lang, intake.OverlayQuality)
	})
}
