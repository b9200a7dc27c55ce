package bundle

import "math"

// The unknowns of a photo and of a camera, in this order.
const (
	poseCount   = 6 // a small turn before Rotation (3, rad), the position (3, mm)
	cameraCount = 5 // ln of the focal length, k1, k2, principal point x and y (in half diagonals)
	frameCount  = 2 // stretch, skew
)

// pose is where a photo was taken from.
type pose struct {
	rotation [9]float64
	position Vec
}

// lens is a camera as it is now believed to be.
type lens struct{ focal, k1, k2, cx, cy float64 } // px; half diagonals

// partials are the derivatives of a pixel (row 0 x, row 1 y).
type partials struct {
	byPoint  [2][3]float64 // px/mm
	byPose   [2][poseCount]float64
	byCamera [2][cameraCount]float64
}

// project returns where a photo shows a point, with the derivatives where d is not nil; false for a point
// behind it.
func (v View) project(p pose, l lens, x Vec, d *partials) (Pixel, bool) {
	r := p.rotation
	dx, dy, dz := x[0]-p.position[0], x[1]-p.position[1], x[2]-p.position[2]
	q := Vec{r[0]*dx + r[1]*dy + r[2]*dz, r[3]*dx + r[4]*dy + r[5]*dz, r[6]*dx + r[7]*dy + r[8]*dz}
	if !(q[2] > 0) {
		return Pixel{}, false
	}
	half := math.Hypot(float64(v.Width), float64(v.Height)) / 2
	f := l.focal / half
	u, w := f*q[0]/q[2], f*q[1]/q[2] // half diagonals
	r2 := u*u + w*w
	gain := 1 + r2*(l.k1+r2*l.k2)
	out := Pixel{
		(float64(v.Width)-1)/2 + half*(l.cx+u*gain),
		(float64(v.Height)-1)/2 + half*(l.cy+w*gain),
	}
	if d != nil {
		slope := 2*l.k1 + 4*l.k2*r2
		jac := [2][2]float64{{half * (gain + slope*u*u), half * slope * u * w},
			{half * slope * u * w, half * (gain + slope*w*w)}}
		d.fill(jac, p, q, u, w, f, half, r2)
	}
	return out, true
}

// fill works the derivatives out: jac is d(px)/d(u, w).
func (d *partials) fill(jac [2][2]float64, p pose, q Vec, u, w, f, half, r2 float64) {
	byQ := [2][3]float64{{f / q[2], 0, -u / q[2]}, {0, f / q[2], -w / q[2]}}
	for i := range 2 {
		var row [3]float64 // d(px_i)/d(q)
		for k := range 3 {
			row[k] = jac[i][0]*byQ[0][k] + jac[i][1]*byQ[1][k]
		}
		// A small turn t before the rotation moves q by t x q.
		d.byPose[i][0] = row[2]*q[1] - row[1]*q[2]
		d.byPose[i][1] = row[0]*q[2] - row[2]*q[0]
		d.byPose[i][2] = row[1]*q[0] - row[0]*q[1]
		for k := range 3 {
			d.byPoint[i][k] = row[0]*p.rotation[k] + row[1]*p.rotation[3+k] + row[2]*p.rotation[6+k]
			d.byPose[i][3+k] = -d.byPoint[i][k]
		}
		d.byCamera[i] = [cameraCount]float64{jac[i][0]*u + jac[i][1]*w}
	}
	d.byCamera[0][1], d.byCamera[1][1] = half*u*r2, half*w*r2
	d.byCamera[0][2], d.byCamera[1][2] = half*u*r2*r2, half*w*r2*r2
	d.byCamera[0][3], d.byCamera[1][4] = half, half
}

// turned is a rotation after a small turn t (rad) before it: exp([t]x) R, by Rodrigues' formula.
func turned(r [9]float64, t Vec) (out [9]float64) {
	angle := math.Sqrt(t[0]*t[0] + t[1]*t[1] + t[2]*t[2])
	a, b := 1.0, 0.5 // sin(angle)/angle, (1 - cos(angle))/angle^2
	if angle > 1e-8 {
		a, b = math.Sin(angle)/angle, (1-math.Cos(angle))/(angle*angle)
	}
	k := [9]float64{0, -t[2], t[1], t[2], 0, -t[0], -t[1], t[0], 0}
	var m [9]float64
	for i := range 3 {
		for j := range 3 {
			square := 0.0
			for n := range 3 {
				square += k[3*i+n] * k[3*n+j]
			}
			m[3*i+j] = a*k[3*i+j] + b*square
		}
		m[4*i]++
	}
	for i := range 3 {
		for j := range 3 {
			for n := range 3 {
				out[3*i+j] += m[3*i+n] * r[3*n+j]
			}
		}
	}
	return out
}
