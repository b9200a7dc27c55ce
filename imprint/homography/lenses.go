package homography

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
)

// What a focal length is worth where nothing in the file tells that the picture is whole and the entry its
// own, and where there is no entry: shares of such files (assumptions). A view from straight above tells
// nothing; there an entry gives what is worked out with the focal length about the standard uncertainty of
// [FocalUUnchecked].
const (
	shareStated = 0.65 // the entry holds
	shareOther  = 0.20 // it is another lens's, of twice or half the focal length, or of a picture cut to half
	shareMain   = 0.50 // without an entry: the lens that most phones use by themselves
	shareLong   = 0.30 // the one of twice its focal length, which is asked for
	uOther      = 0.10 // relative, of a lens that no entry names
	uAny        = 0.35 // relative, as for [FocalUnknown]: a picture cut by less, or anything else
)

// belief is a focal length that may be the picture's, and how probable it is before the frame is looked at.
type belief struct {
	focal Focal
	share float64
}

// believed is one by a relative standard uncertainty.
func believed(pixels, u, share float64) belief { return belief{Focal{pixels, u * pixels}, share} }

// beliefs are what may be true of a picture whose entry, f35 mm, nothing confirms: that it holds; that it is
// the phone's other main lens's, the short one's for a long entry, the long one's for a short entry; or
// anything.
func beliefs(stated Focal, f35 float64) []belief {
	ratio := 2.0
	if f35 > betweenLenses {
		ratio = 0.5
	}
	return []belief{
		believed(stated.Pixels, FocalU35, shareStated),
		believed(ratio*stated.Pixels, uOther, shareOther),
		believed(stated.Pixels, uAny, 1-shareStated-shareOther),
	}
}

// unstated are what may be true of a picture of that many px without an entry: that it is of either of a
// phone's two main lenses, or anything.
func unstated(width, height int) []belief {
	main := FocalUnknown(width, height).Pixels
	return []belief{
		believed(main, uOther, shareMain),
		believed(2*main, uOther, shareLong),
		believed(main, uAny, 1-shareMain-shareLong),
	}
}

// CameraUnchecked finds the camera where nothing but the frame can confirm the stated focal length, whose 35
// mm equivalent is f35 mm. What the file says is kept, unless the frame makes another lens the likelier one.
func (f *PlaneFit) CameraUnchecked(stated Focal, f35 float64) (*Camera, error) {
	return f.cameraAmong(beliefs(stated, f35), false)
}

// CameraUnstated finds the camera of a picture of that many px whose file says nothing of its focal length
// that can be relied on. No lens is the one to keep: the camera is put to the mean, which is off by the least
// mean square.
func (f *PlaneFit) CameraUnstated(width, height int) (*Camera, error) {
	return f.cameraAmong(unstated(width, height), true)
}

// cameraAmong fits a camera for each focal length that may be the picture's, and weighs each by what the
// frame's own perspective says of it: with prior share p, chi-square X of the fit and standard uncertainties
// u0 and u of the focal length before and after, its share is p u/u0 exp(-X/2), the integral of likelihood
// times prior where both are Gaussian. The most probable camera is returned, or the mean. What the others
// would give goes into its covariance, as the mean square about it (JCGM 100, F.2.4.5: a correction that is
// not made is allowed for).
func (f *PlaneFit) cameraAmong(list []belief, mean bool) (*Camera, error) {
	var cameras []*Camera
	var weights []float64 // logarithms at first
	for i, b := range list {
		c, chi, err := f.cameraOf(b.focal)
		if err != nil && i == 0 {
			return nil, fmt.Errorf("camera: %w", err)
		} else if err != nil {
			continue // no camera with that lens sees the frame so
		}
		cameras = append(cameras, c)
		weights = append(weights, math.Log(b.share*c.Focal.relative()/b.focal.relative())-chi/2)
	}
	best, total := floats.MaxIdx(weights), floats.LogSumExp(weights)
	for i, w := range weights {
		weights[i] = math.Exp(w - total)
	}
	c := among(cameras, weights, best, mean)
	if own, err := f.FocalFromHomography(); err == nil {
		c.FromHomography = own
		_, c.FocalError, _ = CombineFocal(list[0].focal, own)
		c.FocalVerdict = FocalAgrees
		if best > 0 {
			c.FocalVerdict = FocalOverruled
		}
	}
	return c, nil
}

// cameraOf fits the camera with a focal length's prior and returns the fit's chi-square.
func (f *PlaneFit) cameraOf(focal Focal) (c *Camera, chi float64, err error) {
	if f.problem.flat {
		return nil, 0, ErrNoCamera
	}
	if err := checkFocal(focal); err != nil {
		return nil, 0, err
	}
	pose, err := f.newPose(focal, focal)
	if err != nil {
		return nil, 0, err
	}
	c = &Camera{}
	chi, err = pose.solve(c)
	return c, chi, err
}

// The quantities in which the parallax is linear, equation (1): 1/H and the point under the camera over H;
// then the focal length, as 1 - f0/f with f0 the chosen camera's.
const (
	linearX = iota
	linearY
	linearInverse
	linearFocal
	linearCount
)

// linear are a camera's.
func (c *Camera) linear(f0 float64) [linearCount]float64 {
	return [linearCount]float64{c.Position.X / c.Height, c.Position.Y / c.Height, 1 / c.Height,
		1 - f0/c.Focal.Pixels}
}

// byLinear are the derivatives of (x, y, height, log focal length) by the linear quantities, and back.
func (c *Camera) byLinear(f0 float64) (from, to [linearCount][linearCount]float64) {
	x, y, h, r := c.Position.X, c.Position.Y, c.Height, f0/c.Focal.Pixels
	from = [linearCount][linearCount]float64{{h, 0, -x * h, 0}, {0, h, -y * h, 0}, {0, 0, -h * h, 0},
		{0, 0, 0, 1 / r}}
	to = [linearCount][linearCount]float64{{1 / h, 0, -x / (h * h), 0}, {0, 1 / h, -y / (h * h), 0},
		{0, 0, -1 / (h * h), 0}, {0, 0, 0, r}}
	return from, to
}

// full is the covariance of (x, y, height, log focal length).
func (c *Camera) full() (m [linearCount][linearCount]float64) {
	v := c.Focal.relative() * c.Focal.relative()
	for i := range 3 {
		for j := range 3 {
			m[i][j] = c.Covariance[i][j]
		}
		m[i][3], m[3][i] = c.ByFocal[i]*v, c.ByFocal[i]*v
	}
	m[3][3] = v
	return m
}

// put moves the camera to the linear quantities.
func (c *Camera) put(at [linearCount]float64, f0 float64) {
	c.Height = 1 / at[linearInverse]
	c.Position = PlanePoint{at[linearX] * c.Height, at[linearY] * c.Height}
	c.Focal.Pixels = f0 / (1 - at[linearFocal])
}

// among is the camera best, or the mean, with the mean square about it of all of them.
func among(cameras []*Camera, weights []float64, best int, mean bool) *Camera {
	c := *cameras[best]
	f0 := c.Focal.Pixels
	at := c.linear(f0)
	if mean {
		at = [linearCount]float64{}
		for k, w := range weights {
			for i, v := range cameras[k].linear(f0) {
				at[i] += w * v
			}
		}
		c.put(at, f0)
	}
	var square [linearCount][linearCount]float64
	for k, w := range weights {
		_, to := cameras[k].byLinear(f0)
		own, off := sandwich(to, cameras[k].full()), cameras[k].linear(f0)
		for i := range linearCount {
			for j := range linearCount {
				square[i][j] += w * (own[i][j] + (off[i]-at[i])*(off[j]-at[j]))
			}
		}
	}
	from, _ := c.byLinear(f0)
	m := sandwich(from, square)
	for i := range 3 {
		for j := range 3 {
			c.Covariance[i][j] = m[i][j]
		}
		c.ByFocal[i] = m[i][3] / m[3][3]
	}
	c.Focal.U = c.Focal.Pixels * math.Sqrt(m[3][3])
	return &c
}

// sandwich is j m j'.
func sandwich(j, m [linearCount][linearCount]float64) (out [linearCount][linearCount]float64) {
	for a := range linearCount {
		for b := range linearCount {
			for i := range linearCount {
				for k := range linearCount {
					out[a][b] += j[a][i] * m[i][k] * j[b][k]
				}
			}
		}
	}
	return out
}
