package fit

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strconv"

	"sitspan/calibration/gum"
)

// Recommendations are kept in records, so their JSON is a contract as the
// sentences' codes are: fields are added, never renamed. What the struct tags
// cannot say is said here. An influence without "dof" has infinitely many
// degrees of freedom, which JSON has no number for.

// componentJSON is one line of a budget.
type componentJSON struct {
	Source      string   `json:"source"`
	Std         float64  `json:"u_input"`
	Unit        string   `json:"unit"`
	Sensitivity float64  `json:"sensitivity"` // mm per unit
	DoF         *float64 `json:"dof,omitempty"`
	Basis       string   `json:"basis"`
}

func componentsToJSON(list []gum.Component) []componentJSON {
	lines := make([]componentJSON, 0, len(list))
	for _, c := range list {
		l := componentJSON{Source: c.Source, Std: c.Std, Unit: c.Unit, Sensitivity: c.Sensitivity, Basis: c.Basis}
		if c.DoF > 0 && !math.IsInf(c.DoF, 1) {
			l.DoF = &c.DoF
		}
		lines = append(lines, l)
	}
	return lines
}

func componentsFromJSON(lines []componentJSON) ([]gum.Component, error) {
	var list []gum.Component
	for _, l := range lines {
		c := gum.Component{Source: l.Source, Std: l.Std, Unit: l.Unit, Sensitivity: l.Sensitivity, DoF: math.Inf(1),
			Basis: l.Basis}
		if l.DoF != nil {
			c.DoF = *l.DoF
		}
		list = append(list, c)
	}
	return list, gum.Budget(list).Check()
}

// postureJSON has one of the two pairs.
type postureJSON struct {
	TrunkDeg    *float64 `json:"trunk_deg,omitempty"`
	TrunkU      float64  `json:"trunk_u_deg,omitempty"`
	AllowanceMM *float64 `json:"allowance_mm,omitempty"`
	AllowanceU  float64  `json:"allowance_u_mm,omitempty"`
}

// MarshalJSON writes the trunk angle in deg or the allowance in mm, with its
// standard uncertainty.
func (p Posture) MarshalJSON() ([]byte, error) {
	if p.byHand {
		return json.Marshal(postureJSON{AllowanceMM: &p.value, AllowanceU: p.u})
	}
	return json.Marshal(postureJSON{TrunkDeg: &p.value, TrunkU: p.u})
}

// UnmarshalJSON reads what MarshalJSON wrote.
func (p *Posture) UnmarshalJSON(data []byte) error {
	var j postureJSON
	if err := json.Unmarshal(data, &j); err != nil {
		return err
	}
	switch {
	case j.TrunkDeg != nil && j.AllowanceMM == nil:
		*p = TrunkAngle(*j.TrunkDeg, j.TrunkU)
	case j.AllowanceMM != nil && j.TrunkDeg == nil:
		*p = AllowanceByHand(*j.AllowanceMM, j.AllowanceU)
	default:
		return NoPosture.With()
	}
	return nil
}

// requirementJSON holds both parts; their sum is made again when it is read.
type requirementJSON struct {
	SpacingMM       float64         `json:"spacing_mm"`
	SpacingBudget   []componentJSON `json:"spacing_budget"`
	AllowanceMM     float64         `json:"allowance_mm"`
	AllowanceBudget []componentJSON `json:"allowance_budget"`
	AllowanceNotes  []Note          `json:"allowance_notes"`
}

// MarshalJSON writes the spacing and the allowance with their budgets.
func (q Requirement) MarshalJSON() ([]byte, error) {
	return json.Marshal(requirementJSON{
		SpacingMM: q.Spacing.Value, SpacingBudget: componentsToJSON(q.Spacing.Budget),
		AllowanceMM: q.Allowance.MM, AllowanceBudget: componentsToJSON(q.Allowance.Components),
		AllowanceNotes: q.Allowance.Notes,
	})
}

// UnmarshalJSON reads what MarshalJSON wrote and adds the parts up.
func (q *Requirement) UnmarshalJSON(data []byte) error {
	var j requirementJSON
	if err := json.Unmarshal(data, &j); err != nil {
		return err
	}
	spacing, err := componentsFromJSON(j.SpacingBudget)
	if err != nil {
		return BadSpacingBudget.With("why", err)
	}
	allowance, err := componentsFromJSON(j.AllowanceBudget)
	if err != nil {
		return BadAllowanceBudget.With("why", err)
	}
	*q = sumOf(gum.Estimate{Value: j.SpacingMM, Budget: spacing},
		Allowance{j.AllowanceMM, allowance, j.AllowanceNotes})
	return nil
}

// grades are the words for the grades in JSON.
var grades = []string{Against: "against", NotStated: "not_stated", For: "for"}

// MarshalText gives the grade's word.
func (g Grade) MarshalText() ([]byte, error) {
	if g < 0 || int(g) >= len(grades) {
		return nil, UnknownGrade.With("word", fmt.Sprint(int(g)))
	}
	return []byte(grades[g]), nil
}

// UnmarshalText reads the grade's word.
func (g *Grade) UnmarshalText(text []byte) error {
	i := slices.Index(grades, string(text))
	if i < 0 {
		return UnknownGrade.With("word", strconv.Quote(string(text)))
	}
	*g = Grade(i)
	return nil
}
