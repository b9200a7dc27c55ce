package report

import (
	"encoding/json"
	"math"
	"slices"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/sentence"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/fit"
	"sitspan/imprint/codes"
)

// better says what would shrink the largest line, by its key. What a step back would bring comes after it.
func better(lang words.Lang, m record.Measurement, key string, posture float64) (said []string) {
	if m.Spacing == nil {
		return nil
	}
	if key != "" {
		said = append(said, lang.Say("terminal.better."+key, words.Values{"u": posture}))
	}
	if advice := sentence.Advice(lang, m); advice != "" {
		said = append(said, flagged(lang, m.AdviceSaid.As(codes.Advice), advice))
	}
	return said
}

// betterKey names the sentence of the largest line of what was decided: of the width where the posture is the
// largest, else of the distance; empty where there is none of it.
func betterKey(m record.Measurement, posture float64) string {
	largest := record.BudgetLine{}
	for _, l := range m.Budget {
		if l.U > largest.U {
			largest = l
		}
	}
	switch {
	case posture > largest.U:
		return "posture"
	case largest.Code == codes.PrintScale.Code:
		return "print"
	case !codes.OfReading(largest.Code, codes.Left) && !codes.OfReading(largest.Code, codes.Right):
		return ""
	case m.Medium == "paper":
		return "ink"
	case m.Relief != nil:
		return "dots"
	case len(m.Photos) == 0 && len(m.Sittings) == 0:
		return "photos"
	}
	return "sittings"
}

// postureU is what the posture adds to the standard uncertainty of a recorded width, mm; 0 without one.
func postureU(m record.Measurement) float64 {
	var c fit.Choice
	if len(m.Width) == 0 || json.Unmarshal(m.Width, &c) != nil {
		return 0
	}
	if slices.ContainsFunc(c.Notes, func(n fit.Note) bool { return n.Code == "allowance.by_hand" }) {
		return 0
	}
	own := estimateOf(m).Budget.Combined()
	return math.Sqrt(math.Max(0, c.RequiredU*c.RequiredU-own*own))
}
