package codes

// Where the numbers of a line, or of a depth, come from.
var (
	ReadingsOwn  = basis("reading", "", number("factor", "", 2))
	WithoutTone  = basis("reading", "tone", number("factor", "", 2))
	InkDensity   = basis("ink", "") // of records up to 2026-11
	InkAndNet    = basis("ink", "scan", number("factor", "", 2))
	InkInPhoto   = basis("ink", "photo", number("factor", "", 2))
	OfReadings   = basis("readings", "", count("photos"), number("shared", "%", 0))
	ReadTogether = basis("readings", "together", count("photos"), sentence("each", Basis))
	FlatBottom   = basis("flat_bottom", "", number("radius", "mm", 0))

	SurfaceOf  = basis("surface", "", count("points"), count("photos"))
	Adjustment = basis("adjustment", "", count("photos"))

	BarsMeasured = basis("print", "measured")
	BarsUnread   = basis("print", "assumed")
	FrameFit     = basis("frame_fit", "", count("marks"))
	LensOfMarks  = basis("lens", "marks")
	LensOfCard   = basis("lens", "card")
	LensOfRule   = basis("lens", "rule")
	OffPlane     = basis("flatness", "")
	FlatAssumed  = basis("flatness", "assumed")
	PlaneAssumed = basis("frame_plane", "")
	ScanStated   = basis(
		"resolution",
		"",
		number("density", "px/mm", 1),
		text("field"),
		number("bound", "%", 1),
	)
	FocalStated   = basis("focal", "")
	FocalShared   = basis("focal", "shared")
	CameraHeight  = basis("camera_height", "", number("height", "mm", 0), number("u", "mm", 0))
	HeightByScale = basis("camera_height", "scale", number("height", "mm", 0))

	Gauge         = basis("depth", "gauge", number("u", "mm", 1))
	PadProfile    = basis("depth", "pad", text("pad"))
	PadUsual      = basis("depth", "pad_usual")
	ShadingAndPad = basis("depth", "shading", text("pad"))
	LinesOfSight  = basis("depth", "sights", sentence("with", Basis))
	ViewsOf       = basis("depth", "views", count("photos"), sentence("with", Basis))
	NoDepth       = basis("depth", "paper")
	DepthByHand   = basis("depth", "by_hand")
	CardAndBuckle = basis("card_thickness", "", number("thickness", "mm", 1))

	CardsSize      = basis("card_size", "")
	CardsEdges     = basis("card_edges", "")
	CardsThickness = basis("reference_thickness", "card")
	CardsFit       = basis("card_fit", "")
	RulesFit       = basis("rule_fit", "")
	Graduation     = basis("graduation", "", number("bound", "%", 1))
	RulesThickness = basis("reference_thickness", "rule", number("thickness", "mm", 1), number("u", "mm", 1))
	BesideAssumed  = basis("beside", "", number("tilt", "deg", 0))
	PrintAsBefore  = basis("print", "as_before")

	Reviewers     = basis("reviewer", "")
	ByMagnifier   = basis("reviewer", "magnifier")
	Clicks        = basis("clicks", "", number("u", "px", 1))
	Division      = basis("division", "")
	TiltByHand    = basis("tilt", "", number("tilt", "deg", 0), number("apart", "mm", 0))
	Assumed       = basis("assumed", "")
	OfSittings    = basis("sittings", "", count("sittings"), number("deviation", "mm", 2))
	StatedSpacing = basis("stated", "")

	OfChecks           = basis("checks", "", number("deviation", "mm", 1), number("u", "mm", 1), count("checks"))
	CorrectionOfChecks = basis(
		"checks", "corrected", number("deviation", "mm", 1), number("u", "mm", 1), count("checks"),
	)
)
