package cv

import (
	"path/filepath"
	"testing"
)

// BenchmarkFindMarks reads a bundled photo as it is and sharpened.
func BenchmarkFindMarks(b *testing.B) {
	img := openGrey(b, filepath.Join(photos, "foam-window.jpg"))
	for _, f := range []phone{
		{}, {amount: 1, radius: 1.5}, {amount: 2, radius: 2.5}, {amount: 1, radius: 1.5, long: 1024},
	} {
		spoiled := f.spoil(b, img)
		b.Run(f.String(), func(b *testing.B) {
			for b.Loop() {
				if marks, _, err := FindMarks(spoiled); err != nil || len(marks) != 12 {
					b.Fatal("marks found:", len(marks), err)
				}
			}
		})
	}
}
