package intake

import (
	"context"
	"path/filepath"

	"sitspan/imprint/photo"
)

// MeasurePhoto is Measure for a photo that was read already.
func (s *Station) MeasurePhoto(ctx context.Context, p *photo.Photo) Outcome { return s.measure(ctx, p) }

// Unread is the outcome of a file that could not be read; err says why.
func (s *Station) Unread(path string, err error) Outcome { return s.failed(filepath.Base(path), err) }
