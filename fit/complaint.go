package fit

import (
	"strings"
)

// Complaint is what a rider feels on the present saddle.
type Complaint string

// The complaints for which there is a guide.
const (
	Numbness           Complaint = "numbness"
	SoftTissuePressure Complaint = "soft_tissue_pressure"
	SoreSitBones       Complaint = "sore_sit_bones"
	ChafedThighs       Complaint = "chafed_thighs"
	SlidingForward     Complaint = "sliding_forward"
	OneSidedPain       Complaint = "one_sided_pain"
)

// Complaints lists all complaints in the order in which they are offered.
func Complaints() []Complaint {
	return []Complaint{Numbness, SoftTissuePressure, SoreSitBones, ChafedThighs, SlidingForward, OneSidedPain}
}

// ParseComplaint reads a complaint's name, with spaces, hyphens or underscores.
func ParseComplaint(s string) (Complaint, error) {
	name := strings.NewReplacer(" ", "_", "-", "_").Replace(strings.ToLower(strings.TrimSpace(s)))
	names := make([]string, 0, len(Complaints()))
	for _, c := range Complaints() {
		if name == string(c) {
			return c, nil
		}
		names = append(names, string(c))
	}
	return "", UnknownComplaint.With("word", s, "known", strings.Join(names, ", "))
}

// SetUp is a part of the bike's set-up that a fitter checks before, and
// instead of, selling a saddle.
type SetUp string

// The parts of the set-up.
const (
	Tilt    SetUp = "tilt"
	Height  SetUp = "height"
	ForeAft SetUp = "fore_aft"
	Cleats  SetUp = "cleats"
)

// SetUpCheck is one thing to check on the bike.
type SetUpCheck struct {
	Part SetUp `json:"part"`
	Note Note  `json:"note"`
}

// ComplaintGuide is what is known about a complaint: what to look for in a
// saddle, what to check in the set-up, when to stop and see a physician or
// physiotherapist, and what each of these rests on.
type ComplaintGuide struct {
	Complaint Complaint    `json:"complaint"`
	Saddle    []Note       `json:"saddle"`
	SetUp     []SetUpCheck `json:"set_up"`
	Stop      []Note       `json:"stop"`  // never empty
	Basis     []Note       `json:"basis"` // never empty

	wantsRelief bool
	noseMaxMM   float64 // 0: no wish
}

// complaintFacts is the data behind ComplaintGuideFor. The codes of its
// notes are complaint.<name>.saddle, .stop, .basis and .<part>.
var complaintFacts = map[Complaint]struct {
	setUp       []SetUp
	wantsRelief bool
	noseMaxMM   float64 // our assumption, no source: it only orders models
	refer       bool    // carries the physician's line always
}{
	Numbness:           {setUp: []SetUp{Tilt, Height, ForeAft}, wantsRelief: true, refer: true},
	SoftTissuePressure: {setUp: []SetUp{Tilt, Height, ForeAft}, wantsRelief: true, refer: true},
	SoreSitBones:       {setUp: []SetUp{Height, Tilt, ForeAft}},
	ChafedThighs:       {setUp: []SetUp{Height, ForeAft, Cleats}, noseMaxMM: 45},
	SlidingForward:     {setUp: []SetUp{Tilt, ForeAft, Height}},
	OneSidedPain:       {setUp: []SetUp{Height, Cleats, Tilt}, refer: true},
}

// ComplaintGuideFor gives the guide to a complaint; ok is false where there is
// none.
func ComplaintGuideFor(c Complaint) (g ComplaintGuide, ok bool) {
	facts, ok := complaintFacts[c]
	if !ok {
		return ComplaintGuide{}, false
	}
	code := "complaint." + string(c) + "."
	g = ComplaintGuide{
		Complaint:   c,
		Saddle:      []Note{note(code + "saddle")},
		Stop:        []Note{note(code + "stop")},
		Basis:       []Note{note(code + "basis")},
		wantsRelief: facts.wantsRelief,
		noseMaxMM:   facts.noseMaxMM,
	}
	for _, part := range facts.setUp {
		g.SetUp = append(g.SetUp, SetUpCheck{part, note(code + string(part))})
	}
	if facts.refer {
		g.Stop = append(g.Stop, note("caution.physician"))
	}
	return g, true
}

// cautionsFor gives the lines that every recommendation carries, and with any
// complaint the physician's line.
func cautionsFor(complaints []Complaint) []Note {
	cautions := []Note{note("caution.limits"), note("caution.advice_only")}
	if len(complaints) > 0 {
		cautions = append([]Note{note("caution.physician")}, cautions...)
	}
	return cautions
}
