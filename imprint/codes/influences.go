package codes

// Shared is what has an influence's error in common.
type Shared int

// From one reading to a whole archive: what is shared by more is shared by less.
const (
	ByNothing  Shared = iota // one reading of one side: it goes when that centre is read anew
	ByPhoto                  // all readings of one photo
	BySittings               // all sittings of one rider: their mean does not shrink it
	ByArchive                // all pictures of an archive: one print, one scanner, one kind of pad
)

// Side is the side that an influence belongs to.
type Side string

// The sides, as the rider sat.
const (
	Both  Side = ""
	Left  Side = "left"
	Right Side = "right"
)

// Line is an influence on the spacing.
type Line struct {
	*Entry
	Unit   string // of its standard uncertainty
	Shared Shared
	Side   Side // of one that is shared by nothing
}

var lines = map[string]*Line{}

func influence(code, unit string, shared Shared, side Side) *Line {
	l := &Line{declare(Influence, code, ""), unit, shared, side}
	lines[code] = l
	return l
}

// LineOf is the influence of a code; nil for none of this version's.
func LineOf(code string) *Line { return lines[code] }

// SharedBy tells whether an influence is shared by so much, or more. One that this version does not
// know is not.
func SharedBy(code string, by Shared) bool {
	l := lines[code]
	return l != nil && l.Shared >= by
}

// OfReading tells whether an influence belongs to the reading of one side alone.
func OfReading(code string, side Side) bool {
	l := lines[code]
	return l != nil && l.Shared == ByNothing && l.Side == side
}

// The influences.
var (
	LeftCentre      = influence("left_centre", "mm", ByNothing, Left)
	RightCentre     = influence("right_centre", "mm", ByNothing, Right)
	LeftByHand      = influence("left_centre_by_hand", "mm", ByNothing, Left)
	RightByHand     = influence("right_centre_by_hand", "mm", ByNothing, Right)
	LeftFlatBottom  = influence("left_flat_bottom", "mm", ByNothing, Left)
	RightFlatBottom = influence("right_flat_bottom", "mm", ByNothing, Right)

	DentDepth     = influence("dent_depth", "mm", ByArchive, Both)
	DepthOfSides  = influence("depth_of_sides", "mm", ByPhoto, Both) // left against right
	CardThickness = influence("card_thickness", "mm", ByArchive, Both)
	CameraPlace   = influence("camera_place", "mm", BySittings, Both)
	// Of photos that were adjusted together: poses, lenses and the frame's shape.
	CamerasAndFrame = influence("cameras_and_frame", "mm", ByPhoto, Both)

	MarkCorners    = influence("mark_corners", "mm", ByPhoto, Both)
	Lens           = influence("lens", "mm", BySittings, Both)
	FrameFlatness  = influence("frame_flatness", "mm", BySittings, Both)
	FramePlane     = influence("frame_plane", "mm", ByPhoto, Both)
	PrintScale     = influence("print_scale", "mm", ByArchive, Both)
	ScanResolution = influence("scan_resolution", "1", ByArchive, Both)

	ScaleEnds   = influence("scale_ends", "px", ByPhoto, Both)
	ScaleLength = influence("scale_length", "mm", ByPhoto, Both)
	CameraTilt  = influence("camera_tilt", "1", ByPhoto, Both)

	CardSize           = influence("card_size", "mm", BySittings, Both)
	CardEdges          = influence("card_edges", "mm", BySittings, Both)
	CardFit            = influence("card_fit", "mm", ByPhoto, Both)
	RuleFit            = influence("rule_fit", "mm", ByPhoto, Both)
	RuleGraduation     = influence("rule_graduation", "mm", BySittings, Both)
	ReferenceThickness = influence("reference_thickness", "mm", BySittings, Both)
	FocalLength        = influence("focal_length", "mm", BySittings, Both)

	// Of checks with a known distance on the shop's own pad: the mean deviation, and what a correction leaves.
	CheckedOnPad      = influence("checked_on_pad", "mm", ByArchive, Both)
	CorrectedByChecks = influence("corrected_by_checks", "mm", ByArchive, Both)

	Repeatability = influence("sitting_repeatability", "mm", ByPhoto, Both) // Type A
)
