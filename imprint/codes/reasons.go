package codes

// Why a measurement is not, or not yet, to be used.
var (
	NoFrame        = reason("no_frame", "")
	NoFrameOne     = reason("no_frame", "one")
	NoFrameSeveral = reason("no_frame", "several", count("places"))

	Mirrored = reason("mirrored", "", count("marks"))

	FewMarks       = reason("few_marks", "", count("marks"), count("needed"))
	FewMarksSide   = reason("few_marks", "side", count("marks"), count("needed"), sentence("side", Word))
	FewMarksBeyond = reason("few_marks", "outside", count("marks"), count("needed"), sentence("side", Word))
	FewMarksCut    = reason("few_marks", "cut", count("marks"), count("needed"))
	FewMarksSoft   = reason("few_marks", "unmeasured", count("marks"), count("needed"), count("readable"))
	MarksOffPlane  = reason("few_marks", "off_plane", count("marks"), count("needed"), text("cause"))
	MarksPlaceless = reason("few_marks", "no_camera", count("marks"), count("needed"), text("cause"))

	Blurred = reason(
		"blur",
		"",
		number("px", "px", 1),
		number("modules", "", 2),
		number("needed", "", 2),
	)
	BlurredSquares = reason("blur", "squares", count("squares"))
	BlurToBlame    = reason(
		"blur",
		"to_blame",
		number("px", "px", 1),
		number("modules", "", 2),
		sentence("so", Reason),
	)
	BlurUnfound    = reason("blur", "no_mark", number("px", "px", 1))
	BlurUnmeasured = reason("blur", "unmeasured", number("px", "px", 1))

	BentFrame     = reason("bent_frame", "", count("mark"), number("off", "mm", 1))
	Glare         = reason("glare", "", number("share", "%", 0), number("limit", "%", 0))
	MediumUnclear = reason("medium_unclear", "")
	FocalInDoubt  = reason("focal_in_doubt", "", number("times", "", 1))

	NoDent        = reason("no_dent", "")
	PlacedNowhere = reason("no_dent", "nowhere", number("within", "mm", 0))
	HardEdges     = reason("no_dent", "hard_edges")
	NoImprint     = reason("no_dent", "no_imprint", number("u", "mm", AsStated), number("limit", "mm", 0))
	OneDent       = reason("one_dent", "")
	OnlyOneClear  = reason("one_dent", "unlike", number("times", "", 1))
	ManyDents     = reason("many_dents", "")
	LowRelief     = reason("low_relief", "", number("contrast", "%", 1))
	FaintRelief   = reason("low_relief", "faint", number("u", "mm", AsStated), number("limit", "mm", AsNeeded))
	BottomedOut   = reason("bottomed_out", "", number("u", "mm", AsStated), number("limit", "mm", 0))

	GaugeContradicts = reason("gauge_contradicts", "", number("gauge", "mm", 1), number("photo", "mm", 1),
		number("times", "", 1), number("limit", "", 0))

	Implausible = reason("implausible_spacing", "", number("distance", "mm", 0),
		number("least", "mm", 0), number("most", "mm", 0))
	WideInterval = reason("wide_interval", "", number("u", "mm", AsStated), number("limit", "mm", 0))
	WideAdvised  = reason(
		"wide_interval",
		"advised",
		number("u", "mm", AsStated),
		number("limit", "mm", 0),
		sentence("advice", Advice),
	)
	WideOnPaper  = reason("wide_interval", "paper", number("u", "mm", AsStated), number("limit", "mm", 0))
	WideSittings = reason("wide_interval", "sittings", number("u", "mm", AsStated), number("limit", "mm", 0))
	VagueInk     = reason("wide_interval", "ink", number("u", "mm", AsStated), number("limit", "mm", AsNeeded))

	InkDisagrees = reason("readings_disagree", "ink", number("net", "mm", 1), number("ink", "mm", 1),
		number("times", "", 1), number("limit", "", 1))
	InkUnsettled = reason("readings_disagree", "unsettled", text("cause"))

	FewPoints      = reason("few_points", "", count("points"), count("sectors"), count("needed"), count("in"))
	OnePhotoOfDots = reason("one_photo", "")
	UnmatchedDots  = reason("unmatched_dots", "")
	NotRead        = reason("not_read", "")
	OnePlace       = reason("one_place", "", number("needed", "deg", 0))
	FlatBottomSeen = reason("flat_bottom", "")
	LensBeyond     = reason("lens", "beyond", number("times", "", 1), number("limit", "", 1))
	LensSqueezes   = reason("lens", "squeezes", number("wider", "%", 1), number("limit", "%", 1))

	BlankRefused    = reason("blank_unusable", "refused", sentence("because", Reason))
	BlankCut        = reason("blank_unusable", "cut")
	BlankUnread     = reason("blank_unusable", "unread", text("cause"))
	BlankItself     = reason("blank_unusable", "same")
	BlankBrightness = reason("blank_unusable", "brightness", number("share", "%", 0))
	BlankStranger   = reason("blank_unusable", "stranger")

	PhotosDisagree    = reason("photos_disagree", "")
	PhotosNotOne      = reason("photos_disagree", "no_fit", text("cause"))
	PhotosOfOtherPads = reason("photos_disagree", "pads", count("used"), count("photos"))
	FewSittings       = reason("few_sittings", "", count("good"), count("sittings"))

	SetByHand        = reason("by_hand", "")
	FoamWithoutFrame = reason("foam_without_frame", "")
	MarkCovered      = reason("mark_covered", "", number("share", "%", 0), number("within", "mm", 0))
)

// What keeps a file from being measured at all.
var (
	Failed       = reason("failed", "", text("cause"))
	ProcessEnded = reason("process_ended", "", text("cause"))

	Unreadable        = reason("unreadable", "", text("seen"), text("needed"), text("remedy"))
	FileMissing       = reason("unreadable", "missing")
	FileIsFolder      = reason("unreadable", "folder")
	FileDenied        = reason("unreadable", "denied")
	EmptyFile         = reason("empty_file", "", text("seen"), text("needed"), text("remedy"))
	NotAPhoto         = reason("not_a_photo", "", text("seen"), text("needed"), text("remedy"))
	Truncated         = reason("truncated", "", text("seen"), text("needed"), text("remedy"))
	Damaged           = reason("damaged", "", text("seen"), text("needed"), text("remedy"))
	TooManyPixels     = reason("too_many_pixels", "", text("seen"), text("needed"), text("remedy"))
	TooLarge          = reason("too_large", "", text("seen"), text("needed"), text("remedy"))
	UnsupportedFormat = reason("unsupported_format", "", text("seen"), text("needed"), text("remedy"))
	PDFDocument       = reason("unsupported_format", "pdf", text("seen"), text("needed"), text("remedy"))
)

// What keeps a file of an archive from being measured.
var (
	ProcessLost  = reason("lost", "", text("cause"))
	ProcessLate  = reason("lost", "late", number("after", "s", 0))
	FileChanged  = reason("changed", "")
	LinkToFolder = reason("link_to_folder", "")
	AuditResults = reason("audit_results", "")
	FolderShut   = reason("unreadable_folder", "")
	FolderDenied = reason("unreadable_folder", "denied")
	BrokenLink   = reason("broken_link", "")
	LinkLoop     = reason("link_loop", "")
	FileShut     = reason("unreadable", "shut")
)

// OfFile is the entry of a file's code and form, as package photo has them.
func OfFile(code, form string) *Entry {
	if e := Find(Said{Kind: Reason, Code: code, Form: form}); e != nil {
		return e
	}
	return Failed
}

// What weakens a result. A reason that a reviewer has looked at becomes a warning, too, with its own code
// and form, so no warning here has those of a reason.
var (
	FocalUnknown    = warning("focal_unknown", "", text("basis"))
	FocalUnchecked  = warning("focal_unknown", "unchecked", number("f35", "mm", 0))
	RuleTilt        = warning("rule_tilt", "", number("u", "deg", 1))
	DentBottomedOut = warning("bottomed_out", "flat")
	BlankForPaper   = warning("blank_unusable", "paper")
	NoWidth         = warning("no_width", "", text("cause"))

	FirstPage = warning("pages", "first", count("pages")) // of several was measured

	LensUnusual = warning("lens", "unusual") // the marks settle how it bends lines

	NetDiffers = warning("net_differs", "", number("net", "mm", 1), number("en", "", 1))

	// Checks with a known distance have found a deviation that is no chance.
	BiasOfChecks = warning(
		"checks", "bias", number("deviation", "mm", 1), number("u", "mm", 1), count("checks"),
	)

	PrintUnread    = warning("print", "never_measured", number("bound", "%", 1))
	PrintOneBar    = warning("print", "one_bar", number("u", "%", 2))
	PrintBarsApart = warning("print", "bars_apart", number("apart", "%", 1))
	// marking paper has no verified print of its own, and takes the card's
	PrintOfCard = warning("print", "of_card")
)

// OfPrint is what limits trust in a print, as package calibration names it.
func OfPrint(code string) *Entry { return Find(Said{Kind: Warning, Code: "print", Form: code}) }

// Why something in the picture was looked at and not used.
var (
	MarkMisfit  = rejected("mark_misfit", "")
	AnotherDent = rejected("another_dent", "")
	NetHere     = rejected("net_here", "")
)

// What earlier versions said and none says now. Their records hold it, and must go on being read.
var (
	ShadingDisagrees = reason(
		"readings_disagree",
		"shading",
		number("net", "mm", 1),
		number("shading", "mm", 1),
		number("times", "", 2),
		number("limit", "", 0),
	)
	ShadowOnLeft     = reason("frame_shadow", "left", number("gap", "mm", 0), number("needed", "mm", 0))
	ShadowOnRight    = reason("frame_shadow", "right", number("gap", "mm", 0), number("needed", "mm", 0))
	ShadowOnBoth     = reason("frame_shadow", "both", number("gap", "mm", 0), number("needed", "mm", 0))
	ShadowLeftOfSome = warning(
		"frame_shadow",
		"some_left",
		number("gap", "mm", 0),
		number("needed", "mm", 0),
	)
	ShadowRightOfSome = warning(
		"frame_shadow",
		"some_right",
		number("gap", "mm", 0),
		number("needed", "mm", 0),
	)
	ShadowBothOfSome = warning(
		"frame_shadow",
		"some_both",
		number("gap", "mm", 0),
		number("needed", "mm", 0),
	)
	ShadingHere = rejected("shading_here", "")
)

// Why one of several photos or sittings was not used.
var (
	NotUsable    = why("not_usable", "", sentence("because", Reason))
	OtherMedium  = why("other_medium", "")
	OtherDots    = why("other_dots", "")
	SamePicture  = why("same_picture", "")
	OtherImprint = why("other_imprint", "", number("times", "", 1))
)

// StepBack is what would shrink the depths' share of the budget.
var StepBack = declare(
	Advice,
	"step_back",
	"",
	number("height", "m", 0),
	number("now", "mm", 1),
	number("then", "mm", 1),
)

// The sides of the frame.
var (
	LeftSide  = declare(Word, "side", "left")
	RightSide = declare(Word, "side", "right")
	FrontSide = declare(Word, "side", "front")
	BackSide  = declare(Word, "side", "back")
)
