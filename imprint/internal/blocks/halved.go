package blocks

import (
	"encoding/binary"

	"sitspan/imprint/internal/cores"
)

// Halved is a grey picture of w x h pixels, a row every stride bytes, with half its sides: w/2 x h/2 pixels
// without gaps, each the mean of 2 x 2, rounded. It is made on all cores.
func Halved(pix []byte, stride, w, h int) []byte {
	half := make([]byte, (w/2)*(h/2))
	cores.Each(h/2, func(y int) {
		meanOfRows(half[y*(w/2):(y+1)*(w/2)], pix[2*y*stride:][:w/2*2], pix[(2*y+1)*stride:][:w/2*2])
	})
	return half
}

// meanOfRows sets dst to the means of 2 x 2 pixels of two rows twice as long, eight of each at a time: sums
// of four bytes, and two for the rounding, have sixteen bits each.
func meanOfRows(dst, upper, lower []byte) {
	const two, low = 0x0002000200020002, 0x000000ff000000ff
	for len(dst) >= 4 {
		a, b := binary.LittleEndian.Uint64(upper), binary.LittleEndian.Uint64(lower)
		mean := (a&even + a>>8&even + b&even + b>>8&even + two) >> 2 & even
		mean = mean&low | mean>>8&(low<<8)
		binary.LittleEndian.PutUint16(dst, uint16(mean))
		binary.LittleEndian.PutUint16(dst[2:], uint16(mean>>32))
		dst, upper, lower = dst[4:], upper[8:], lower[8:]
	}
	for i := range dst {
		dst[i] = byte((int(upper[2*i]) + int(upper[2*i+1]) + int(lower[2*i]) + int(lower[2*i+1]) + 2) / 4)
	}
}
