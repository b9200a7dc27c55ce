package calibration

import "math/bits"

// Payload is the 5 x 5 inner part of a coded mark, row by row from the top
// left: bit 24 is the first row's first module, bit 0 the last row's last.
// A set bit is a white module.
type Payload uint32

const (
	payloadSide = 5
	payloadBits = payloadSide * payloadSide
)

// PayloadOf packs 25 modules, given row by row from the top left, true for
// white.
func PayloadOf(white [25]bool) Payload {
	var p Payload
	for _, w := range white {
		p <<= 1
		if w {
			p |= 1
		}
	}
	return p
}

// White says whether the module at row and column (0 to 4) is white.
func (p Payload) White(row, column int) bool {
	return p>>(payloadBits-1-row*payloadSide-column)&1 == 1
}

// Turned returns the payload as it looks after the mark has been turned
// clockwise by one quarter turn: what was in the left column, read upward,
// becomes the first row.
func (p Payload) Turned() Payload {
	var white [25]bool
	for row := range payloadSide {
		for column := range payloadSide {
			white[row*payloadSide+column] = p.White(payloadSide-1-column, row)
		}
	}
	return PayloadOf(white)
}

// Mirrored is the payload as a mirror shows it, left and right changed.
func (p Payload) Mirrored() Payload {
	var white [25]bool
	for row := range payloadSide {
		for column := range payloadSide {
			white[row*payloadSide+column] = p.White(row, payloadSide-1-column)
		}
	}
	return PayloadOf(white)
}

// Distance is the Hamming distance: the number of modules in which p and q
// differ.
func (p Payload) Distance(q Payload) int {
	return bits.OnesCount32(uint32(p ^ q))
}

// MinimumDistance is the smallest Hamming distance between any two of the
// frame's payloads in any rotation, and between a payload and its own
// rotations. A test computes it from the table.
const MinimumDistance = 10

// CorrectionBound is the largest number of misread modules that Decode accepts. A code of minimum distance
// d is decoded uniquely with up to floor((d-1)/2) errors, here 4 (Hamming, Bell System Technical Journal 29
// (1950) 147; the page from memory, the bound is a proof of two lines). One less is used: 4 to 6 errors are
// then detected rather than perhaps wrongly corrected, and of random 5 x 5 clutter 0.4 % passes instead of
// 2.2 %.
const CorrectionBound = 3

// Decode looks up what was read as a mark's payload, in all four rotations.
//
// id is the mark's number, and distance the number of misread modules.
// rotation is the number of quarter turns clockwise by which the reading shows
// the mark turned. So if the reading was sampled inside corners c[0] to c[3],
// clockwise from the one taken as top-left, then the mark's own corner i (the
// order of Mark.Corners) is c[(i+rotation)%4].
//
// ok is false when no mark lies within CorrectionBound; id is then -1, and
// distance is that of the nearest mark. A mirrored mark is no mark: mirrored
// payloads are at least 6 modules from every payload.
func Decode(read Payload) (id, rotation, distance int, ok bool) {
	id, distance = -1, payloadBits+1
	for _, mark := range ControlFrame.Marks {
		turned := mark.Bits
		for quarter := range 4 {
			if d := read.Distance(turned); d < distance {
				id, rotation, distance = mark.ID, quarter, d
			}
			turned = turned.Turned()
		}
	}
	if distance > CorrectionBound {
		return -1, 0, distance, false
	}
	return id, rotation, distance, true
}
