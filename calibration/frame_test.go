package calibration

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// quietZone is the white margin round a mark, one module wide: what an
// adaptive threshold needs to see the border as closed (common practice for
// square marks, no source).
const quietZone = Module

func TestFrameHasTwelveMarksClockwiseFromTheFrontLeft(t *testing.T) {
	require.Len(t, ControlFrame.Marks, 12)
	for i, m := range ControlFrame.Marks {
		assert.Equal(t, i, m.ID)
		next := ControlFrame.Marks[(i+1)%12]
		turn := m.Centre.X*next.Centre.Y - m.Centre.Y*next.Centre.X
		assert.Positive(t, turn, "mark %d to %d turns clockwise (y down)", m.ID, next.ID)
	}
	for _, m := range ControlFrame.Marks[:5] {
		assert.Negative(t, m.Centre.Y, "mark %d stands on the front edge", m.ID)
	}
	assert.Equal(t, Point{-119, -83}, ControlFrame.Marks[0].Centre)
}

func TestMarkCentresAreEvenlySpacedAndSymmetric(t *testing.T) {
	m := ControlFrame.Marks
	for i := range 4 {
		assert.InDelta(t, 59.5, m[i+1].Centre.X-m[i].Centre.X, 1e-12)
	}
	for i := range 6 { // turned by half a turn about the origin
		assert.Equal(t, Point{-m[i].Centre.X, -m[i].Centre.Y}, m[i+6].Centre)
	}
	assert.InDelta(t, math.Hypot(238, 166), distance(m[0].Centre, m[6].Centre), 1e-12)
}

func TestMarkCornersRunClockwiseFromTopLeftOnSidesOf20(t *testing.T) {
	for _, m := range ControlFrame.Marks {
		c := m.Corners()
		assert.Equal(t, Point{m.Centre.X - 10, m.Centre.Y - 10}, c[0], "top-left")
		assert.Equal(t, Point{m.Centre.X + 10, m.Centre.Y - 10}, c[1], "top-right")
		assert.Equal(t, Point{m.Centre.X + 10, m.Centre.Y + 10}, c[2], "bottom-right")
		assert.Equal(t, Point{m.Centre.X - 10, m.Centre.Y + 10}, c[3], "bottom-left")
		for i := range c {
			assert.InDelta(t, 20, distance(c[i], c[(i+1)%4]), 1e-12)
		}
	}
}

func TestMarksLieInsideTheOutlineAndOutsideTheWindowWithQuietZones(t *testing.T) {
	halfW, halfH := ControlFrame.Window.Width/2, ControlFrame.Window.Height/2
	for _, m := range ControlFrame.Marks {
		reach := MarkSide/2 + quietZone
		assert.LessOrEqual(t, math.Abs(m.Centre.X)+reach, ControlFrame.Outer.Width/2, "mark %d", m.ID)
		assert.LessOrEqual(t, math.Abs(m.Centre.Y)+reach, ControlFrame.Outer.Height/2, "mark %d", m.ID)
		outside := math.Abs(m.Centre.X)-reach >= halfW || math.Abs(m.Centre.Y)-reach >= halfH
		assert.True(t, outside, "mark %d's quiet zone stays out of the window", m.ID)
	}
	for i, m := range ControlFrame.Marks {
		for _, n := range ControlFrame.Marks[i+1:] {
			apart := max(math.Abs(m.Centre.X-n.Centre.X), math.Abs(m.Centre.Y-n.Centre.Y))
			assert.GreaterOrEqual(t, apart, MarkSide+2*quietZone, "marks %d and %d", m.ID, n.ID)
		}
	}
}

func TestCheckBarsHaveTheirNominalLengthsAndLieBeyondTheOutline(t *testing.T) {
	x, y := ControlFrame.BarX, ControlFrame.BarY
	assert.InDelta(t, 200, x.Nominal, 0)
	assert.InDelta(t, 150, y.Nominal, 0)
	assert.InDelta(t, x.Nominal, distance(x.From, x.To), 1e-12)
	assert.InDelta(t, y.Nominal, distance(y.From, y.To), 1e-12)
	assert.InDelta(t, x.From.Y, x.To.Y, 0, "the long bar runs along x")
	assert.InDelta(t, y.From.X, y.To.X, 0, "the short bar runs along y")
	assert.Greater(t, x.From.Y, ControlFrame.Outer.Height/2)
	assert.Greater(t, y.From.X, ControlFrame.Outer.Width/2)
}

func TestMarkIsBlackRoundItsPayload(t *testing.T) {
	for _, m := range ControlFrame.Marks {
		white := 0
		for row := range MarkModules {
			for column := range MarkModules {
				border := row == 0 || row == 6 || column == 0 || column == 6
				if border {
					assert.True(t, m.Black(row, column))
				} else {
					assert.Equal(t, m.Bits.White(row-1, column-1), !m.Black(row, column))
				}
				if !m.Black(row, column) {
					white++
				}
			}
		}
		assert.Positive(t, white, "mark %d is not all black", m.ID)
	}
	first := ControlFrame.Marks[0] // first row 10100
	assert.False(t, first.Black(1, 1))
	assert.True(t, first.Black(1, 2))
	assert.False(t, first.Black(1, 3))
}

func TestCodesKeepTheirDistanceUnderEveryRotation(t *testing.T) {
	least := payloadBits
	for i, m := range ControlFrame.Marks {
		for j, n := range ControlFrame.Marks {
			turned := n.Bits
			for quarter := range 4 {
				if i != j || quarter != 0 {
					d := m.Bits.Distance(turned)
					assert.GreaterOrEqual(t, d, 5, "marks %d and %d, %d quarter turns", i, j, quarter)
					least = min(least, d)
				}
				turned = turned.Turned()
			}
			assert.Equal(t, n.Bits, turned, "four quarter turns are none")
		}
	}
	assert.Equal(t, MinimumDistance, least)
	assert.LessOrEqual(t, 2*CorrectionBound+1, least, "unique decoding")
}

func TestTurnedPutsTheLeftColumnReadUpwardIntoTheFirstRow(t *testing.T) {
	const p = Payload(0b10000_10000_00000_00000_00000)
	assert.Equal(t, Payload(0b00011_00000_00000_00000_00000), p.Turned())
}

func TestDecodeReadsEveryMarkInEveryRotationWithCorrectableErrors(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := ControlFrame.Marks[rapid.IntRange(0, 11).Draw(t, "mark")]
		quarters := rapid.IntRange(0, 3).Draw(t, "quarter turns")
		wrong := rapid.SliceOfNDistinct(rapid.IntRange(0, 24), 0, CorrectionBound, rapid.ID).Draw(t, "misread")
		read := m.Bits
		for range quarters {
			read = read.Turned()
		}
		for _, bit := range wrong {
			read ^= 1 << bit
		}
		id, rotation, d, ok := Decode(read)
		if !ok || id != m.ID || rotation != quarters || d != len(wrong) {
			t.Fatalf("mark %d turned %d, %d misread: got %d, %d, %d, %v", m.ID, quarters, len(wrong), id, rotation, d,
				ok)
		}
	})
}

func TestDecodeRefusesOneErrorBeyondTheBound(t *testing.T) {
	for _, m := range ControlFrame.Marks {
		read := m.Bits ^ (1<<(CorrectionBound+1) - 1)
		id, _, d, ok := Decode(read)
		assert.False(t, ok, "mark %d", m.ID)
		assert.Equal(t, -1, id)
		assert.Equal(t, CorrectionBound+1, d)
	}
}

func TestDecodeRotationTellsWhichCornerIsTheMarksTopLeft(t *testing.T) {
	// A mark turned clockwise by one quarter shows its top-left corner at the
	// picture's top right: corner 1 of the clockwise reading.
	_, rotation, _, ok := Decode(ControlFrame.Marks[3].Bits.Turned())
	require.True(t, ok)
	assert.Equal(t, 1, rotation)
}

func TestDecodeRefusesMirroredMarks(t *testing.T) {
	for _, m := range ControlFrame.Marks {
		var white [25]bool
		for i := range white {
			white[i] = m.Bits.White(i/5, 4-i%5)
		}
		_, _, d, ok := Decode(PayloadOf(white))
		assert.False(t, ok, "mark %d", m.ID)
		assert.GreaterOrEqual(t, d, 6)
	}
}

func TestPayloadOfKeepsReadingOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var white [25]bool
		for i := range white {
			white[i] = rapid.Bool().Draw(t, "white")
		}
		p := PayloadOf(white)
		for i := range white {
			if p.White(i/5, i%5) != white[i] {
				t.Fatalf("module %d", i)
			}
		}
	})
}

func distance(a, b Point) float64 { return math.Hypot(a.X-b.X, a.Y-b.Y) }

func TestMirroredTwiceIsItself(t *testing.T) {
	for _, m := range ControlFrame.Marks {
		assert.Equal(t, m.Bits, m.Bits.Mirrored().Mirrored())
		_, _, _, ok := Decode(m.Bits.Mirrored())
		assert.False(t, ok, "a mirrored mark is no mark")
		turned := m.Bits.Turned().Mirrored() // a turn, then a mirror: the other way round
		assert.Equal(t, m.Bits.Mirrored().Turned().Turned().Turned(), turned)
	}
}
