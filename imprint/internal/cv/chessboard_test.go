package cv

import (
	"image"
	"math"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"
)

// FindChessboard returns the inner corners of a chessboard, row by row, px.
// Only tests need it: a real camera's photos with a published calibration are
// the reference for the pixel convention and the bindings.
func FindChessboard(grey *image.Gray, cols, rows int) ([]Pixel, bool) {
	p, err := greyPlane(grey)
	if err != nil || cols < 3 || rows < 3 || min(p.w, p.h) < 32 {
		return nil, false
	}
	src, err := p.mat()
	if err != nil {
		return nil, false
	}
	defer src.Close()
	corners := gocv.NewMat()
	defer corners.Close()
	flags := gocv.CalibCBAdaptiveThresh | gocv.CalibCBFastCheck | gocv.CalibCBNormalizeImage
	if !gocv.FindChessboardCorners(src.Mat, image.Pt(cols, rows), &corners, flags) {
		return nil, false
	}
	gocv.CornerSubPix(src.Mat, &corners, image.Pt(11, 11), image.Pt(-1, -1),
		gocv.NewTermCriteria(gocv.Count+gocv.EPS, 30, 0.1))
	v, err := corners.DataPtrFloat32()
	if err != nil || len(v) != 2*cols*rows {
		return nil, false
	}
	found := make([]Pixel, cols*rows)
	for i := range found {
		found[i] = Pixel{X: float64(v[2*i]), Y: float64(v[2*i+1])}
	}
	return found, true
}

// The camera and the views are those of left_intrinsics.yml in OpenCV's samples
// (camera_matrix, distortion_coefficients, extrinsic_parameters), and so is the
// rms distance between the corners found and those projected
// (per_view_reprojection_errors).
var chessboardViews = []struct {
	file     string
	rotation [3]float64 // Rodrigues vector
	moved    [3]float64 // m
	rms      float64    // px
}{
	{"left01.jpg", [3]float64{0.16866673097722978, 0.2756719538368968, 0.013463666677617407},
		[3]float64{-0.07521791126691821, -0.10895943925991841, 0.3997020694990727}, 0.192965463},
	{"left05.jpg", [3]float64{-0.2918691491926631, 0.428388245369301, 1.3127376448141377},
		[3]float64{0.05849271789456836, -0.11531702553211766, 0.3171859722674744}, 0.159574091},
	{"left09.jpg", [3]float64{0.20297932232462285, -0.42392077549829726, 0.13241327935810543},
		[3]float64{-0.06634624181053254, -0.08101930558094457, 0.2783022449420889}, 0.296267658},
	{"left14.jpg", [3]float64{-0.16997848268735108, -0.47116903885245226, 1.3459942250907577},
		[3]float64{0.045015523494596366, -0.10817857239600029, 0.3124376720275976}, 0.174401343},
}

// project is OpenCV's camera model (calib3d's documentation) with the
// intrinsics of the same file.
func project(rotation, moved [3]float64, x, y float64) Pixel {
	const f, cx, cy = 535.91573396163199, 342.28315473308373, 235.57082909788173
	k := [5]float64{-0.26637260909660682, -0.038588898922304653, 0.0017831947042852964, -0.00028122100441115472,
		0.23839153080878486}
	a := math.Sqrt(rotation[0]*rotation[0] + rotation[1]*rotation[1] + rotation[2]*rotation[2])
	n := [3]float64{rotation[0] / a, rotation[1] / a, rotation[2] / a}
	p, c, s := [3]float64{x, y, 0}, math.Cos(a), math.Sin(a)
	dot := n[0]*x + n[1]*y
	cross := [3]float64{-n[2] * y, n[2] * x, n[0]*y - n[1]*x}
	var q [3]float64
	for i := range 3 {
		q[i] = p[i]*c + cross[i]*s + n[i]*dot*(1-c) + moved[i]
	}
	u, v := q[0]/q[2], q[1]/q[2]
	r2 := u*u + v*v
	radial := 1 + r2*(k[0]+r2*(k[1]+r2*k[4]))
	return Pixel{
		X: f*(u*radial+2*k[2]*u*v+k[3]*(r2+2*u*u)) + cx,
		Y: f*(v*radial+k[2]*(r2+2*v*v)+2*k[3]*u*v) + cy,
	}
}

func TestChessboardCornersMatchThePublishedCalibration(t *testing.T) {
	for _, view := range chessboardViews {
		found, ok := FindChessboard(openGrey(t, filepath.Join("testdata/chessboard", view.file)), 9, 6)
		require.True(t, ok, view.file)
		var d []float64
		for i, p := range found {
			d = append(d, p.Distance(project(view.rotation, view.moved, 0.025*float64(i%9), 0.025*float64(i/9))))
		}
		// Go's JPEG decoder and libjpeg differ by a grey level here and there,
		// which moves a corner by thousandths of a pixel.
		assert.InDelta(t, view.rms, rms(d), 0.005, view.file)
	}
}
