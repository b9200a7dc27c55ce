package imprint

import (
	"image"
	"math"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/judge"
	"sitspan/imprint/reading"
	"sitspan/imprint/relief"
)

// readInk takes the centres of two marks on paper from the density of their ink, of a scan from the net's
// reading, too. Where the two disagree, or the density does not settle, the photo goes to review. Beside a
// card or a rule, where more than paper may lie in the window, the net's reading stays as it is.
func (v *sight) readInk(grey *image.Gray, frame relief.FrameLight) error {
	if !v.read || v.m.Medium != calibration.Paper || v.m.Reference != nil {
		return nil
	}
	net := v.reading
	in, why, err := v.paper(frame).Ink(grey, net, math.Sqrt(net.VarSpacing))
	switch {
	case err != nil:
		return err
	case why != nil:
		v.m.Review(codes.InkUnsettled.With(why.Error()))
		return nil
	}
	v.reading, v.byInk, v.inkU = in.Reading, true, in.DensityU
	// A scan's U grows as the two part: somebody must look where it grows too wide.
	wide := v.camera() != nil || 2*v.temper()*math.Sqrt(v.reading.VarSpacing) > judge.WidestInk.Value
	if in.Apart > judge.InkApart.Value && wide {
		v.m.Review(inkDisagrees(net.Distance(), in.Density, in.Apart))
		for _, p := range []relief.Point{net.Left.At, net.Right.At} {
			v.m.Rejected = append(v.m.Rejected, Rejected{v.toPixel(p), codes.NetHere.With()})
		}
	}
	return nil
}

// paper is the sight's window as package reading takes it.
func (v *sight) paper(frame relief.FrameLight) reading.Paper {
	return reading.Paper{Place: v.toPixel, OnPaper: v.onPaper, Frame: frame, Photo: v.camera() != nil}
}

func inkDisagrees(net, density, apart float64) codes.Said {
	return codes.InkDisagrees.With(net, density, math.Ceil(apart*10)/10, judge.InkApart.Value)
}
