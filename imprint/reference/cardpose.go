package reference

import (
	"image"
	"math"

	"sitspan/imprint/homography"
)

const (
	edgeU      = 0.15 // px, of one lane's edge before the fit says better
	leastEdgeU = 0.06 // px, below which no lane is believed
	// mm, of a side as a whole, of a face brighter than what is round it: the edge's rounding
	brightBiasU  = 0.05
	brightTurnU  = 0.035 // mm, likewise of its ends
	darkBias     = 0.05  // mm, outward, of a face darker than what is round it: it runs together with its shadow
	darkBiasU    = 0.08
	darkTurnU    = 0.04
	leastLanes   = 12   // of 24 that a side must show
	worstFit     = 0.9  // px rms beyond which four edges are no card
	worstFitMM   = 0.20 // and mm
	leastCorners = 3    // rounded corners that must be seen
	// of measureCard: on photos on which no result is claimed cards had 5 to 9, other things up to 2.5
	leastScore = 4.0
)

// measureCard locates the four edges at full size and fits the card. It returns nil where this is no card.
func measureCard(img *image.Gray, r rectangle, focal homography.Focal) (*Card, float64) {
	gsd := (CardWidth + CardHeight) * 2 / perimeter(r.corner)
	var edges [4]edge
	for i := range edges {
		var ok bool
		if edges[i], ok = newSide(r.corner[i], r.corner[(i+1)%4]).find(img, gsd); !ok {
			return nil, 0
		}
	}
	c, err := fitCard(img, r.corner, edges, focal, gsd)
	if err != nil || c.RMSPixels > worstFit || c.RMSPixels*gsd > worstFitMM {
		return nil, 0
	}
	rounded := c.corners(img)
	if rounded < leastCorners {
		return nil, 0
	}
	// Seen corners and sides, less what the scatter and the priors' misfit (tilt, size, edges) say against it.
	score := (float64(rounded) + r.score) / (1 + c.RMSPixels*gsd/0.1) * math.Exp(-c.misfit/20)
	if score < leastScore {
		return nil, 0
	}
	return c, score
}

func perimeter(q [4]homography.Pixel) (sum float64) {
	for i := range 4 {
		sum += q[i].Distance(q[(i+1)%4])
	}
	return sum
}

// phone is the priors that every picture has: its lens's, and the focal length's.
func phone(focal homography.Focal) map[int]prior {
	return map[int]prior{
		logFocal:   {math.Log(focal.Pixels), focal.U / focal.Pixels},
		radial:     {0, lensK1U},
		principalX: {0, lensPrincipalU},
		principalY: {0, lensPrincipalU},
	}
}

// Where the card's sides are in its own axes: side i runs from corner i to corner i+1, the first along the
// front.
var sideAxis, sideSign = [4]int{1, 0, 1, 0}, [4]float64{-1, 1, 1, -1}

// fitCard fits the pose twice: the second time it knows how much of the card's wall each side shows.
func fitCard(img *image.Gray, corner [4]homography.Pixel, edges [4]edge, focal homography.Focal,
	gsd float64) (*Card, error) {
	s := scene{width: img.Rect.Dx(), height: img.Rect.Dy(), priors: phone(focal), count: cardCount}
	s.priors[topHeight] = prior{CardThickness, cardThicknessU}
	s.priors[cardW], s.priors[cardH] = prior{CardWidth, cardWidthU}, prior{CardHeight, cardHeightU}
	for i := range 4 {
		s.priors[edgeOffset+i], s.priors[edgeTurn+i] = prior{0, darkBiasU}, prior{0, darkTurnU}
		for _, p := range edges[i].points {
			s.sightings = append(s.sightings, sighting{at: p.at, axis: sideAxis[i], gsd: gsd, u: edgeU,
				target: func(v []float64) float64 {
					return sideSign[i] * (half(v, i) + v[edgeOffset+i] + p.along*v[edgeTurn+i])
				}})
		}
	}
	start := s.startAt(corner, focal)
	pose, err := s.fit(start, leastEdgeU)
	if err != nil {
		return nil, err
	}
	pose.showWalls(&s, edges, gsd)
	if pose, err = s.fit(pose.p, leastEdgeU); err != nil {
		return nil, err
	}
	pose.groups = cardGroups
	c := &Card{Pose: *pose}
	c.Outline = c.corner(faceRim)
	return c, nil
}

// faceRim is how far in mm beyond a card's edges its face is painted over.
const faceRim = 0.6

// cardGroups are the influences on a distance that a card's pose has.
var cardGroups = []group{
	{Size, []int{cardW, cardH}},
	{Edges, []int{
		edgeOffset, edgeOffset + 1, edgeOffset + 2, edgeOffset + 3, edgeTurn, edgeTurn + 1, edgeTurn + 2, edgeTurn +
			3,
	}},
	{Thickness, []int{topHeight}},
	{Lens, []int{radial, principalX, principalY}},
	{FocalLength, []int{logFocal}},
}

// half is half the card's width or height, whichever bounds side i.
func half(p []float64, i int) float64 {
	if sideAxis[i] == 0 {
		return p[cardW] / 2
	}
	return p[cardH] / 2
}

// startAt is a frontal view of a card with these corners.
func (s *scene) startAt(q [4]homography.Pixel, focal homography.Focal) []float64 {
	a := math.Atan2(q[1].Y-q[0].Y+q[2].Y-q[3].Y, q[1].X-q[0].X+q[2].X-q[3].X)
	s.rotation = rotation(0, 0, a)
	p := make([]float64, s.count)
	for k, v := range s.priors {
		p[k] = v.mean
	}
	distance := focal.Pixels * 2 * (CardWidth + CardHeight) / perimeter(q)
	var x, y float64
	for _, c := range q {
		x, y = x+c.X/4, y+c.Y/4
	}
	p[shiftX] = (x - float64(s.width-1)/2) / focal.Pixels * distance
	p[shiftY] = (y - float64(s.height-1)/2) / focal.Pixels * distance
	p[shiftZ] = distance
	return p
}

// showWalls tells the scene how far outward each edge may be seen: where the card's wall faces the camera,
// the outline lies between the top of the wall and its foot. A face brighter than what is round it ends at
// the top, where the wall or the shadow begins; a darker one may seem to go on down the wall. Elsewhere the
// outline is the top.
func (s *Pose) showWalls(to *scene, edges [4]edge, gsd float64) {
	from := s.eye(s.p).from
	height := -from[2]
	for i := range 4 {
		outward := sideSign[i]*from[sideAxis[i]] - half(s.p, i) // the camera's place beyond this side
		wall := math.Max(0, outward/height*CardThickness)
		mean, u, turn := 0.1*wall, math.Hypot(brightBiasU, 0.25*wall), brightTurnU
		if rises(edges[i].points) {
			mean, u, turn = darkBias+0.5*wall, math.Hypot(darkBiasU, 0.35*wall), darkTurnU
		}
		uneven := edges[i].uneven * gsd
		to.priors[edgeOffset+i] = prior{mean, math.Hypot(u, uneven)}
		to.priors[edgeTurn+i] = prior{0, math.Hypot(turn, uneven)}
	}
}

// rises tells whether it gets brighter outward along most of an edge.
func rises(points []edgePoint) bool {
	n := 0
	for _, p := range points {
		if p.slope > 0 {
			n++
		}
	}
	return 2*n > len(points)
}

// corner is the image of the card's corners, grown by so many mm.
func (s *Pose) corner(grown float64) (q [4]homography.Pixel) {
	w, h := s.p[cardW]/2+grown, s.p[cardH]/2+grown
	for i, c := range [4]homography.PlanePoint{{X: -w, Y: -h}, {X: w, Y: -h}, {X: w, Y: h}, {X: -w, Y: h}} {
		q[i] = s.image(c, s.p[topHeight])
	}
	return q
}

// corners counts the corners that are seen to be rounded: along the arc the grey level changes outward, as
// along the sides, and across the corner beyond it there is nothing more.
func (s *Pose) corners(img *image.Gray) (n int) {
	w, h := s.p[cardW]/2-cardRadius, s.p[cardH]/2-cardRadius
	for _, q := range [4][2]float64{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
		var on, in, out float64
		for k := range 9 {
			a := (0.25 + 0.0625*float64(k)) * math.Pi / 2 // 22.5 to 67.5 degrees
			cos, sin := q[0]*math.Cos(a), q[1]*math.Sin(a)
			level := func(r float64) float64 {
				return at(img, s.image(homography.PlanePoint{X: q[0]*w + r*cos, Y: q[1]*h + r*sin}, s.p[topHeight]))
			}
			on += level(cardRadius+0.5) - level(cardRadius-0.5)
			in += level(cardRadius-0.5) - level(cardRadius-1.5)
			out += level(cardRadius+1.7) - level(cardRadius+0.7)
		}
		if math.Abs(on) > 1.2*math.Abs(in) && math.Abs(on) > 1.2*math.Abs(out) {
			n++
		}
	}
	return n
}
