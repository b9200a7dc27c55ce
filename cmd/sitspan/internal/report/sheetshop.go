package report

import "slices"

// A logo's largest size on the sheet, mm.
const logoWidth, logoHeight = 42.0, 13.0

// shopBlock is the shop at the top right, w mm wide: its logo, its name and its address. top is the header's
// top; without a logo the name's baseline is first. It returns the baseline that the day may stand on, second
// where nothing reaches down to it.
func (s *sheet) shopBlock(top, first, second, w float64) float64 {
	if s.logo == nil && len(s.address) == 0 {
		s.shopName(first, w)
		return second
	}
	y := first
	if s.logo != nil {
		lw, lh := s.logo.within(min(w, logoWidth*s.scale), logoHeight*s.scale)
		s.logo.draw(s.canvas, s.right()-lw, top, lw, lh)
		y = top + lh + s.gap(4.6)
	}
	if s.shop != "" {
		st, text := style{10.5 * s.scale, true, black}.shrunk(s.shop, w, 0.6)
		s.putRight(s.right(), y, text, st)
		y += s.gap(4.2)
	}
	for _, line := range s.address {
		st, text := style{8.2 * s.scale, false, grey}.shrunk(line, w, 0.75)
		s.putRight(s.right(), y, text, st)
		y += s.gap(3.6)
	}
	return max(second, y+s.gap(0.6))
}

// shopName is set in a line that ends at the right edge, with its baseline at
// y; a long one in two smaller lines, the first above.
func (s *sheet) shopName(y, w float64) {
	st := style{10.5 * s.scale, true, black}
	if st.width(composed(s.shop)) <= w {
		s.putRight(s.right(), y, composed(s.shop), st)
		return
	}
	st.pt *= 0.84
	lines := st.lines(w, []run{{s.shop, true}})
	for i, line := range lines[:min(2, len(lines))] {
		words := line
		if i == 1 {
			words = slices.Concat(lines[1:]...)
		}
		own, text := st.shrunk(joined(words), w, 0.75)
		s.putRight(s.right(), y+(float64(i)-1)*st.height()+st.height()*0.4, text, own)
	}
}
