// Package reference finds things of known size that old pictures have instead
// of the control frame, a card of ISO/IEC 7810 ID-1 size or a millimetre rule,
// and says where the plane lies on which they rest.
//
// Its opinion: a reference that lies beside the imprint gives a scale there
// only together with the camera's tilt, and the tilt only together with what is
// known of the focal length and the lens. So both things are fitted with one
// model ([Pose]): a pinhole camera, its focal length and lens under the priors
// of a phone, and the reference's own tolerances as further unknowns under
// theirs. What the picture cannot tell stays in the covariance, and
// [Pose.SpacingUncertainty] says what each influence does to one distance.
//
// A thing that is not surely a card or a rule is not reported: a wrong scale is
// worse than none. The rounded corners tell a card from a label; the longer
// graduations tell millimetres from half millimetres and from parts of an inch.
//
// Conventions are those of package homography: integer coordinates are pixel
// centres; the plane's axes are in mm with y down, z into the pad, heights
// positive toward the camera.
package reference
