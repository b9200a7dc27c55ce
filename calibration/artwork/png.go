package artwork

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/draw"
	"image/png"
	"io"
	"math"

	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"

	"sitspan/calibration"
)

// DefaultDPI is the density of a PNG when none is asked for, in dots per inch.
const DefaultDPI = 300

// Densities that are drawn, in dots per inch: a module is 11 px at the lowest,
// and at the highest A4 is 35 megapixels.
const (
	minDPI = 100
	maxDPI = 600
)

// Raster draws the page in grey at a density in dots per inch, with exact area
// coverage at edges. Its top left corner is the page's; a last row or column
// that the page covers in part is white beyond it.
func (d *Drawing) Raster(dpi float64) (*image.Gray, error) {
	if !(dpi >= minDPI && dpi <= maxDPI) {
		return nil, BadDensity.With("dpi", dpi, "low", minDPI, "high", maxDPI)
	}
	scale := dpi / 25.4
	pixels := func(mm float64) int { return int(math.Ceil(mm*scale - 1e-6)) }
	page := &canvas{image.NewGray(image.Rect(0, 0, pixels(d.Width), pixels(d.Height))), scale}
	draw.Draw(page.image, page.image.Bounds(), image.White, image.Point{}, draw.Src)
	for _, area := range d.Areas {
		page.fill(area.Loops, black)
	}
	for _, l := range d.Lines {
		page.fill([][]calibration.Point{l.outline()}, l.Shade)
	}
	for _, t := range d.Texts {
		if err := page.text(t); err != nil {
			return nil, err
		}
	}
	return page.image, nil
}

// WritePNG writes the drawing as a PNG that states its density (a pHYs chunk),
// so that it prints at true size.
func (d *Drawing) WritePNG(w io.Writer, dpi float64) error {
	picture, err := d.Raster(dpi)
	if err != nil {
		return err
	}
	var plain bytes.Buffer
	if err := png.Encode(&plain, picture); err != nil {
		return fmt.Errorf("drawing the PNG: %w", err)
	}
	// The signature takes 8 bytes and IHDR, which comes first, 25 (W3C PNG
	// specification, second edition, 5.2 and 11.2.2).
	const headEnd = 8 + 25
	head, tail := plain.Bytes()[:headEnd], plain.Bytes()[headEnd:]
	_, err = w.Write(bytes.Join([][]byte{head, densityChunk(dpi), tail}, nil))
	return err
}

// densityChunk is a pHYs chunk: pixels per metre in x and y, and 1 for the
// metre (W3C PNG specification, second edition, 11.3.5.3).
func densityChunk(dpi float64) []byte {
	perMetre := uint32(math.Round(dpi / 0.0254))
	chunk := []byte("pHYs")
	chunk = binary.BigEndian.AppendUint32(chunk, perMetre)
	chunk = binary.BigEndian.AppendUint32(chunk, perMetre)
	chunk = append(chunk, 1)
	framed := binary.BigEndian.AppendUint32(nil, uint32(len(chunk)-4))
	framed = append(framed, chunk...)
	return binary.BigEndian.AppendUint32(framed, crc32.ChecksumIEEE(chunk))
}

// outline is the rectangle that a stroke along x or y covers.
func (l Line) outline() []calibration.Point {
	length := math.Hypot(l.To.X-l.From.X, l.To.Y-l.From.Y)
	nx := -(l.To.Y - l.From.Y) / length * l.Width / 2
	ny := (l.To.X - l.From.X) / length * l.Width / 2
	return []calibration.Point{
		{X: l.From.X + nx, Y: l.From.Y + ny}, {X: l.To.X + nx, Y: l.To.Y + ny},
		{X: l.To.X - nx, Y: l.To.Y - ny}, {X: l.From.X - nx, Y: l.From.Y - ny},
	}
}

// canvas is a picture being drawn; scale is in px per mm.
type canvas struct {
	image *image.Gray
	scale float64
}

// path collects a shape's boundary in px, and its bounding box.
type path struct {
	moves    []segment
	min, max [2]float64
}

// segment is a move (1 point), line (1), quadratic (2) or cubic (3 points).
type segment struct {
	op     sfnt.SegmentOp
	points [3][2]float64
}

// newPath is a path of nothing.
func newPath() *path {
	return &path{min: [2]float64{math.Inf(1), math.Inf(1)}, max: [2]float64{math.Inf(-1), math.Inf(-1)}}
}

// add appends a segment; control points count toward the bounding box.
func (p *path) add(op sfnt.SegmentOp, points ...[2]float64) {
	s := segment{op: op}
	copy(s.points[:], points)
	p.moves = append(p.moves, s)
	for _, q := range points {
		for axis := range q {
			p.min[axis] = min(p.min[axis], q[axis])
			p.max[axis] = max(p.max[axis], q[axis])
		}
	}
}

// fill paints closed loops, given in page mm.
func (c *canvas) fill(loops [][]calibration.Point, shade Gray) {
	p := newPath()
	for _, loop := range loops {
		for i, q := range loop {
			op := sfnt.SegmentOpLineTo
			if i == 0 {
				op = sfnt.SegmentOpMoveTo
			}
			p.add(op, [2]float64{q.X * c.scale, q.Y * c.scale})
		}
	}
	c.paint(p, shade)
}

// text paints a text's glyphs from the embedded font's outlines.
func (c *canvas) text(t Text) error {
	face := faceOf(t.Bold)
	ppem := fixed.Int26_6(math.Round(t.Size * c.scale * 64))
	var buffer sfnt.Buffer
	along := 0.0
	for _, r := range t.String {
		glyph, err := face.parsed.GlyphIndex(&buffer, r)
		if err != nil {
			return fmt.Errorf("drawing %q: %w", t.String, err)
		}
		outline, err := face.parsed.LoadGlyph(&buffer, glyph, ppem, nil)
		if err != nil {
			return fmt.Errorf("drawing %q: %w", t.String, err)
		}
		c.glyph(t, along*c.scale, outline)
		along += face.width(string(r), t.Size)
	}
	return nil
}

// glyph paints one outline, which is in 1/64 px with y down, at a distance in
// px along the text's baseline.
func (c *canvas) glyph(t Text, along float64, outline sfnt.Segments) {
	if len(outline) == 0 { // a space
		return
	}
	p := newPath()
	for _, s := range outline {
		var points [][2]float64
		for _, q := range s.Args[:pointsOf(s.Op)] {
			x, y := along+float64(q.X)/64, float64(q.Y)/64
			if t.Upward {
				x, y = y, -x
			}
			points = append(points, [2]float64{t.At.X*c.scale + x, t.At.Y*c.scale + y})
		}
		p.add(s.Op, points...)
	}
	c.paint(p, black)
}

// pointsOf is the number of points that a segment has of its own.
func pointsOf(op sfnt.SegmentOp) int {
	switch op {
	case sfnt.SegmentOpQuadTo:
		return 2
	case sfnt.SegmentOpCubeTo:
		return 3
	}
	return 1
}

// paint lays a shade over the picture by the share of each pixel that the path
// covers.
func (c *canvas) paint(p *path, shade Gray) {
	x0, y0 := math.Floor(p.min[0]), math.Floor(p.min[1])
	width, height := int(math.Ceil(p.max[0]-x0))+1, int(math.Ceil(p.max[1]-y0))+1
	raster := vector.NewRasterizer(width, height)
	f := func(q [2]float64) (x, y float32) { return float32(q[0] - x0), float32(q[1] - y0) }
	for _, s := range p.moves {
		ax, ay := f(s.points[0])
		bx, by := f(s.points[1])
		cx, cy := f(s.points[2])
		switch s.op {
		case sfnt.SegmentOpMoveTo:
			raster.ClosePath()
			raster.MoveTo(ax, ay)
		case sfnt.SegmentOpLineTo:
			raster.LineTo(ax, ay)
		case sfnt.SegmentOpQuadTo:
			raster.QuadTo(ax, ay, bx, by)
		case sfnt.SegmentOpCubeTo:
			raster.CubeTo(ax, ay, bx, by, cx, cy)
		}
	}
	raster.ClosePath()
	coverage := image.NewAlpha(image.Rect(0, 0, width, height))
	raster.DrawOp = draw.Src
	raster.Draw(coverage, coverage.Bounds(), image.Opaque, image.Point{})
	c.cover(coverage, image.Pt(int(x0), int(y0)), shade)
}

// cover blends a shade into the picture through a coverage mask.
func (c *canvas) cover(mask *image.Alpha, at image.Point, shade Gray) {
	bounds := mask.Bounds().Add(at).Intersect(c.image.Bounds())
	for y := bounds.Min.Y; y < bounds.Max.Y; y++ {
		for x := bounds.Min.X; x < bounds.Max.X; x++ {
			share := float64(mask.AlphaAt(x-at.X, y-at.Y).A) / 255
			i := c.image.PixOffset(x, y)
			under := float64(c.image.Pix[i])
			c.image.Pix[i] = uint8(math.Round(under + share*(255*float64(shade)-under)))
		}
	}
}
