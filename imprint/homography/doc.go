// Package homography says where a pixel lies on the plane of a control frame,
// in millimetres, how sure that is, and where the camera stood.
//
// Its opinion: a homography without its covariance is half an answer. So
// [Fit] weighs the corners of coded marks, drops a mark that disagrees and
// names it, refines the reprojection error together with a weak lens model,
// and keeps the covariance of everything it estimated. What the marks cannot
// tell (a lens term seen by four marks in the middle of the picture) is held
// by a stated prior, and its uncertainty stays in the covariance, rather than
// being set to zero. Points read from one photo share one homography, so the
// uncertainty of a distance is one shared influence ([PlaneFit.SpacingUncertainty]),
// never two independent ones.
//
// # Conventions
//
// Pixel: integer coordinates are pixel centres; the centre of the top-left
// pixel is (0, 0), x to the right, y down. The centre of a picture of W x H
// pixels is ((W-1)/2, (H-1)/2).
//
// Plane: the frame's axes in mm; origin at the centre of its window, x to the
// right, y DOWN, seen from above with the front edge up. Depth is positive
// below the plane, height is positive above it, toward the camera.
//
// Transforms are named target-from-source: [PlaneFit.PlaneFromImage] takes a
// pixel and gives a point of the plane.
//
// # The lens
//
// With q the ideal (pinhole) offset from the principal point in units of half
// the picture's diagonal and r = |q|, the picture shows
//
//	q_d = q (1 + k1 r^2 + k2 r^4) + (2 p1 x y + p2 (r^2 + 2 x^2), p1 (r^2 + 2 y^2) + 2 p2 x y)
//
// with x, y the components of q: the radial and decentring terms of Brown
// (Photogrammetric Engineering 32 (1966) 444; page from memory, the paper settles it).
//
// Half the diagonal is the unit because it needs no focal length: k1 is then
// the relative displacement at the picture's corner. Multiply k1 by
// (f/R)^2 and k2 by (f/R)^4, R being half the diagonal and f the focal length
// in px, to have them in units of the focal length ([Lens.InUnitsOf]).
//
// # Out of scope
//
// Rolling shutter, a frame that is bent so far that it
// is no plane (it is reported: [PlaneFit.Withheld], [PlaneFit.Flatness]), and
// the print's own scale, which the caller carries in the budget.
package homography
