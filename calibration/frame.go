package calibration

// Point is a place on the frame's plane in the frame's axes, in mm: origin at
// the centre of the window, x to the right, y down, front edge up.
type Point struct{ X, Y float64 }

// Size is a width (along x) and a height (along y) in mm.
type Size struct{ Width, Height float64 }

// MarkModules is the number of modules along a coded mark's side: a 5 x 5
// payload inside a black border one module wide.
const MarkModules = 7

// MarkSide is the printed side of a coded mark, border included, in mm.
const MarkSide = 20.0

// Module is the printed side of one module of a coded mark, in mm.
const Module = MarkSide / MarkModules

// Mark is one coded mark of the frame at true size.
type Mark struct {
	ID     int     // number that the payload stands for
	Centre Point   // mm, frame axes
	Bits   Payload // 5 x 5 payload as printed, front edge up
}

// Corners returns the outer corners of the black border in mm, in the order
// top-left, top-right, bottom-right, bottom-left of the frame's axes: clockwise
// as seen from above.
func (m Mark) Corners() [4]Point {
	const h = MarkSide / 2
	x, y := m.Centre.X, m.Centre.Y
	return [4]Point{{x - h, y - h}, {x + h, y - h}, {x + h, y + h}, {x - h, y + h}}
}

// Black says whether the module at row and column (0 to 6, from the top-left
// of the mark, border included) is printed black.
func (m Mark) Black(row, column int) bool {
	if row < 1 || row > 5 || column < 1 || column > 5 {
		return true
	}
	return !m.Bits.White(row-1, column-1)
}

// CheckBar is a printed line of known length that the fitter measures with a
// steel rule, from the middle of one end line to the middle of the other.
type CheckBar struct {
	From, To Point   // mm, frame axes
	Nominal  float64 // length in mm at a print scale of exactly 1
}

// Frame is the geometry of a printed control frame at true size, in mm.
type Frame struct {
	Version string   // of the geometry; printed in the frame's footer
	Outer   Size     // to the outer outline, centred on the origin
	Window  Size     // opening (foam, gel) or imprint area (paper), centred on the origin
	Marks   [12]Mark // clockwise from the front edge's left corner; index = ID
	BarX    CheckBar // along the bottom, below the outline
	BarY    CheckBar // down the right side, beyond the outline
}

// ControlFrame is the one frame that the tool prints and reads. The codes of
// its marks are those of the predefined 5 x 5, 50-marker set of OpenCV's marker
// module, so that an independent detector can check a print and a reading.
//
// The bars lie outside the outline, because a 150 mm line finds no room between
// the corner marks' quiet zones, and any line there would join a mark's border
// in a reduced picture.
var ControlFrame = Frame{
	Version: "1",
	Outer:   Size{264, 192},
	Window:  Size{212, 140},
	Marks: [12]Mark{
		{0, Point{-119.0, -83}, 0b10100_01011_01100_10101_11100},
		{1, Point{-59.5, -83}, 0b00001_11000_00001_10111_00110},
		{2, Point{0, -83}, 0b11010_11110_00011_10110_11101},
		{3, Point{59.5, -83}, 0b10000_00111_00101_01111_10111},
		{4, Point{119.0, -83}, 0b11010_11101_01101_01001_00100},
		{5, Point{119.0, 0}, 0b11101_01000_00010_00001_01101},
		{6, Point{119.0, 83}, 0b01101_00111_10101_11111_01100},
		{7, Point{59.5, 83}, 0b01110_00100_00101_00011_01011},
		{8, Point{0, 83}, 0b10000_11010_11000_01001_10010},
		{9, Point{-59.5, 83}, 0b10011_00010_01111_11101_00101},
		{10, Point{-119.0, 83}, 0b10011_11001_11011_10000_00011},
		{11, Point{-119.0, 0}, 0b11010_00101_10110_10110_00000},
	},
	BarX: CheckBar{From: Point{-100, 99.5}, To: Point{100, 99.5}, Nominal: 200},
	BarY: CheckBar{From: Point{135.5, -75}, To: Point{135.5, 75}, Nominal: 150},
}
