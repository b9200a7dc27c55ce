package artwork

import (
	"sitspan/calibration"
)

// dotBars are a dotted sheet's check bars, as the frame's: below the dots and to
// the right of them.
var dotBars = calibration.Frame{
	BarX: calibration.CheckBar{
		From:    calibration.Point{X: -100, Y: 94.5},
		To:      calibration.Point{X: 100, Y: 94.5},
		Nominal: 200,
	},
	BarY: calibration.CheckBar{
		From:    calibration.Point{X: 129.5, Y: -75},
		To:      calibration.Point{X: 129.5, Y: 75},
		Nominal: 150,
	},
}

// dotsBottom is where the line of words ends, below the middle of the dots.
const dotsBottom = 100.5

// DrawDots lays a sheet of irregular dots out on a page, 1 to DotSheets: a
// stencil for a pad, to be punched or traced. The options' medium has no
// meaning. The page's printable margin of 5 mm stays free on both papers.
func DrawDots(sheetNumber int, options Options) (*Drawing, error) {
	if sheetNumber < 1 || sheetNumber > DotSheets {
		return nil, NoDotSheet.With("n", sheetNumber, "most", DotSheets)
	}
	o, err := options.withDefaults()
	if err != nil {
		return nil, err
	}
	s := &sheet{frame: dotBars, words: o.Words}
	s.Title = o.Words.Dots(sheetNumber, DotSheets)
	s.Lang = o.Words.Lang
	s.Width, s.Height = o.Paper.size()
	right := dotBars.BarY.From.X + barEnd
	s.Origin = calibration.Point{
		X: (s.Width + dotsWidth/2 - right) / 2,
		Y: (s.Height + dotsHeight/2 - dotsBottom) / 2,
	}
	for _, d := range Dots(sheetNumber) {
		loop := d.outline()
		for k, p := range loop {
			loop[k] = s.at(p.X, p.Y)
		}
		s.Areas = append(s.Areas, Area{Loops: [][]calibration.Point{loop}})
	}
	s.bars()
	title := Text{Size: 2.8, Bold: true, String: s.Title}
	s.text(-dotsWidth/2, dotsBottom-0.8, 0, title)
	line := s.within(dotsWidth-title.width()-4, Text{Size: 2.8, String: o.Words.DotsLine})
	s.text(-dotsWidth/2+title.width()+4, dotsBottom-0.8, 0, line)
	if s.tooLong != nil {
		return nil, s.tooLong
	}
	return &s.Drawing, nil
}
