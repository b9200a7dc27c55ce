package homography

import "testing"

// BenchmarkFit fits one photo's 48 corners: it must vanish beside the two
// seconds that a 12-megapixel photo may take.
func BenchmarkFit(b *testing.B) {
	s := phone()
	points := s.corners(source(1), 0.15, nil)
	for b.Loop() {
		if _, err := Fit(points, s.options()); err != nil {
			b.Fatal(err)
		}
	}
}
