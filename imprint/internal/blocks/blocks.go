// Package blocks sums a grey picture over square blocks, and halves it, eight pixels at a time.
//
// What may live here: sums and means of pixels. What may not: what they are for.
package blocks

import "encoding/binary"

const (
	// even are every second byte's bits of eight, so that sums of bytes have sixteen bits each.
	even = 0x00ff00ff00ff00ff
	// mostRows is how many bytes of 255 sixteen bits hold.
	mostRows = 257
)

// Sums calls f for each row of whole blocks of k x k pixels, y from 0 to h/k - 1, with the sums of the w/k
// blocks in it; f must not keep them. The picture is w x h pixels, a row every stride bytes.
func Sums(pix []byte, stride, w, h, k int, f func(y int, sums []uint32)) {
	sums := make([]uint32, w/k)
	wide := len(sums) * k
	r := rows{columns: make([]uint16, wide), low: make([]uint64, wide/8), high: make([]uint64, wide/8)}
	for y := range h / k {
		clear(sums)
		for first := 0; first < k; first += mostRows {
			r.add(pix[(y*k+first)*stride:], stride, min(mostRows, k-first))
			for b := range sums {
				for _, c := range r.columns[b*k : b*k+k] {
					sums[b] += uint32(c)
				}
			}
		}
		f(y, sums)
	}
}

// rows are sums of columns over some rows.
type rows struct {
	columns   []uint16
	low, high []uint64 // of eight columns each: those with even numbers, and those with odd ones
}

// add sets the columns to the sums over n rows.
func (r *rows) add(pix []byte, stride, n int) {
	clear(r.low)
	clear(r.high)
	rest := r.columns[8*len(r.low):]
	clear(rest)
	for y := range n {
		row := pix[y*stride:][:len(r.columns)]
		high := r.high[:len(r.low)]
		for i := range r.low {
			eight := binary.LittleEndian.Uint64(row[8*i:])
			r.low[i] += eight & even
			high[i] += eight >> 8 & even
		}
		for i, v := range row[8*len(r.low):] {
			rest[i] += uint16(v)
		}
	}
	for i, low := range r.low {
		high, c := r.high[i], r.columns[8*i:8*i+8]
		c[0], c[1], c[2], c[3] = uint16(low), uint16(high), uint16(low>>16), uint16(high>>16)
		c[4], c[5], c[6], c[7] = uint16(low>>32), uint16(high>>32), uint16(low>>48), uint16(high>>48)
	}
}
